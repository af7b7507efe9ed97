import { expect, test } from 'vitest';
import { PLUG_CAUSES, type PlugCause, type TaskKind } from '../../../src/domain/words.js';
import {
  type Entry,
  entryPlan,
  type LadderLine,
  nextRung,
  wasPoor,
} from '../../../src/domain/work/ladder.js';
import { goesInFirst, standingStop, stoppedShort, type Tried } from '../../../src/domain/work/lineStops.js';

const HOUR = 3_600_000;
/** Something tried, an hour after what comes before it in a list written oldest first. */
const clean = (change: Partial<Tried> = {}): Tried => ({
  task: 'jet',
  atMs: 0,
  flowProven: 'yes',
  cameBack: 'clear',
  residue: null,
  nozzleStoppedM: null,
  ...change,
});
const POOR = clean({ flowProven: 'no' });
const TRACE = clean({ task: 'trace', flowProven: null, cameBack: null });
const inOrder = (...tried: Tried[]): Tried[] => tried.map((each, i) => ({ ...each, atMs: (i + 1) * HOUR }));
const plug = (cause: PlugCause) => ({ cause, sinceMs: 0 });
const line = (change: Partial<LadderLine>): LadderLine => ({
  lengthM: 20,
  plugged: null,
  slotsBlocked: false,
  hardStops: [],
  camerasMs: [],
  tried: [],
  digOrdered: false,
  ...change,
});
const next = (change: Partial<LadderLine>) => nextRung(line(change));

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

test('after a hard stop a camera looks in before anything else, whatever plugs the line; a clean does not clear it', () => {
  const hardStops = [{ atMs: 10 * HOUR, atM: 4 }];
  for (const change of [
    {},
    { plugged: plug('roots') },
    { plugged: plug('deposit'), tried: inOrder(POOR, POOR) },
    { tried: [clean({ atMs: 11 * HOUR })] },
  ]) {
    expect(next({ ...change, hardStops })).toMatchObject({ task: 'inspect', code: 'hard_stop' });
    expect(next({ ...change, hardStops, camerasMs: [9 * HOUR] })?.code).toBe('hard_stop');
    expect(next({ ...change, hardStops, camerasMs: [11 * HOUR] })?.code).not.toBe('hard_stop');
  }
  // 4 m are 13 ft
  expect(next({ hardStops })?.text).toContain('at 4.0 m (13 ft)');
});

test('a nozzle that stopped short keeps the cutter out until a camera looked, or another went through', () => {
  const short = clean({ atMs: HOUR, nozzleStoppedM: 12, flowProven: 'no' });
  for (const plugged of [null, plug('deposit'), plug('roots')]) {
    expect(next({ plugged, tried: [short] })).toMatchObject({ task: 'inspect', code: 'nozzle_stopped' });
    expect(next({ plugged, tried: [short], camerasMs: [2 * HOUR] })?.task).toBe('cable');
  }
  const history = { lengthM: 20, hardStops: [], camerasMs: [] };
  expect(standingStop({ ...history, tried: [short] })).toMatchObject({ kind: 'nozzle_stopped', atM: 12 });
  expect(standingStop({ ...history, tried: [short, clean({ atMs: 2 * HOUR })] })).toBeNull();
  expect(standingStop({ ...history, tried: [short] }, HOUR - 1)).toBeNull();
  expect(stoppedShort(clean({ nozzleStoppedM: 3 }), null)).toBe(true);
});

test('a visit may go into a stopped line behind a camera of its own, in that line and before the work', () => {
  const stop = { kind: 'hard_stop', atMs: 0, atM: null } as const;
  const task = (kind: TaskKind, lineId: string, plan: object = {}) => ({ kind, lineId, plan });
  const camera = (lineId: string) => task('inspect', lineId, { method: 'camera' });
  const jet = task('jet', 'a');
  expect(goesInFirst([jet], 'a', stop)).toBe(true);
  expect(goesInFirst([camera('b'), jet], 'a', stop)).toBe(true);
  expect(goesInFirst([task('inspect', 'a'), jet], 'a', stop)).toBe(true);
  expect(goesInFirst([jet, camera('a')], 'a', stop)).toBe(true);
  expect(goesInFirst([camera('a'), jet], 'a', stop)).toBe(false);
  expect(goesInFirst([task('inspect', 'a')], 'a', stop)).toBe(false);
  // A nozzle that stopped keeps out the cutter, not the jet from the other end.
  expect(goesInFirst([jet], 'a', { ...stop, kind: 'nozzle_stopped' })).toBe(false);
  expect(goesInFirst([task('cable', 'a')], 'a', { ...stop, kind: 'nozzle_stopped' })).toBe(true);
});

