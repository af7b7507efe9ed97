import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { House } from '../actions/house.js';
import { businessZone } from '../domain/calendar/businessZone.js';
import { ROLES } from '../domain/words.js';
import { buildApp } from '../http/app.js';
import { VERSION } from '../main.js';

/** The document of the API as it is built; needs no database. */
export async function openapiDocument(): Promise<string> {
  const noStores = new Proxy({}, { get: () => () => Promise.reject(new Error('no database')) });
  const house = {
    clock: { now: () => new Date(0) },
    zone: businessZone('UTC'),
    units: 'metric',
    currency: 'USD',
    version: VERSION,
    stores: noStores,
    transact: () => Promise.reject(new Error('no database')),
  } as unknown as House;
  const app = await buildApp(house, { requestsPerMinute: 0 });
  await app.ready();
  const text = `${JSON.stringify(app.swagger(), null, 2)}\n`;
  await app.close();
  return text;
}

interface Documented {
  operationId: string;
  description?: string;
  security?: unknown[];
}

/** Who may call what, as a table to read: one row an operation. */
export function rolesTable(document: string): string {
  const { paths } = JSON.parse(document) as { paths: Record<string, Record<string, Documented>> };
  const rows = Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, { operationId, description = '', security }]) => {
      const roles = /Roles: ([^.]*)\./.exec(description)?.[1]?.split(', ') ?? [];
      const marks =
        security?.length === 0
          ? ROLES.map(() => 'everybody')
          : ROLES.map((role) => (roles.includes(role) ? 'yes' : ''));
      return `| ${operationId} | \`${method.toUpperCase()} ${path}\` | ${marks.join(' | ')} |`;
    }),
  );
  const head = `| operation | address | ${ROLES.join(' | ')} |\n| --- | --- |${ROLES.map(() => ' --- |').join('')}`;
  return `# Who may call what\n\nWritten from the code by \`npm run openapi\`; \`tests/trust/everyOperation.test.ts\` calls every operation as every role and as nobody.\nA technician reaches records of the sites of the own crew's routes only.\n\n${head}\n${rows.join('\n')}\n`;
}

const FOLDER = join(import.meta.dirname, '../../openapi');

/** Writes openapi/openapi.json and the table of roles beside it. */
export async function openapiCommand(): Promise<number> {
  const document = await openapiDocument();
  writeFileSync(join(FOLDER, 'openapi.json'), document);
  writeFileSync(join(FOLDER, 'roles.md'), rolesTable(document));
  return 0;
}
