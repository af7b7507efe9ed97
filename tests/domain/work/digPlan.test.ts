import { expect, test } from 'vitest';
import { type DigJob, digMinutes, digParts, digQuantities } from '../../../src/domain/work/digPlan.js';
import { sectionChanges } from '../../../src/domain/work/replacement.js';
import { pumpNeed } from '../../../src/domain/work/temporaryPump.js';

const JOB: DigJob = {
  lineId: 'l',
  pitId: 'p',
  kind: 'yard_drain',
  pipes: {},
  fromM: 5,
  toM: 21,
  lengthM: 30,
  depthM: 1,
  depthOf: 'trench_bottom',
  boreMm: 75,
  perforated: null,
};

test('quantities of a run: trench, stone and pipe from its kind, length and depth', () => {
  // A yard drain of 75 mm: SDR 35 of 4 in, outside .10706 m. At 1 m deep .8 m wide (EN 1610), which is more than
  // the pipe and 8 in on each side (.513 m): 16 m by 1 m by .8 m.
  const got = digQuantities(JOB);
  expect(got).toMatchObject({
    runM: 16,
    newMaterial: 'pvc',
    newProduct: 'sdr_35',
    newNominal: '4',
    assumed: [],
  });
  expect(got.newBoreMm).toBeCloseTo(100.965, 6);
  expect([got.trenchWidthM, got.trenchTopWidthM]).toEqual([0.8, 0.8]);
  expect(got.trenchM3).toBeCloseTo(12.8, 9);
  // 4 in under, the pipe, 6 in above: .10160 + .10706 + .15240 = .36106 m high, less the pipe's .009002 m2
  expect(got.stoneM3).toBeCloseTo(16 * (0.8 * 0.36106 - 0.009002), 4);
  expect(got.pipeM).toBeCloseTo(16.8, 9);
  expect(got.sources.join(' ')).toMatch(/ASTM D3034.*ASTM D2321.*EN 1610/);
});

test('a footing drain lies in more stone, a deep trench is sloped, a discharge keeps its size', () => {
  // .10706 + 2 x .6 m of stone; from 5 ft on sloped 1.5 to 1: at 2 m the top is 3 m wider on each side
  const footing = digQuantities({ ...JOB, kind: 'footing_drain', depthM: 2 });
  expect(footing.trenchWidthM).toBeCloseTo(1.30706, 9);
  expect(footing.trenchTopWidthM).toBeCloseTo(7.30706, 9);
  expect(footing.trenchM3).toBeCloseTo(16 * 2 * (1.30706 + 3), 6);
  expect([footing.beddingUnderM, footing.stoneAboveM]).toEqual([0.1016, 0.3]);
  expect(footing.sources.join(' ')).toMatch(/ochre.*1926\.652/);
  // Shallow: as wide as the pipe and its sides.
  expect(digQuantities({ ...JOB, depthM: 0.6 }).trenchWidthM).toBeCloseTo(0.10706 + 0.4064, 9);
  const nominalOf = (kind: 'sump_discharge' | 'floor_drain' | 'yard_drain', boreMm: number | null) => {
    const { newProduct, newNominal, assumed } = digQuantities({ ...JOB, kind, boreMm });
    return [newProduct, newNominal, assumed];
  };
  // 1.610 in of bore (40.9 mm) is 1-1/2 in schedule 40, 3.04 in is 3 in, 10 in is wider than what is made.
  expect(nominalOf('sump_discharge', 40.9)).toEqual(['schedule_40', '1-1/2', []]);
  expect(nominalOf('sump_discharge', 77.3)).toEqual(['schedule_40', '3', []]);
  expect(nominalOf('floor_drain', null)).toEqual(['schedule_40', '3', ['bore']]);
  expect(nominalOf('yard_drain', 254)).toEqual(['sdr_35', '6', ['bore']]);
});

test('a traced depth is the pipe’s: the hole goes down to its bedding, and past 5 ft its walls are held', () => {
  // 1.45 m to the crown, .10706 m of pipe, 4 in of bedding: 1.65866 m, which is more than 5 ft (1.524 m)
  const crown = digQuantities({ ...JOB, kind: 'footing_drain', depthM: 1.45, depthOf: 'crown' });
  expect(crown.trenchDepthM).toBeCloseTo(1.65866, 9);
  expect(crown.wallsHeld).toContain('shored, shielded or sloped 1.5 to 1');
  expect(crown.trenchTopWidthM).toBeCloseTo(1.30706 + 2 * 1.5 * 1.65866, 6);
  expect(crown.trenchM3).toBeCloseTo(16 * 1.65866 * (1.30706 + 1.5 * 1.65866), 6);
  const bottomOf = (depthOf: DigJob['depthOf']) =>
    digQuantities({ ...JOB, depthM: 1.2, depthOf }).trenchDepthM;
  expect(bottomOf('centre')).toBeCloseTo(1.2 + 0.05353 + 0.1016, 9);
  expect(bottomOf('invert')).toBeCloseTo(1.3016, 9);
  expect(bottomOf('trench_bottom')).toBe(1.2);
  // Nobody said to what: as to the crown, which digs deepest.
  expect(bottomOf(null)).toBe(bottomOf('crown'));
  expect(digQuantities({ ...JOB, depthOf: null }).assumed).toEqual(['depth_of']);
  expect(digQuantities(JOB).wallsHeld).toBeNull();
});

