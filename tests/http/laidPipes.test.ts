import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { m, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** A line began clean on the day it was laid, where a day on record and its book agree on that. */
let t: WorkedHouse;
let built = 0;

beforeAll(async () => {
  t = await workedHouse('2026-10-01T12:00:00Z');
}, 60_000);

async function lay(more: object = {}): Promise<Json> {
  const site = await t.send('/v1/sites', {
    address: `${++built} Sluice End`,
    town: 'Brindle',
    basement: 'none',
  });
  const system = await t.send('/v1/systems', { siteId: site.id, name: 'Footing', kind: 'gravity' });
  return t.send('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    length: m(18),
    name: 'Footing',
    kind: 'footing_drain',
    outlet: 'daylight',
    ...more,
  });
}

const epochsOf = async (line: Json): Promise<string[][]> =>
  (await t.get(`/v1/epochs?lineId=${line.id}`)).items
    .map((epoch: Json) => [epoch.startedOn, epoch.begins, epoch.because])
    .sort();

const read = (line: Json, on: string, share: number): Promise<Json> =>
  t.send('/v1/inspections', {
    lineId: line.id,
    observedAt: `${on}T15:00:00Z`,
    phase: 'no_cleaning',
    reading: { method: 'camera', share },
  });

const patch = (url: string, payload: object) =>
  t.call('owner', { method: 'PATCH', url, payload, headers: { 'if-match': '*' } });

const post = (url: string, payload: object) => t.call('owner', { method: 'POST', url, payload });

async function trendsAfterNight(lines: Json[]): Promise<Json[]> {
  await post('/v1/nightly-runs', { again: true });
  await t.work();
  const trends: Json[] = [];
  for (const line of lines) trends.push((await t.get(`/v1/lines/${line.id}/trend`)).trend);
  return trends;
}

test('a line laid two months ago is dated as young and clean, and its date says on what that rests', async () => {
  // Others of the business, read .1 every four months: their like is what a line without a reading goes by.
  for (let k = 0; k < 8; k++) {
    const line = await lay();
    for (const on of ['2025-12-01', '2026-04-01', '2026-08-01']) {
      await read(line, on, 0.1 + 0.005 * k);
      await t.send('/v1/cleans', { lineId: line.id, cleanedAt: `${on}T16:00:00Z` });
    }
  }
  const [young, bySection, old, unknown] = [
    await lay({ installedOn: '2026-08-02' }),
    await lay(),
    await lay({ installedOn: '2016-08-02' }),
    await lay(),
  ];
  await t.send('/v1/line-sections', { lineId: bySection.id, material: 'pvc', installedOn: '2026-08-02' });
  expect(await epochsOf(young)).toEqual([['2026-08-02', 'clean', 'installed']]);
  expect(await epochsOf(bySection)).toEqual([['2026-08-02', 'clean', 'installed']]);
  expect(await epochsOf(old)).toEqual([]);

  const trends = await trendsAfterNight([young, bySection, old, unknown]);
  const codes = trends.map(({ dueReasons }) => dueReasons.map(({ code }: Json) => code));
  for (const k of [0, 1]) {
    expect(trends[k].occlusion.mean).toBeLessThan(0.1);
    expect(trends[k].dueOn > '2026-11-15').toBe(true);
    expect(codes[k]).toContain('clean_when_laid');
  }
  expect(trends[0].dueReasons.find(({ code }: Json) => code === 'clean_when_laid').text).toBe(
    'Taken to have been clean when it was laid on 2026-08-02: nothing was found in it since.',
  );
  for (const k of [2, 3]) {
    expect(trends[k].occlusion.mean).toBeGreaterThan(2 * trends[0].occlusion.mean);
    expect(codes[k]).not.toContain('clean_when_laid');
  }
});

test('the day corrected moves the beginning with it, the day taken back takes it back', async () => {
  const line = await lay({ installedOn: '2026-08-02' });
  expect((await patch(`/v1/lines/${line.id}`, { installedOn: '2026-06-15' })).status).toBe(200);
  expect(await epochsOf(line)).toEqual([['2026-06-15', 'clean', 'installed']]);
  expect((await patch(`/v1/lines/${line.id}`, { note: 'by the builder' })).status).toBe(200);
  expect(await epochsOf(line)).toEqual([['2026-06-15', 'clean', 'installed']]);
  expect((await patch(`/v1/lines/${line.id}`, { installedOn: '2012-06-15' })).status).toBe(200);
  expect(await epochsOf(line)).toEqual([['2026-09-30', 'unknown', 'first_record']]);
  expect((await patch(`/v1/lines/${line.id}`, { installedOn: '2026-06-15' })).status).toBe(200);
  expect((await patch(`/v1/lines/${line.id}`, { installedOn: null })).status).toBe(200);
  expect(await epochsOf(line)).toEqual([['2026-09-30', 'unknown', 'first_record']]);
});

