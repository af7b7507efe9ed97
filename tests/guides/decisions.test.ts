import { randomUUID } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import { expect, onTestFinished, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { buildApp } from '../../src/http/app.js';
import { testHouse } from '../setup/testHouse.js';
import { burstingHouses } from '../setup/twelveHouses.js';
import { commandsOf, faultsOf } from './guide.js';

const GUIDE = readFileSync(join(import.meta.dirname, '../../openapi/decisions.md'), 'utf8');
const DAY = '2026-10-01';
const SECONDS = 500;

test('openapi/decisions.md: every command answers what the guide shows beneath it', async () => {
  expect(commandsOf(GUIDE).length).toBeGreaterThan(20);
  const t = await testHouse(`${DAY}T07:00:00Z`);
  await importClientBase(t.house, { name: 'test' }, { base: burstingHouses(), source: 'book', asOf: DAY });
  const { rows } = t.house.stores;
  const add = async (table: string, row: object): Promise<string> => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  const depot = await add('depot', { name: 'North yard', latitude: 44.6, longitude: -90.3 });
  // Two crews, one day a week of six hours beside the break.
  const crews: string[] = [];
  for (const name of ['Heron', 'Plover']) {
    const crew = await add('crew', { name, depot_id: depot, people: 2 });
    await add('shift', {
      crew_id: crew,
      weekday: 'mon',
      starts_at: '08:00',
      ends_at: '14:30',
      break_after: '12:00',
      break_minutes: 30,
      from_day: '2026-01-01',
    });
    crews.push(crew);
  }
  const [site] = await rows.all('site', [{ column: 'address', is: '=', value: '3 Marsh Gate' }]);
  const terms = await add('care_terms', {
    site_id: site?.['id'],
    interval_days: 365,
    // After its last visit: until then the houses were visited by choice, as all others were.
    from_day: '2026-09-25',
  });
  await t.call('owner', { method: 'POST', url: '/v1/nightly-runs', payload: { businessDay: DAY } });
  await t.work();
  const dueDays = async (): Promise<string[]> =>
    (await t.call('owner', { method: 'GET', url: '/v1/trends?sort=dueOn&limit=200' })).body.items.map(
      ({ dueOn }: { dueOn: string }) => dueOn,
    );
  const before = await dueDays();

  const app = await buildApp(t.house, { checkAnswers: true });
  await app.listen({ host: '127.0.0.1', port: 0 });
  // What is asked for in the background is worked out while the guide waits.
  let goesOn = true;
  const worker = (async () => {
    for (; goesOn; await wait(200)) await t.work();
  })();
  const folder = mkdtempSync(join(tmpdir(), 'openbore-guide-'));
  onTestFinished(async () => {
    goesOn = false;
    await worker;
    await app.close();
    rmSync(folder, { recursive: true, force: true });
  });
  const faults = await faultsOf(
    GUIDE,
    folder,
    {
      URL: `http://127.0.0.1:${(app.server.address() as AddressInfo).port}`,
      OWNER_KEY: t.keys.owner,
      CREW: crews[0] ?? '',
      SITE: String(site?.['id']),
      TERMS: terms,
    },
    SECONDS,
  );
  expect(faults.join('\n')).toBe('');
  // What the guide says of the risk moved: every date, forward.
  const after = await dueDays();
  expect(after).toHaveLength(24);
  for (const [i, day] of after.entries()) expect(day < (before[i] ?? '')).toBe(true);
  expect(readFileSync(join(folder, 'curve.svg'), 'utf8')).toContain('Cost against risk');
  expect(readFileSync(join(folder, 'weeks.svg'), 'utf8')).toContain('as it is and otherwise');
}, 600_000);
