import { expect, test } from 'vitest';
import {
  ENGINE_VERSION,
  type EvidenceEvent,
  type LineEvidence,
} from '../../../src/domain/fouling/evidence.js';
import { type BaseFit, fitBase } from '../../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../../src/domain/fouling/forecastLine.js';
import { START_PARAMETERS } from '../../../src/domain/fouling/shapeParameters.js';
import { START_VISIT_TIMES } from '../../../src/domain/fouling/visitTimes.js';
import { Random } from '../../../src/domain/routing/random.js';

/*
 * Simulation-based calibration: rates drawn from the prior, readings from the model (camera and look, rounded and cut
 * off at nothing seen, slips of every kind, cleans that never add), then the rank of each truth in its own forecast
 * must be even, however many readings a line has.
 * See Talts, Betancourt, Simpson, Vehtari & Gelman (2018), arXiv:1804.06788.
 */
const AS_OF = 20_000;
const LINES = 400;
const LIMIT = 0.5;
const SITE_SD = 0.5;
const LINE_SD = 0.7;
const parameters = {
  ...START_PARAMETERS,
  changesPerYear: 1e-6,
  grossShare: 0.02,
  cameraFactor: 1,
  lookFactor: 1,
  timeNoise: 1e-8,
  lagDays: 0.01,
  growthNoise: 0.006,
};

function normal(random: Random): number {
  return Math.sqrt(-2 * Math.log(1 - random.unit())) * Math.cos(2 * Math.PI * random.unit());
}

interface Known {
  line: LineEvidence;
  logRate: number;
  crossingDays: number;
}

function drawn(seed: number): Known[] {
  const random = new Random(seed);
  for (let i = 0; i < 20; i++) random.unit();
  const siteEffects = Array.from({ length: LINES / 4 }, () => SITE_SD * normal(random));
  return Array.from({ length: LINES }, (_, i): Known => {
    const site = Math.floor(i / 4);
    // As the prior has it: one line in ten lies three times as far from its like.
    const lineSd = Math.sqrt(0.8) * (random.unit() < 0.1 ? 3 : 1) * LINE_SD;
    const logRate = Math.log(0.0008) + (siteEffects[site] ?? 0) + lineSd * normal(random);
    const visits = i % 6;
    const events: EvidenceEvent[] = [];
    let day = AS_OF - 60 - 120 * visits;
    const start = day;
    let level = 0.01;
    const grow = (days: number): void => {
      const mean = Math.exp(logRate) * days;
      level += mean + Math.sqrt(parameters.growthNoise * mean) * normal(random);
    };
    for (let v = 0; v < visits; v++) {
      grow(120);
      day += 120;
      events.push(readingOf(random, level, day, v % 2 === 0 ? 'camera' : 'outlet_look', `${i}/${v}`));
      events.push({ kind: 'clean', day });
      level = Math.min(level, Math.max(0, parameters.residualMean + parameters.residualSd * normal(random)));
    }
    grow(60);
    let crossingDays = 0;
    while (level < LIMIT && crossingDays < 4380) {
      grow(5);
      crossingDays += 5;
    }
    return {
      line: {
        lineId: `L${String(i).padStart(3, '0')}`,
        siteId: `S${String(site).padStart(3, '0')}`,
        area: '',
        kind: 'footing_drain',
        material: 'pvc',
        boreMm: 100,
        ironMgL: 1.5,
        start: { kind: 'clean', day: start },
        events,
      },
      logRate,
      crossingDays,
    };
  });
}

/** Error at a level: a look tells less where there is little to see. */
function errorAt(method: 'camera' | 'outlet_look', level: number): number {
  if (method === 'camera') return 0.08;
  return 0.1 + 0.06 * (1 - Math.min(1, Math.max(0, level) / 0.3));
}

