import { expect, test } from 'vitest';
import { operatingPoint } from '../../../src/domain/hydraulics/operatingPoint.js';
import { pumpCurve } from '../../../src/domain/hydraulics/pumpCurve.js';
import {
  CONVERSION_VERSION,
  occlusionOf,
  type Reading,
  type ReadingFacts,
} from '../../../src/domain/readings/occlusionOf.js';
import { METHODS, PLUG_CAUSES } from '../../../src/domain/words.js';

const LINE: ReadingFacts = {
  kind: 'footing_drain',
  material: 'pvc',
  boreMm: 100,
  slope: 0.01,
  cleanDrawdownMmPerMinute: null,
};
const PUMP = [
  { flowLps: 0, headM: 6.7056 },
  { flowLps: 1.2618, headM: 5.577 },
  { flowLps: 2.5236, headM: 2.1907 },
];
const DISCHARGE: ReadingFacts = {
  ...LINE,
  kind: 'sump_discharge',
  boreMm: 40.4,
  lengthM: 18.3,
  liftM: 2.74,
  pumpCurve: PUMP,
  cleanDrawdownMmPerMinute: 120,
};

function convert(reading: Reading, facts: ReadingFacts = LINE) {
  const got = occlusionOf(reading, facts);
  if (!got.ok) throw new Error(JSON.stringify(got.faults));
  return got;
}

function faultOf(reading: Reading, facts: ReadingFacts = LINE) {
  const got = occlusionOf(reading, facts);
  if (got.ok) throw new Error(`taken as ${got.occlusion}`);
  return got.faults[0];
}

test('a deposit 40 % deep blocks 37.4 % of the area, known to about 7 points', () => {
  // 8/pi * sqrt(.4 * .6) = 1.248 a depth share; 3.175 mm of 100 mm: .0396; with .06 for one point only: .0719
  const got = convert({ method: 'outlet_depth', depthMm: 40 });
  expect(got).toMatchObject({ bound: 'exact', foulingWeight: 1, conversionVersion: CONVERSION_VERSION });
  expect(got.occlusion).toBeCloseTo(0.37353, 5);
  expect(got.standardError).toBeCloseTo(0.0719, 3);
});

test('a depth needs a bore, and does not exceed it', () => {
  const depth: Reading = { method: 'outlet_depth', depthMm: 40 };
  expect(faultOf(depth, { ...LINE, boreMm: null })?.detail).toBe('the bore of the line is unknown');
  expect(faultOf({ ...depth, depthMm: 120 })).toMatchObject({
    pointer: '#/reading/depth',
    value: 120,
    remedy: 'no more than the bore, 100 mm',
  });
});

test('a share is taken from any method, with the error of that method', () => {
  for (const method of METHODS) {
    const got = convert({ method, share: 0.42 });
    expect(got).toMatchObject({ occlusion: 0.42, bound: 'exact' });
    expect(got.standardError).toBeGreaterThanOrEqual(
      convert({ method: 'camera', share: 0.42 }).standardError,
    );
  }
});

test('a look that sees much is strong evidence, one that sees nothing is weak', () => {
  expect(convert({ method: 'outlet_look', share: 0.5 }).standardError).toBe(0.1);
  expect(convert({ method: 'outlet_look', share: 0 }).standardError).toBe(0.16);
});

test('a share outside 0 to 1 is refused with the remedy', () => {
  expect(faultOf({ method: 'camera', share: 40 })).toMatchObject({ pointer: '#/reading/share', value: 40 });
  expect(faultOf({ method: 'camera', share: Number.NaN })?.pointer).toBe('#/reading/share');
});

test('every method says what it misses', () => {
  const pointers = METHODS.map((method) => faultOf({ method })?.pointer);
  expect(pointers).toEqual(
    ['share', 'share', 'depth', 'volume', 'flow', 'rise', 'passes', 'word'].map(
      (field) => `#/reading/${field}`,
    ),
  );
});

test('poured water that runs off proves "carries at least this"; backing up proves the contrary', () => {
  const runs = convert({ method: 'poured_flow', flowLps: 0.5, backsUp: false });
  expect(runs.bound).toBe('at_most');
  const backs = convert({ method: 'poured_flow', flowLps: 0.5, backsUp: true });
  expect(backs).toMatchObject({ bound: 'at_least', occlusion: runs.occlusion });
  // 0.007854 m2 x (.025)^(2/3) x .1 / .01 = 6.71 L/s when clean: half a litre a second needs little of it
  expect(runs.occlusion).toBeGreaterThan(0.75);
});

