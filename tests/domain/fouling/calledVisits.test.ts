import { expect, test } from 'vitest';
import type { EvidenceEvent, ReadingEvent } from '../../../src/domain/fouling/evidence.js';
import { LOG_RATES } from '../../../src/domain/fouling/grid.js';
import { growthShape } from '../../../src/domain/fouling/growthShape.js';
import { filterLine, filterState } from '../../../src/domain/fouling/lineFilter.js';
import { lineSteps } from '../../../src/domain/fouling/lineSteps.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import { Random } from '../../../src/domain/routing/random.js';
import { newPipe, reading } from './newPipe.js';

const STILL = {
  ...START_PARAMETERS,
  growthNoise: 0,
  timeNoise: 0,
  changesPerYear: 0,
  grossShare: 1e-6,
  lagDays: 0.01,
};
const straight = growthShape(0, 0);

function logLikelihood(events: EvidenceEvent[], parameters: typeof STILL): Float64Array {
  const state = filterState();
  filterLine(lineSteps([newPipe(events)], 10_000), 0, straight, parameters, state);
  return state.weight.map((w) => Math.log(w) + state.logScale);
}

test('without noise a call makes a rate likelier by that rate: it passes a level within fewer days', () => {
  const slow = 30;
  const fast = 34;
  const ratio = (called: boolean): number => {
    const log = logLikelihood([reading(100, 0.5, { called })], STILL);
    return log[fast]! - log[slow]!;
  };
  expect(ratio(true) - ratio(false)).toBeCloseTo(LOG_RATES[fast]! - LOG_RATES[slow]!, 6);
});

test('a line found nearly empty gave nobody cause to call, nor does what a clean left', () => {
  const same = (over: Partial<ReadingEvent>): void => {
    const [called, booked] = [true, false].map((each) =>
      logLikelihood([reading(100, 0.25, { ...over, called: each })], STILL),
    );
    expect(called).toEqual(booked);
  };
  same({});
  same({ phase: 'after_cleaning', occlusion: 0.5 });
});

function gamma(shape: number, random: Random): number {
  // Sum of exponentials and a boosted rest: Ahrens & Dieter (1974) for a shape below 1.
  for (;;) {
    const p = (1 + shape / Math.E) * random.unit();
    const x = p <= 1 ? Math.exp(Math.log(p) / shape) : -Math.log((1 + shape / Math.E - p) / shape);
    const accept = p <= 1 ? Math.exp(-x) : Math.exp((shape - 1) * Math.log(x));
    if (random.unit() <= accept) return x;
  }
}

const normal = (random: Random): number =>
  Math.sqrt(-2 * Math.log(1 - random.unit())) * Math.cos(2 * Math.PI * random.unit());

const CALLS_AT = 0.4;
const NOISE = 0.01;
const MIDDLE = Math.log(0.0015);
const LINE_SD = 0.6;

/** Straight growth; a crew comes after some 200 days, or at once when somebody calls. */
function visited(called: boolean, seed: number): EvidenceEvent[][] {
  const random = new Random(seed);
  return Array.from({ length: 250 }, () => {
    const rate = Math.exp(MIDDLE + LINE_SD * normal(random));
    const events: EvidenceEvent[] = [];
    let day = 0;
    let level = 0.01;
    for (let visit = 0; visit < 4; visit++) {
      const round = day + Math.round(200 * Math.exp(0.4 * normal(random)));
      for (; level < CALLS_AT && day < round; day++) level += NOISE * gamma(rate / NOISE, random);
      const calls = level >= CALLS_AT;
      const read = Math.min(0.99, Math.max(0.01, level + 0.05 * normal(random)));
      events.push(reading(day, read, { called: calls && called }), { kind: 'clean', day });
      level = Math.max(0, 0.04 + 0.01 * normal(random));
    }
    return events;
  });
}

function evidenceOf(k1: number, lines: EvidenceEvent[][]): number {
  const law = growthShape(k1, 0);
  const parameters = { ...STILL, growthNoise: NOISE, grossShare: 0.001, residualSd: 0.01 };
  const steps = lineSteps(
    lines.map((events) => newPipe(events)),
    10_000,
  );
  const prior = LOG_RATES.map((theta) => Math.exp(-0.5 * ((theta - MIDDLE) / LINE_SD) ** 2));
  const state = filterState();
  return lines.reduce((sum, _, i) => {
    filterLine(steps, i, law, parameters, state);
    const held = state.weight.reduce((all, w, g) => all + w * prior[g]!, 0);
    return sum + Math.log(held) + state.logScale;
  }, 0);
}

test('lines that call when two fifths full seem to slow down there, unless the calls are told', () => {
  const better = (called: boolean, k1: number): number => {
    const lines = visited(called, 3);
    return evidenceOf(k1, lines) - evidenceOf(0, lines);
  };
  // nats of log evidence over the true, straight law
  expect(better(false, -1.2)).toBeGreaterThan(20);
  expect(better(true, -1.2)).toBeLessThan(0);
  expect(better(true, 1.2)).toBeLessThan(0);
});