test('one poor clean asks for nothing, two in a row for the next rung above the higher of them', () => {
  const hose = clean({ task: 'hose_flush', flowProven: 'no' });
  expect(next({ tried: inOrder(POOR) })).toBeNull();
  expect(next({ tried: inOrder(POOR, clean(), POOR) })).toBeNull();
  expect(next({ tried: inOrder(POOR, POOR) })).toMatchObject({ task: 'cable', code: 'two_poor_cleans' });
  expect(next({ tried: inOrder(hose, hose) })?.task).toBe('jet');
  expect(next({ tried: inOrder(POOR, hose) })?.task).toBe('cable');
});

test('a trace is no clean: one poor clean and any number of traces ask for nothing', () => {
  expect(next({ tried: inOrder(POOR, TRACE) })).toBeNull();
  expect(next({ tried: inOrder(TRACE, TRACE) })).toBeNull();
  expect(next({ tried: inOrder(POOR, TRACE, TRACE) })).toBeNull();
});

test('a line that runs is never dug for poor cleans: after cable and trace a person decides', () => {
  const cable = clean({ task: 'cable', flowProven: 'no' });
  expect(next({ tried: inOrder(POOR, cable) })?.task).toBe('trace');
  expect(next({ tried: inOrder(POOR, cable, TRACE, cable) })).toMatchObject({
    task: null,
    code: 'ladder_ends',
  });
});

test('a jet that stopped short raises the next rung once somebody looked; one that came to the end does not', () => {
  const tried = [clean({ atMs: HOUR, nozzleStoppedM: 12 })];
  expect(next({ camerasMs: [2 * HOUR], tried })).toMatchObject({ task: 'cable', code: 'nozzle_stopped' });
  expect(next({ tried: inOrder(clean({ nozzleStoppedM: 19.6 })) })).toBeNull();
});

test.each([
  ['deposit', ['jet', 'cable', 'trace', 'dig_and_replace', null]],
  ['unknown', ['jet', 'cable', 'trace', 'dig_and_replace', null]],
  ['roots', ['cable', 'trace', 'dig_and_replace', null]],
  ['debris', ['cable', 'trace', 'dig_and_replace', null]],
  ['animal', ['clear_outlet', 'trace', 'dig_and_replace', null]],
  ['crushed', ['trace', 'dig_and_replace', null]],
  ['buried_outlet', ['clear_outlet', 'trace', 'replace_outlet', null]],
  // Ice thaws: nobody digs for it.
  ['ice', ['clear_outlet', null]],
] as const)('a plug by %s that nothing opens climbs %j', (cause, steps) => {
  const tried: Tried[] = [];
  for (const expected of steps) {
    const got = next({ plugged: plug(cause), tried: inOrder(...tried) });
    expect(got?.task).toBe(expected);
    if (got?.task) tried.push(clean({ task: got.task, flowProven: 'no' }));
  }
});

test('what was tried before the plug does not count, what was written down just before it does', () => {
  const before = { plugged: { cause: 'deposit' as const, sinceMs: 10 * HOUR } };
  expect(next({ ...before, tried: [clean({ atMs: HOUR, flowProven: 'no' })] })?.task).toBe('jet');
  expect(next({ ...before, tried: [clean({ atMs: 9 * HOUR, flowProven: 'no' })] })?.task).toBe('cable');
});

test('work told late counts by when it happened: the order of telling changes nothing', () => {
  // The trace was told last and done between two cables.
  const tried = inOrder(POOR, TRACE, clean({ task: 'cable', flowProven: 'no' }));
  const told = [tried[2], tried[0], tried[1]] as Tried[];
  expect(next({ plugged: plug('deposit'), tried: told })?.task).toBe('dig_and_replace');
  const proven = inOrder(POOR, POOR, clean());
  expect(next({ tried: [...proven].reverse() })).toBeNull();
});

