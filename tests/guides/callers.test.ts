import { execFile } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import openapiTS, { astToString } from 'openapi-typescript';
import { expect, onTestFinished, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { testHouse } from '../setup/testHouse.js';

const ROOT = join(import.meta.dirname, '../..');
const DAY_OF_A_CALLER = join(import.meta.dirname, 'typed/workingDay.ts');
const DAY = '2026-10-01';

test('a front end whose types are made from openapi.json compiles', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-typed-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const types = await openapiTS(new URL(`file://${ROOT}/openapi/openapi.json`));
  writeFileSync(join(folder, 'api.d.ts'), astToString(types));
  const compiles = async (file: string) => {
    const config = {
      extends: join(ROOT, 'tsconfig.json'),
      compilerOptions: {
        incremental: false,
        tsBuildInfoFile: null,
        rootDir: '/',
        lib: ['ES2024', 'DOM', 'DOM.Iterable'],
        types: [],
        paths: { 'openbore-api': ['./api.d.ts'] },
      },
      files: [file],
      include: [],
      exclude: [],
    };
    writeFileSync(join(folder, 'tsconfig.json'), JSON.stringify(config));
    try {
      await promisify(execFile)(
        process.execPath,
        [join(ROOT, 'node_modules/typescript/bin/tsc'), '-p', folder],
        {
          timeout: 150_000,
        },
      );
      return '';
    } catch (error) {
      return (error as { stdout: string }).stdout;
    }
  };
  expect(await compiles(DAY_OF_A_CALLER)).toBe('');
  // The check sees something: a word that is no role of ours.
  const wrong = join(folder, 'wrong.ts');
  writeFileSync(
    wrong,
    "import type { components } from 'openbore-api';\nexport const roles: components['schemas']['NewAccessKey']['roles'] = ['driver'];\n",
  );
  expect(await compiles(wrong)).toMatch(/wrong\.ts.*driver/s);
}, 300_000);

test("a dispatcher's and a technician's day, from an imported base to a closed day, through the typed client", async () => {
  const t = await testHouse('2026-09-30T20:00:00Z');
  const sites = [1, 2, 3].map((n) => `S${n},Client ${n},${n} Marsh Gate,Brindle,44.6${n},-90.3,anytime`);
  const lines = [1, 2, 3].map((n) => `L${n},S${n},footing_drain,pvc,100,20`);
  const got = await readClientBase(
    {
      sites: csvFromText(
        'sites.csv',
        `site_id,client,address,town,latitude,longitude,access\n${sites.join('\n')}\n`,
      ),
      lines: csvFromText(
        'lines.csv',
        `line_id,site_id,kind,material,inside_diameter_mm,length_m\n${lines.join('\n')}\n`,
      ),
      crews: csvFromText(
        'crews.csv',
        'crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays\nC1,Heron,North yard,44.6,-90.3,hose;jetter;camera;vacuum;hand_tools,07:30,16:00,mon;tue;wed;thu;fri\n',
      ),
    },
    '2026-09-30',
  );
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  await importClientBase(t.house, { name: 'test' }, { base: got.base, source: 'book', asOf: '2026-09-30' });
  await t.app.listen({ host: '127.0.0.1', port: 0 });
  onTestFinished(() => t.app.close());
  const url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
  // Compiled above against the types of the document, which this project's own compiler does not have.
  const front = await import(DAY_OF_A_CALLER);
  const office = front.openbore(url, t.keys.dispatcher);

  const key = await front.takeOn(front.openbore(url, t.keys.owner), 'Tern', 'Heron', '2026-09-01');
  const { orders, unplaced, state } = await front.planTheDay(office, DAY, t.work);
  expect({ orders: orders.length, unplaced, state }).toEqual({ orders: 3, unplaced: 0, state: 'accepted' });

  t.clock.at = new Date(`${DAY}T12:00:00Z`);
  expect(await front.publishTheDay(office, DAY)).toBe(1);

  t.clock.at = new Date(`${DAY}T20:00:00Z`);
  const lived = await front.liveTheDay(front.openbore(url, key), DAY, randomUUID);
  expect(lived.synced).toEqual(['accepted', 'accepted', 'accepted', 'accepted']);
  expect([...lived.visits].sort()).toEqual([...orders].sort());

  const { closed, standing, book } = await front.closeTheDay(office, DAY, orders);
  const [first, second, third] = lived.visits;
  expect(Object.fromEntries(standing)).toEqual({ [first]: 'done', [second]: 'done', [third]: 'wanted' });
  expect(closed).toHaveLength(1);
  expect(closed[0].notDone).toMatchObject([{ workOrderId: third, reason: 'out_of_time' }]);
  expect(book.crews[0].route).toMatchObject({ state: 'closed', done: 2 });
}, 120_000);
