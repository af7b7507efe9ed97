import { parseArgs } from 'node:util';
import { pino } from 'pino';
import { createKey } from '../actions/createKey.js';
import type { Config } from '../config.js';
import { ROLES, type Role } from '../domain/words.js';
import { openHouse } from '../main.js';

export const USAGE = `npm run key -- --name NAME --role ROLE [--role ROLE] [--member ID]
  roles: ${ROLES.join(', ')}`;

/** Makes an access key and prints its text, this once: the first key of a new house comes from here. */
export async function keyCommand(args: string[], config: Config): Promise<number> {
  const { values } = parseArgs({
    args,
    options: {
      name: { type: 'string' },
      role: { type: 'string', multiple: true },
      member: { type: 'string' },
    },
  });
  const roles = (values.role ?? []).filter((role): role is Role =>
    (ROLES as readonly string[]).includes(role),
  );
  if (!values.name || roles.length === 0 || roles.length !== values.role?.length) {
    console.error(USAGE);
    return 2;
  }
  if (roles.includes('technician') && values.member === undefined) {
    console.error("A technician's key is somebody's: --member ID of GET /v1/members.");
    return 2;
  }
  const open = await openHouse(config, pino({ level: 'warn' }));
  try {
    const { key } = await open.house.transact({ name: 'key command' }, (stores) =>
      createKey(stores, { name: values.name ?? '', roles, memberId: values.member ?? null, expiresAt: null }),
    );
    console.log(key);
    return 0;
  } finally {
    await open.close();
  }
}
