import { expect, test } from 'vitest';
import { type DigJob, digParts, digQuantities, traceFirst } from '../../../src/domain/work/digPlan.js';
import { sectionChanges } from '../../../src/domain/work/replacement.js';

const JOB: DigJob = {
  lineId: 'l',
  pitId: 'p',
  fromM: 5,
  toM: 21,
  lengthM: 30,
  depthM: 1,
  material: 'corrugated_hdpe',
  boreMm: 75,
  hasInflow: true,
};

test('quantities of a run: trench, stone and pipe from its length and depth', () => {
  // 16 m by 1 m by .6 m; stone .4 m high; pipe 5 % over; at least 100 mm of smooth pipe
  const got = digQuantities(JOB);
  expect(got).toMatchObject({ runM: 16, newMaterial: 'pvc', newBoreMm: 100, assumed: [] });
  expect(got.trenchM3).toBeCloseTo(9.6, 9);
  expect(got.stoneM3).toBeCloseTo(3.84, 9);
  expect(got.pipeM).toBeCloseTo(16.8, 9);
});

test('what nobody traced is assumed and said', () => {
  expect(digQuantities({ ...JOB, fromM: null, depthM: null }).assumed).toEqual(['from_to', 'depth']);
  expect(digQuantities({ ...JOB, fromM: null, lengthM: 4 }).runM).toBe(4);
});

test('a pump goes in while the plug is traced only where water still runs in', () => {
  const kinds = (hasInflow: boolean) =>
    traceFirst({ ...JOB, hasInflow }, 'plugged').tasks.map(({ kind }) => kind);
  expect(kinds(true)).toEqual(['temporary_pump', 'trace']);
  expect(kinds(false)).toEqual(['trace']);
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
