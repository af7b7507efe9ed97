import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { House } from '../actions/house.js';
import { businessZone } from '../domain/calendar/businessZone.js';
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

/** Writes openapi/openapi.json. */
export async function openapiCommand(): Promise<number> {
  writeFileSync(join(import.meta.dirname, '../../openapi/openapi.json'), await openapiDocument());
  return 0;
}
