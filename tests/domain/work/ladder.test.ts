import { expect, test } from 'vitest';
import {
  type CleanTried,
  type Entry,
  entryPlan,
  type LadderLine,
  nextRung,
  stoppedShort,
  wasPoor,
} from '../../../src/domain/work/ladder.js';

const clean = (change: Partial<CleanTried> = {}): CleanTried => ({
  task: 'jet',
  flowProven: 'yes',
  cameBack: 'clear',
  residue: null,
  nozzleStoppedM: null,
  ...change,
});
const POOR = clean({ flowProven: 'no' });
const next = (change: Partial<LadderLine>) =>
  nextRung({
    lengthM: 20,
    plugged: null,
    slotsBlocked: false,
    lookedSince: false,
    hardStop: null,
    tried: [],
    ...change,
  });

test('a clean is poor when flow was not proven, much is left, or it still came back thick', () => {
  expect([POOR, clean({ residue: 0.21 }), clean({ cameBack: 'thick' })].map(wasPoor)).toEqual([
    true,
    true,
    true,
  ]);
  expect([clean(), clean({ residue: 0.2 }), clean({ flowProven: 'not_possible' })].map(wasPoor)).toEqual([
    false,
    false,
    false,
  ]);
});

test('after a hard stop a camera looks in before anything else, whatever plugs the line', () => {
  for (const change of [
    {},
    { plugged: 'roots' as const },
    { plugged: 'deposit' as const, tried: [POOR, POOR] },
  ])
    expect(next({ ...change, hardStop: { atM: 4 } })).toMatchObject({ task: 'inspect', code: 'hard_stop' });
  expect(next({ hardStop: { atM: 4 } })?.text).toContain('at 4 m');
});

test('one poor clean asks for nothing, two in a row for the next rung above the higher of them', () => {
  expect(next({ tried: [POOR] })).toBeNull();
  expect(next({ tried: [POOR, clean()] })).toBeNull();
  expect(next({ tried: [POOR, POOR] })).toMatchObject({ task: 'cable', code: 'two_poor_cleans' });
  expect(
    next({
      tried: [
        clean({ task: 'hose_flush', flowProven: 'no' }),
        clean({ task: 'hose_flush', flowProven: 'no' }),
      ],
    })?.task,
  ).toBe('jet');
  expect(next({ tried: [clean({ task: 'hose_flush', flowProven: 'no' }), POOR] })?.task).toBe('cable');
});

test('a hard stop is looked at by camera before any cutter, plugged or not', () => {
  const tried = [clean({ nozzleStoppedM: 12, flowProven: 'no' })];
  for (const plugged of [null, 'deposit', 'roots'] as const) {
    expect(next({ plugged, tried })).toMatchObject({ task: 'inspect', code: 'nozzle_stopped' });
    expect(next({ plugged, tried, lookedSince: true })?.task).toBe('cable');
  }
});

test('a jet that stopped short raises the next rung once somebody looked; one that came to the end does not', () => {
  expect(next({ lookedSince: true, tried: [clean({ nozzleStoppedM: 12 })] })).toMatchObject({
    task: 'cable',
    code: 'nozzle_stopped',
  });
  expect(next({ tried: [clean({ nozzleStoppedM: 19.6 })] })).toBeNull();
  expect(stoppedShort(clean({ nozzleStoppedM: 3 }), null)).toBe(true);
});

test('a plug by deposit climbs jet, cable, trace, dig: nobody digs before something was tried', () => {
  const climbed = ['jet', 'cable', 'trace', 'dig_and_replace'];
  const tried: CleanTried[] = [];
  for (const rung of climbed) {
    const got = next({ plugged: 'deposit', tried: [...tried] });
    expect(got?.task).toBe(rung);
    tried.unshift(clean({ task: got?.task ?? 'jet', flowProven: 'no' }));
  }
  expect(next({ plugged: 'deposit', tried })).toBeNull();
  expect(next({ plugged: 'unknown' })?.task).toBe('jet');
});

test.each([
  ['ice', 'clear_outlet'],
  ['roots', 'cable'],
  ['crushed', 'trace'],
  ['debris', 'cable'],
  ['buried_outlet', 'clear_outlet'],
  ['animal', 'clear_outlet'],
] as const)('a plug by %s asks for %s; where that was tried in vain, for what is above it', (cause, task) => {
  expect(next({ plugged: cause })).toMatchObject({ task, code: `plugged_by_${cause}` });
  const again = next({ plugged: cause, tried: [clean({ task, flowProven: 'no' })] });
  expect(again?.task).toBe(task === 'trace' ? 'dig_and_replace' : 'trace');
});

test('dead slots under a clean bore are not jetted away: replacement is proposed', () => {
  expect(next({ slotsBlocked: true, tried: [POOR] })?.code).toBe('slots_blocked');
  expect(next({ slotsBlocked: true, tried: [clean()] })).toBeNull();
});

const at = (accessPointId: string, atM: number, direction: Entry['direction'] = 'both'): Entry => ({
  accessPointId,
  atM,
  direction,
});

test('reach decides the entry: the fewest that cover the line', () => {
  expect(entryPlan(20, 30, [at('outlet', 20, 'upstream')])).toEqual({
    entries: [{ accessPointId: 'outlet', runM: 20 }],
    missingM: 0,
    cleanoutAtM: null,
  });
  const two = entryPlan(40, 15, [at('outlet', 40, 'upstream'), at('cleanout', 12), at('near', 10)]);
  expect(two.entries.map(({ accessPointId }) => accessPointId)).toEqual(['cleanout', 'outlet']);
});

test('what nothing reaches asks for a cleanout from which the hose does', () => {
  // 15 m up from an outlet at 40 m: the first 25 m are out of reach; a cleanout at 15 m reaches back to 0
  const plan = entryPlan(40, 15, [at('outlet', 40, 'upstream')]);
  expect(plan.missingM).toBe(25);
  expect(plan.cleanoutAtM).toBe(15);
  const with15 = entryPlan(40, 15, [at('outlet', 40, 'upstream'), at('new', 15)]);
  expect(with15.missingM).toBe(0);
  expect(entryPlan(10, 5, []).cleanoutAtM).toBe(5);
});
