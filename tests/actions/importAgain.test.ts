import { beforeEach, describe, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const AS_OF = '2026-09-30';
const SITES =
  'site_id,client,address,town,latitude,longitude\nS1,Client 1,1 Marsh Gate,Brindle,44.6,-90.3\nS2,Client 1,2 Marsh Gate,Brindle,44.7,-90.3\n';
const LINE_HEAD = 'line_id,site_id,kind,material,drains_to\n';

let t: TestHouse;
beforeEach(async () => {
  t = await testHouse();
});

async function bring(files: { sites?: string; lines?: string; readings?: string }) {
  const texts = { sites: SITES, ...files };
  const got = await readClientBase(
    Object.fromEntries(Object.entries(texts).map(([name, text]) => [name, csvFromText(`${name}.csv`, text)])),
    AS_OF,
  );
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  return importClientBase(t.house, { name: 'test' }, { base: got.base, source: 'book', asOf: AS_OF });
}

const select = async (text: string) => (await t.pool.query(text)).rows;

describe('what people took out stays out', () => {
  const files = {
    lines: `${LINE_HEAD}L1,S1,footing_drain,pvc,\n`,
    readings:
      'line_id,observed_at,phase,method,occlusion,plugged\n' +
      'L1,2025-08-27T05:48:08Z,before_cleaning,camera,0.25,0\nL1,2026-02-27T07:00:08Z,no_cleaning,camera,0.1,0\n' +
      'L1,2026-03-27T07:00:08Z,no_cleaning,,,1\n',
  };

  const post = (url: string, payload: object) => t.call('dispatcher', { method: 'POST', url, payload });

  test('readings withdrawn or replaced, a clean withdrawn, and the same files again', async () => {
    await bring(files);
    const [cleaned, looked, plugged] = await select(
      'SELECT id, line_id FROM inspection ORDER BY observed_at',
    );
    const [clean] = await select('SELECT id FROM clean');
    const because = { because: 'wrong house' };
    expect((await post(`/v1/inspections/${cleaned.id}/withdrawal`, because)).status).toBe(200);
    expect((await post(`/v1/inspections/${plugged.id}/withdrawal`, because)).status).toBe(200);
    expect((await post(`/v1/cleans/${clean.id}/withdrawal`, because)).status).toBe(200);
    const better = await post('/v1/inspections', {
      lineId: looked.line_id,
      observedAt: '2026-02-27T07:00:08Z',
      phase: 'no_cleaning',
      reading: { method: 'camera', share: 0.2 },
      replacesId: looked.id,
    });
    expect(better.status).toBe(201);

    const counts = await bring(files);
    expect(counts).toMatchObject({ inspections: 0, cleans: 0 });
    const inForce = await select(
      'SELECT id FROM inspection WHERE withdrawn_at IS NULL AND replaced_at IS NULL',
    );
    expect(inForce.map(({ id }) => id)).toEqual([better.body.id]);
    expect(await select('SELECT id FROM clean WHERE withdrawn_at IS NULL')).toEqual([]);
  });

  test('what the service recorded itself is not brought in a second time from its own export', async () => {
    await bring({ lines: files.lines });
    const [line] = await select('SELECT id FROM line WHERE external_ref = $$L1$$');
    const at = '2026-02-27T07:00:08Z';
    const reading = { method: 'camera', share: 0.1 };
    await post('/v1/inspections', { lineId: line.id, observedAt: at, phase: 'no_cleaning', reading });
    await post('/v1/cleans', { lineId: line.id, cleanedAt: '2025-08-27T05:48:08Z' });
    // of the three readings one is there; so is the clean
    expect(await bring(files)).toMatchObject({ inspections: 2, cleans: 0 });
  });
});

describe('a file set that grows', () => {
  const TWO = `${LINE_HEAD}B1,S1,footing_drain,pvc,pit\nB2,S1,sump_discharge,pvc,\n`;
  const drainage = () =>
    select(
      `SELECT l.external_ref AS ref, l.drains_to, o.external_ref AS into_line, l.system_id, p.system_id AS into_system
         FROM line l LEFT JOIN line o ON o.id = l.drains_to_line_id LEFT JOIN pit p ON p.id = l.drains_to_pit_id
         JOIN site s ON s.id = l.site_id WHERE s.external_ref = 'S1' ORDER BY 1`,
    );

  test('a later line drains to a line that is there, another to the pit that is there', async () => {
    await bring({ lines: TWO });
    await bring({
      lines: `${TWO}B3,S1,footing_drain,pvc,B1\nB4,S1,footing_drain,pvc,pit\nB5,S1,floor_drain,pvc,\n`,
    });
    const rows = await drainage();
    const system = rows[0].system_id;
    expect(rows).toEqual([
      { ref: 'B1', drains_to: 'pit', into_line: null, system_id: system, into_system: system },
      { ref: 'B2', drains_to: 'outlet', into_line: null, system_id: system, into_system: null },
      { ref: 'B3', drains_to: 'line', into_line: 'B1', system_id: system, into_system: null },
      { ref: 'B4', drains_to: 'pit', into_line: null, system_id: system, into_system: system },
      { ref: 'B5', drains_to: 'pit', into_line: null, system_id: system, into_system: system },
    ]);
  });

  test('a pit told of before its discharge gets it when it comes', async () => {
    await bring({ lines: `${LINE_HEAD}B1,S1,footing_drain,pvc,pit\n` });
    expect(await drainage()).toMatchObject([{ ref: 'B1', drains_to: 'pit' }]);
    await bring({ lines: TWO });
    const rows = await drainage();
    expect(rows[1]).toMatchObject({ ref: 'B2', system_id: rows[0].system_id });
    const pits = await select(
      `SELECT l.external_ref FROM pit p JOIN site s ON s.id = p.site_id LEFT JOIN line l ON l.id = p.discharge_line_id WHERE s.external_ref = 'S1'`,
    );
    expect(pits).toEqual([{ external_ref: 'B2' }]);
  });

  test('lines that were assumed become the ones the books name, with what hangs on them', async () => {
    const cleaned = SITES.replace('longitude\n', 'longitude,last_cleaned\n').replace(
      '-90.3\nS2',
      '-90.3,2026-05-01\nS2',
    );
    await bring({ sites: cleaned.replace(/(S2.*)\n/, '$1,\n') });
    const before = await select(
      `SELECT l.id, l.name, e.started_on FROM line l JOIN site s ON s.id = l.site_id JOIN epoch e ON e.line_id = l.id WHERE s.external_ref = 'S1' ORDER BY l.kind`,
    );
    expect(before[0]).toMatchObject({ name: 'footing drain (assumed)', started_on: '2026-04-30' });
    const counts = await bring({ sites: cleaned.replace(/(S2.*)\n/, '$1,\n'), lines: TWO });
    expect(counts).toMatchObject({ lines: 2, cleans: 0 });
    const after = await select(
      `SELECT l.id, l.external_ref, l.name, l.main_material, l.assumed, l.archived_on FROM line l JOIN site s ON s.id = l.site_id WHERE s.external_ref = 'S1' ORDER BY l.kind`,
    );
    expect(after.map(({ id }) => id)).toEqual(before.map(({ id }) => id));
    expect(after[0]).toMatchObject({ external_ref: 'B1', name: 'B1', main_material: 'pvc' });
    expect(after[0].assumed).not.toContain('exists');
    expect(await select('SELECT count(*)::int AS n FROM line_section')).toEqual([{ n: 4 }]);
    const systems = await select(
      `SELECT DISTINCT l.system_id FROM line l JOIN site s ON s.id = l.site_id WHERE s.external_ref = 'S1'`,
    );
    expect(systems).toHaveLength(1);
  });

  test('sites.csv alone adds no assumed lines to a site whose lines are known', async () => {
    await bring({ lines: TWO });
    expect(await bring({})).toMatchObject({ lines: 0, systems: 0 });
  });

  test('a line that drains to one which stands on another site in the base is refused by its name', async () => {
    await bring({ lines: TWO.replaceAll('S1', 'S2') });
    const moved = bring({ lines: `${TWO}B3,S1,footing_drain,pvc,B1\n` });
    await expect(moved).rejects.toMatchObject({
      problem: {
        code: 'rule-broken',
        faults: [{ pointer: '#/lines/B3/drainsTo', detail: expect.stringContaining('B1') }],
      },
    });
  });
});

test('two imports take turns: the one that comes meanwhile is told so and leaves nothing', async () => {
  let inside: (() => void) | undefined;
  const entered = new Promise<void>((resolve) => {
    inside = resolve;
  });
  let go: (() => void) | undefined;
  const held = t.house.transact({ name: 'first' }, async (stores) => {
    expect(await stores.imports.takeTurn()).toBe(true);
    inside?.();
    await new Promise<void>((resolve) => {
      go = resolve;
    });
  });
  await entered;
  await expect(bring({})).rejects.toThrow(/another import is under way/i);
  go?.();
  await held;
  expect(await bring({})).toMatchObject({ sites: 2 });
});