test('dead slots under a clean bore are not jetted away: traced, then replacement is proposed', () => {
  expect(next({ slotsBlocked: true, tried: inOrder(POOR) })).toMatchObject({
    task: 'trace',
    code: 'slots_blocked',
  });
  expect(next({ slotsBlocked: true, tried: inOrder(POOR, TRACE) })?.task).toBe('dig_and_replace');
  expect(next({ slotsBlocked: true, tried: inOrder(clean()) })).toBeNull();
});

test('while a dig is on its way nothing else is raised, but the camera after a hard stop', () => {
  const tried = inOrder(POOR, POOR);
  expect(next({ plugged: plug('deposit'), tried, digOrdered: true })).toBeNull();
  expect(next({ digOrdered: true, hardStops: [{ atMs: HOUR, atM: null }] })?.task).toBe('inspect');
});

/** Numbers from a seed (mulberry32). */
function chance(seed: number): () => number {
  let a = seed;
  return () => {
    a = (a + 0x6d2b79f5) | 0;
    let t = Math.imul(a ^ (a >>> 15), 1 | a);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 2 ** 32;
  };
}

test('from any cause, whatever comes between, the ladder climbs and ends: no rung twice, a dig or a person at its end', () => {
  const tasks: TaskKind[] = ['hose_flush', 'jet', 'cable', 'clear_outlet', 'trace'];
  for (let seed = 1; seed <= 2000; seed++) {
    const random = chance(seed);
    const pick = <T>(from: readonly T[]): T => from[Math.floor(random() * from.length)] as T;
    const start = pick([...PLUG_CAUSES, null, null]);
    let state = line({ plugged: start && plug(start), slotsBlocked: random() < 0.3 });
    let nowMs = 0;
    const raised: TaskKind[] = [];
    const fail = (task: TaskKind) => {
      nowMs += HOUR;
      const nozzleStoppedM = task !== 'trace' && random() < 0.3 ? 5 : null;
      const failed =
        task === 'trace'
          ? { ...TRACE, atMs: nowMs }
          : clean({ task, atMs: nowMs, flowProven: 'no', nozzleStoppedM });
      // Told late as often as in time: anywhere in the list.
      const tried = [...state.tried];
      tried.splice(Math.floor(random() * (tried.length + 1)), 0, failed);
      state = { ...state, tried };
    };
    if (start === null) for (const task of [pick(tasks), 'hose_flush' as const]) fail(task);
    let end: TaskKind | null | undefined;
    for (let turn = 0; turn < 40 && end === undefined; turn++) {
      if (random() < 0.3) fail(pick(tasks));
      if (random() < 0.1) state = { ...state, hardStops: [...state.hardStops, { atMs: ++nowMs, atM: 3 }] };
      if (start !== null && random() < 0.2)
        state = {
          ...state,
          plugged: plug(pick(PLUG_CAUSES.filter((cause) => (cause === 'ice') === (start === 'ice')))),
        };
      const shuffled = [...state.tried].sort(() => random() - 0.5);
      expect(nextRung({ ...state, tried: shuffled }), `seed ${seed}`).toEqual(nextRung(state));
      const rung = nextRung(state);
      if (rung === null) {
        // Only a line that runs, after one poor clean at most, is left alone.
        expect(start, `seed ${seed}`).toBeNull();
        fail('hose_flush');
      } else if (rung.task === 'inspect') state = { ...state, camerasMs: [...state.camerasMs, ++nowMs] };
      else if (rung.task === null || rung.task === 'dig_and_replace' || rung.task === 'replace_outlet')
        end = rung.task;
      else {
        expect(raised, `seed ${seed}`).not.toContain(rung.task);
        raised.push(rung.task);
        fail(rung.task);
      }
    }
    expect(end, `seed ${seed} never ended`).not.toBeUndefined();
    if (start === 'ice') expect(end).toBeNull();
    if (start === null && !state.slotsBlocked) expect(end).toBeNull();
  }
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