/** What is written down: rounded, slips of the three kinds in equal parts. */
function readingOf(
  random: Random,
  level: number,
  day: number,
  method: 'camera' | 'outlet_look',
  id: string,
): EvidenceEvent {
  const step = method === 'camera' ? 0.01 : 0.05;
  let share = Math.min(1, Math.max(0, level + errorAt(method, level) * normal(random)));
  const slip = random.unit() / parameters.grossShare;
  if (slip < 1 / 3) share = random.unit();
  else if (slip < 2 / 3) share = 1 - share;
  else if (slip < 1) share /= 100;
  return {
    kind: 'reading',
    day,
    occlusion: Math.round(share / step) * step,
    sd: method === 'camera' ? 0.08 : 0.1,
    bound: 'exact',
    method,
    phase: 'before_cleaning',
    id,
  };
}

/** A fit whose shared parameters are the true ones; the pooling is still learned. */
function trueFit(lines: LineEvidence[]): BaseFit {
  const nothing = { coefficients: [], covariance: [], sites: {}, lines: {} };
  const from: BaseFit = {
    engineVersion: ENGINE_VERSION,
    asOfDay: AS_OF,
    traits: { names: [], priorVariance: [], siteLogIron: {}, meanLogIron: 0 },
    shapes: [
      {
        k1: 0,
        k2: 0,
        weight: 1,
        parameters,
        visitTimes: { ...START_VISIT_TIMES, nodes: START_VISIT_TIMES.nodes.map(() => Math.log(120)) },
        siteVariance: SITE_SD ** 2,
        lineVariance: LINE_SD ** 2,
        ...nothing,
      },
    ],
  };
  return fitBase(lines, AS_OF, { from, keepShape: true });
}

test('true rates and true crossings fall evenly into their forecasts', () => {
  const rateBins = new Array<number>(10).fill(0);
  const passageBins = new Array<number>(10).fill(0);
  let before10 = 0;
  let before50 = 0;
  let before90 = 0;
  let all = 0;
  const spread = new Random(5);
  for (const seed of [11, 12]) {
    const known = drawn(seed);
    const fit = trueFit(known.map(({ line }) => line));
    for (const { line, logRate, crossingDays } of known) {
      const forecast = forecastLine(fit, line, AS_OF);
      const below = forecast.components.reduce(
        (sum, { weight, ratePerDay }) => sum + (Math.log(ratePerDay) < logRate ? weight : 0),
        0,
      );
      const bin = Math.min(9, Math.floor(10 * below));
      rateBins[bin] = (rateBins[bin] ?? 0) + 1;
      const passage = forecast.passage(LIMIT);
      // Over already: anywhere below the chance of today, as good as any.
      const chance = passage.chanceBy(crossingDays) * (crossingDays === 0 ? spread.unit() : 1);
      const place = Math.min(9, Math.floor(10 * chance));
      passageBins[place] = (passageBins[place] ?? 0) + 1;
      all++;
      if (chance < 0.1) before10++;
      if (chance < 0.5) before50++;
      if (chance < 0.9) before90++;
    }
  }
  // 800 lines: two standard errors are .021 at a tenth and .035 at a half; three are allowed
  expect(before10 / all).toBeGreaterThan(0.068);
  expect(before10 / all).toBeLessThan(0.132);
  expect(before50 / all).toBeGreaterThan(0.447);
  expect(before50 / all).toBeLessThan(0.553);
  expect(before90 / all).toBeGreaterThan(0.868);
  expect(before90 / all).toBeLessThan(0.932);
  // ten even bins: χ² with 9 degrees of freedom is below 27.9 in 999 of 1,000 cases
  const even = all / 10;
  const chiSquare = passageBins.reduce((sum, count) => sum + (count - even) ** 2 / even, 0);
  expect(chiSquare).toBeLessThan(27.9);
  // the components are twelve steps wide, so only halves of the range are told apart
  const lower = rateBins.slice(0, 5).reduce((sum, count) => sum + count, 0);
  expect(Math.abs(lower / all - 0.5)).toBeLessThan(0.07);
});