test('a footing drain’s new pipe takes water in: holes down, washed stone, no sock; a discharge’s is solid', () => {
  const footing = digQuantities({ ...JOB, kind: 'footing_drain' });
  expect(footing.holes).toBe('perforated, holes down');
  expect(footing.stone).toContain('washed');
  expect(footing.wrap).toContain('none round the pipe');
  expect(footing.sources.join(' ')).toContain('IRC R405.1');
  for (const kind of ['sump_discharge', 'floor_drain', 'yard_drain'] as const)
    expect(digQuantities({ ...JOB, kind })).toMatchObject({ holes: null, stone: null, wrap: null });
  expect(digQuantities({ ...JOB, perforated: true }).holes).toContain('holes down');
  expect(digQuantities({ ...JOB, kind: 'sump_discharge', perforated: true }).holes).toBeNull();
});

test('a dig in one order takes a day for each 8 m', () => {
  expect([digMinutes(2), digMinutes(8), digMinutes(20)]).toEqual([360, 360, 900]);
});

test('the owner’s pipe table decides the bore that goes in', () => {
  const pipes = { sdr_35: { boreMm: { '4': 98 } } };
  expect(digQuantities({ ...JOB, pipes }).newBoreMm).toBe(98);
  // A line of 107 mm is then wider than 4 in by more than a size's play: 6 in.
  expect(digQuantities({ ...JOB, pipes, boreMm: 107 }).newNominal).toBe('6');
});

test('what nobody traced is assumed and said', () => {
  expect(digQuantities({ ...JOB, fromM: null, depthM: null }).assumed).toEqual(['from_to', 'depth']);
  expect(digQuantities({ ...JOB, fromM: null, lengthM: 4 }).runM).toBe(4);
});

test('a pump goes round a plug where water runs in, is seen to, and comes out again', () => {
  const need = (plugged: boolean, hasInflow: boolean, seenOn: string | null) =>
    pumpNeed({ plugged, hasInflow, seenOn }, '2026-06-05', 2);
  expect(need(true, true, null)).toBe('set');
  expect(need(true, false, null)).toBeNull();
  expect(need(false, true, null)).toBeNull();
  expect(need(true, true, '2026-06-04')).toBeNull();
  expect(need(true, false, '2026-06-03')).toBe('check');
  expect(need(false, true, '2026-06-04')).toBe('remove');
});

test('16 m are dug in two linked parts, flow proven before backfill, restored after the fill has settled', () => {
  const parts = digParts(JOB, 42, 'plugged');
  expect(parts.map(({ tasks }) => tasks.map(({ kind }) => kind))).toEqual([
    ['dig_and_replace'],
    ['dig_and_replace', 'inspect', 'test_pump'],
    ['restore'],
  ]);
  expect(parts.map(({ afterDays }) => afterDays)).toEqual([1, 1, 42]);
  expect(parts[0]?.waitsFor).toEqual(['quote_accepted', 'locate_ticket', 'parts', 'discharge_plan']);
  expect(parts[1]?.tasks[0]).toMatchObject({
    part: 2,
    plan: { fromM: 13, toM: 21, beforeBackfill: expect.any(String) },
  });
  expect(parts.at(-1)?.waitsFor).toEqual([]);
});

test('a replaced run cuts the sections it goes through', () => {
  const present = [
    { id: 'a', fromM: 0, toM: 10 },
    { id: 'b', fromM: 10, toM: 14 },
    { id: 'c', fromM: 14, toM: 30 },
  ];
  const got = sectionChanges(present, { fromM: 8, toM: 20, material: 'pvc', boreMm: 100 }, 30);
  expect(got).toEqual({
    removed: ['b'],
    cut: [
      { id: 'a', keeps: { fromM: 0, toM: 8 }, rest: [{ fromM: 8, toM: 10, removed: true }] },
      { id: 'c', keeps: { fromM: 20, toM: 30 }, rest: [{ fromM: 14, toM: 20, removed: true }] },
    ],
    added: { fromM: 8, toM: 20 },
    whole: false,
  });
});

test('a run inside one section leaves it on both sides', () => {
  const got = sectionChanges(
    [{ id: 'a', fromM: null, toM: null }],
    { fromM: 8, toM: 20, material: 'pvc', boreMm: 100 },
    30,
  );
  expect(got?.cut).toEqual([
    {
      id: 'a',
      keeps: { fromM: 0, toM: 8 },
      rest: [
        { fromM: 8, toM: 20, removed: true },
        { fromM: 20, toM: 30, removed: false },
      ],
    },
  ]);
});

test('a run to within half a metre of both ends is the whole line; without its length a part cannot be cut', () => {
  const whole = { material: 'pvc', boreMm: 100 } as const;
  expect(
    sectionChanges([{ id: 'a', fromM: null, toM: null }], { ...whole, fromM: 0.3, toM: 29.6 }, 30),
  ).toMatchObject({
    removed: ['a'],
    whole: true,
  });
  expect(
    sectionChanges([{ id: 'a', fromM: null, toM: null }], { ...whole, fromM: null, toM: null }, null)?.whole,
  ).toBe(true);
  expect(
    sectionChanges([{ id: 'a', fromM: null, toM: null }], { ...whole, fromM: 3, toM: 9 }, null),
  ).toBeNull();
});