test('a timed fill of a gravity line measures groundwater: a bound, never a value', () => {
  // 10 L in 5 s: 2 L/s of 6.71 is .298 of the capacity; d/D .5 leaves .360 and .6 leaves .235: d/D .55, area .56
  const fill = convert({ method: 'timed_fill', volumeL: 10, seconds: 5 });
  expect(fill.bound).toBe('at_most');
  expect(fill.occlusion).toBeCloseTo(0.56, 2);
  const unknown = convert(
    { method: 'timed_fill', volumeL: 10, seconds: 5 },
    { ...LINE, boreMm: null, slope: null },
  );
  expect(unknown.notes[0]?.code).toBe('facts-assumed');
  expect(unknown.standardError).toBeGreaterThan(fill.standardError);
});

test('a roughness the owner set takes the place of the usual one of the material', () => {
  const poured: Reading = { method: 'poured_flow', flowLps: 2, backsUp: false };
  // a rougher line carries less when clean, so the same flow leaves less room for deposit
  expect(convert(poured, { ...LINE, manningN: 0.015 }).occlusion).toBeLessThan(convert(poured).occlusion);
});

test('a fill under three seconds cannot be timed', () => {
  expect(faultOf({ method: 'timed_fill', volumeL: 10, seconds: 2 })).toMatchObject({
    pointer: '#/reading/seconds',
    remedy: 'a fill of 3 s or longer; take a larger vessel',
  });
});

test('without a draw-down after a clean there is nothing to compare with', () => {
  const none = convert(
    { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 100 },
    { ...DISCHARGE, cleanDrawdownMmPerMinute: null },
  );
  expect(none).toMatchObject({ occlusion: 0.3, standardError: 0.3 });
  expect(none.notes[0]?.code).toBe('no-clean-reference');
});

test('draw-down gives back the occlusion that slowed the same pump', () => {
  const line = {
    boreMm: 40.4,
    lengthM: 18.3,
    liftM: 2.74,
    friction: { law: 'hazen_williams', c: 150 } as const,
    fittings: { swing_check: 1, elbow_90: 3 },
  };
  const flowLps = (occlusion: number) =>
    operatingPoint(pumpCurve(PUMP), line, { occlusion, shape: 'even_coat' })?.flowLps ?? 0;
  for (const occlusion of [0.2, 0.4, 0.6, 0.8]) {
    const moved = (120 * flowLps(occlusion)) / flowLps(0);
    const got = convert(
      { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: moved - 20 },
      DISCHARGE,
    );
    expect(got.occlusion).toBeCloseTo(occlusion, 4);
    expect(got.notes).toEqual([]);
  }
});

test('a wall whose C nobody knows is reckoned with as figures and limits do, and less closely', () => {
  const slow: Reading = { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 52 };
  const smooth = convert(slow, DISCHARGE);
  const corrugated = convert(slow, { ...DISCHARGE, material: 'corrugated_hdpe' });
  // 150 x .010 / .018: more of the head goes into the clean wall, so the same loss of flow takes less deposit.
  expect(corrugated.notes).toMatchObject([{ code: 'roughness-assumed', facts: { hazenWilliamsC: 83 } }]);
  expect(corrugated.occlusion).toBeLessThan(smooth.occlusion - 0.02);
  expect(corrugated.standardError).toBeGreaterThan(smooth.standardError);
  const known = convert(slow, { ...DISCHARGE, material: 'corrugated_hdpe', hazenWilliamsC: 83 });
  expect(known.notes).toEqual([]);
  expect(known.occlusion).toBe(corrugated.occlusion);
  expect(known.standardError).toBeLessThan(corrugated.standardError);
});

test('a pumped line hides fouling until a fifth of its width is gone', () => {
  const same = convert({ method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 100 }, DISCHARGE);
  const half = convert({ method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 40 }, DISCHARGE);
  expect(same.occlusion).toBe(0);
  expect(same.standardError).toBeGreaterThan(2 * half.standardError);
  // a line whose pump is unknown is read with the usual one, less closely
  const unknown = convert(
    { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 40 },
    { ...LINE, kind: 'sump_discharge', boreMm: null, cleanDrawdownMmPerMinute: 120 },
  );
  expect(unknown.notes[0]?.code).toBe('facts-assumed');
  expect(unknown.standardError).toBeGreaterThan(half.standardError);
});

test('a lift no pump like that could do is taken as mistaken, not as a clean line', () => {
  const half: Reading = { method: 'pit_drawdown', riseMmPerMinute: 20, fallMmPerMinute: 40 };
  const got = convert(half, { ...DISCHARGE, liftM: 9 });
  expect(got.occlusion).toBeGreaterThan(0.3);
  expect(got.notes[0]?.code).toBe('facts-assumed');
});

