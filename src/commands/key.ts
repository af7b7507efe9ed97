import { parseArgs } from 'node:util';
import { createKey } from '../actions/createKey.js';
import type { Config } from '../config.js';
import { ROLES, type Role } from '../domain/words.js';
import { openHouse } from '../main.js';
import { commandLog } from './commandLog.js';

export const USAGE = `npm run key -- --name NAME --role ROLE [--role ROLE] [--member ID] [--days N]
  roles: ${ROLES.join(', ')}; monitor reads the metrics alone
  --days N: the key ends after so many days, 1 to 3660`;

const DAY_MS = 86_400_000;

/** Makes an access key and prints its text, this once: the first key of a new house comes from here. */
export async function keyCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: {
      name: { type: 'string' },
      role: { type: 'string', multiple: true },
      member: { type: 'string' },
      days: { type: 'string' },
    },
  });
  const roles = (values.role ?? []).filter((role): role is Role =>
    (ROLES as readonly string[]).includes(role),
  );
  const isSoon =
    values.days === undefined || (/^\d{1,4}$/.test(values.days) && +values.days >= 1 && +values.days <= 3660);
  if (!isSoon || !values.name || roles.length === 0 || roles.length !== values.role?.length) {
    console.error(USAGE);
    return 2;
  }
  if (roles.includes('technician') && values.member === undefined) {
    console.error("A technician's key is somebody's: --member ID of GET /v1/members.");
    return 2;
  }
  const open = await openHouse(config, { log: commandLog(), as: 'command' });
  try {
    const { clock } = open.house;
    const expiresAt =
      values.days === undefined
        ? null
        : new Date(clock.now().getTime() + Number(values.days) * DAY_MS).toISOString();
    const { key } = await open.house.transact({ name: 'key command' }, (stores) =>
      createKey(stores, { name: values.name ?? '', roles, memberId: values.member ?? null, expiresAt }),
    );
    console.log(key);
    return 0;
  } finally {
    await open.close();
  }
}