test('new pipe in place of a part leaves how the line began as it was, whatever else is corrected', async () => {
  const line = await lay();
  const section = (more: object): Promise<Json> =>
    t.send('/v1/line-sections', { lineId: line.id, material: 'pvc', ...more });
  const old = await section({ from: m(0), to: m(10), installedOn: '2024-05-01' });
  const end = await section({ from: m(10), to: m(18), installedOn: '2024-05-01' });
  const began = [['2024-05-01', 'clean', 'installed']];
  expect(await epochsOf(line)).toEqual(began);
  const change = async (id: string, payload: object): Promise<void> =>
    expect((await patch(`/v1/line-sections/${id}`, payload)).status).toBe(200);
  await change(end.id, { removedOn: '2026-09-01' });
  await section({ from: m(10), to: m(18), installedOn: '2026-09-01' });
  await change(old.id, { condition: 'sound' });
  expect(await epochsOf(line)).toEqual(began);
  await change(old.id, { installedOn: null });
  expect(await epochsOf(line)).not.toEqual(began);
});

test('a day in the midst of what was found is refused until somebody says that a new pipe went in', async () => {
  const line = await lay();
  await read(line, '2026-03-01', 0.6);
  await read(line, '2026-09-20', 0.05);
  const refused = await patch(`/v1/lines/${line.id}`, { installedOn: '2026-08-02' });
  expect(refused.status).toBe(422);
  expect(refused.body.errors).toMatchObject([
    { pointer: '#/installedOn', detail: 'a reading or clean of this line is older than 2026-08-02' },
  ]);
  const replaced = { lineId: line.id, startedOn: '2026-08-02', begins: 'clean', because: 'replaced' };
  const installed = await post('/v1/epochs', { ...replaced, because: 'installed' });
  expect([installed.status, installed.body.errors?.[0].pointer]).toEqual([422, '#/startedOn']);
  await t.send('/v1/epochs', replaced);
  expect((await patch(`/v1/lines/${line.id}`, { installedOn: '2026-08-02' })).status).toBe(200);
  expect(await epochsOf(line)).toEqual([['2026-08-02', 'clean', 'replaced']]);
  const [trend] = await trendsAfterNight([line]);
  expect(trend.readingsUsed).toBe(1);
  expect(trend.occlusion.mean).toBeLessThan(0.2);
});

test('what turns out to be older than the day a line was laid puts that day in doubt, and counts', async () => {
  const line = await lay({ installedOn: '2026-08-02' });
  await read(line, '2026-03-01', 0.3);
  const [trend] = await trendsAfterNight([line]);
  expect(trend.readingsUsed).toBe(1);
  expect(trend.occlusion.mean).toBeGreaterThan(0.1);
  expect(trend.dueReasons).toContainEqual({
    code: 'laid_midway',
    facts: { startedOn: '2026-08-02', foundOn: '2026-03-01' },
    text:
      'Laid on 2026-08-02 by its record, yet something was found in it on 2026-03-01: what it held at first counts as unknown. ' +
      'Correct the day, or, where a new pipe took its place, put that on record.',
  });
});

test('an epoch written by hand goes with the day of the line, and takes the place of its own', async () => {
  const line = await lay({ installedOn: '2026-08-02' });
  const other = { lineId: line.id, startedOn: '2026-07-01', begins: 'clean', because: 'installed' };
  const refused = await post('/v1/epochs', other);
  expect([refused.status, refused.body.errors?.[0].detail]).toEqual([
    422,
    'this line was laid on 2026-08-02 by its own record',
  ]);
  const own = await t.send('/v1/epochs', { ...other, startedOn: '2026-08-02', begins: 'unknown' });
  expect((await t.get(`/v1/epochs?lineId=${line.id}`)).items.map(({ id }: Json) => id)).toEqual([own.id]);
  expect(await epochsOf(line)).toEqual([['2026-08-02', 'unknown', 'installed']]);
});

test('what was read before the first day on record is of the same pipe', async () => {
  const line = await lay();
  await t.send('/v1/epochs', {
    lineId: line.id,
    startedOn: '2026-06-01',
    begins: 'unknown',
    because: 'first_record',
  });
  await read(line, '2026-03-01', 0.3);
  await read(line, '2026-07-01', 0.35);
  const [trend] = await trendsAfterNight([line]);
  expect(trend.readingsUsed).toBe(2);
});