test('a pump that loses against the inflow still moves what runs in', () => {
  // rise 60, fall −20: 40 of the 120 mm a minute of the clean line
  const got = convert({ method: 'pit_drawdown', riseMmPerMinute: 60, fallMmPerMinute: -20 }, DISCHARGE);
  expect(got.occlusion).toBeGreaterThan(0.6);
});

test('a fill at the outlet of a discharge is the pump: compared with the flow after its last clean', () => {
  const fill: Reading = { method: 'timed_fill', volumeL: 10, seconds: 10, timings: 3 };
  expect(convert(fill, { ...DISCHARGE, cleanFlowLps: 2 })).toMatchObject({ bound: 'exact' });
  const got = convert(fill, { ...DISCHARGE, cleanFlowLps: 2 });
  expect(got.occlusion).toBeGreaterThan(0.5);
  // both fills were read to 3 % and more: wider than the .03 for how the coat lies
  expect(got.standardError).toBeGreaterThan(0.033);
  expect(got.standardError).toBeLessThan(0.1);
  expect(faultOf({ ...fill, timings: 0 })?.pointer).toBe('#/reading/timings');
});

test('one tap: words and passes map with a wide error, more passes never to less', () => {
  expect(convert({ method: 'by_word', word: 'half' })).toMatchObject({ occlusion: 0.5, standardError: 0.15 });
  const counts = [1, 2, 3, 4, 5, 9].map((passes) => convert({ method: 'passes_to_clear', passes }).occlusion);
  expect(counts).toEqual([...counts].sort((a, b) => a - b));
  const came = (['clear', 'tinted', 'slugs', 'thick'] as const).map((cameBack) =>
    convert({ method: 'by_word', cameBack }),
  );
  expect(came.map((read) => read.occlusion)).toEqual([0.08, 0.2, 0.45, 0.65]);
  expect(came[0]?.standardError).toBeGreaterThan(0.15);
});

test('what came back shifts a count and a word: thick tells of more than clear', () => {
  const counted = (cameBack: 'clear' | 'thick') =>
    convert({ method: 'passes_to_clear', passes: 2, cameBack }).occlusion;
  expect(counted('thick') - counted('clear')).toBeCloseTo(0.2, 9);
  const said = (cameBack: 'clear' | 'thick') =>
    convert({ method: 'by_word', word: 'half', cameBack }).occlusion;
  expect(said('thick') - said('clear')).toBeCloseTo(0.1, 9);
});

test('a nozzle that stopped proves much deposit; one that reached the end did not stop', () => {
  const stopped: Reading = { method: 'passes_to_clear', nozzleStoppedAtM: 12 };
  expect(convert(stopped, { ...LINE, lengthM: 30 })).toMatchObject({ bound: 'at_least', occlusion: 0.6 });
  expect(faultOf(stopped, { ...LINE, lengthM: 12.2 })?.pointer).toBe('#/reading/nozzleStopped');
});

test('plugged is nearly full; only deposit, and by half the unknown, is fouling', () => {
  const weights = PLUG_CAUSES.map((plugged) => convert({ method: 'camera', plugged }));
  expect(weights.map((read) => [read.occlusion, read.bound])).toEqual(
    PLUG_CAUSES.map(() => [0.97, 'at_least']),
  );
  expect(weights.map((read) => read.foulingWeight)).toEqual([1, 0, 0, 0, 0, 0, 0, 0.5]);
});

test('no reading that is taken leaves 0 to 1 or claims to be exact', () => {
  const readings: Reading[] = [
    { method: 'outlet_depth', depthMm: 0 },
    { method: 'outlet_depth', depthMm: 40.4 },
    { method: 'timed_fill', volumeL: 1000, seconds: 3 },
    { method: 'poured_flow', flowLps: 1e-6, backsUp: true },
    { method: 'pit_drawdown', riseMmPerMinute: 0, fallMmPerMinute: 0 },
    { method: 'pit_drawdown', riseMmPerMinute: 0, fallMmPerMinute: 500 },
    { method: 'passes_to_clear', passes: 50, cameBack: 'thick' },
    { method: 'by_word', word: 'nearly_full', cameBack: 'thick' },
    { method: 'by_word', word: 'clear', cameBack: 'clear' },
  ];
  for (const reading of readings) {
    const got = convert(reading, DISCHARGE);
    expect(got.occlusion).toBeGreaterThanOrEqual(0);
    expect(got.occlusion).toBeLessThanOrEqual(1);
    expect(got.standardError).toBeGreaterThan(0);
    expect(Number.isFinite(got.standardError)).toBe(true);
  }
});
