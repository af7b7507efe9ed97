import fc from 'fast-check';
import { beforeAll, expect, test } from 'vitest';
import { FITTING_KINDS } from '../../src/domain/hydraulics/fittings.js';
import { PIPE_PRODUCTS } from '../../src/domain/hydraulics/pipes.js';
import { type DimensionName, unitsOf } from '../../src/domain/units/quantity.js';
import {
  CONDITIONS,
  DEPOSITS,
  LINE_KINDS,
  MATERIALS,
  PLUG_CAUSES,
  TASK_KINDS,
} from '../../src/domain/words.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

/** Values from the schema's own bounds, far beyond any drain, with the ends often. */
const value = (least: number) =>
  fc.oneof(
    fc.constantFrom(least, 1, 4, 60, 1e6),
    fc.double({ min: Math.max(least, 1e-4), max: 1e6, noNaN: true }),
    fc.double({ min: 0.1, max: 100, noNaN: true }),
  );
const amount = (dimension: DimensionName, least = 1e-4) =>
  fc.record({ value: value(least), unit: fc.constantFrom(...unitsOf(dimension)) });
const maybe = <T>(of: fc.Arbitrary<T>) => fc.option(of, { nil: undefined });
const pipe = fc.oneof(
  fc.record({ product: fc.constantFrom(...PIPE_PRODUCTS), nominal: fc.constantFrom('1-1/2', '4', '6') }),
  fc.record({ bore: amount('bore'), material: maybe(fc.constantFrom(...MATERIALS)) }),
);
const deposit = fc.oneof(
  fc.record({
    occlusion: fc.double({ min: 0, max: 0.99, noNaN: true }),
    shape: maybe(fc.constantFrom('even_coat', 'flat_deposit')),
  }),
  fc.record({ depth: amount('bore', 0), shape: fc.constantFrom('even_coat', 'flat_deposit') }),
);
const curve = fc.array(fc.record({ flow: amount('flow', 0), head: amount('length', 0) }), {
  minLength: 1,
  maxLength: 6,
});
const fallingCurve = fc
  .record({
    top: fc.double({ min: 1, max: 30, noNaN: true }),
    most: fc.double({ min: 0.2, max: 20, noNaN: true }),
  })
  .map(({ top, most }) =>
    [0, 0.5, 0.9].map((share) => ({
      flow: { value: share * most, unit: 'L/s' },
      head: { value: top * (1 - share ** 2), unit: 'm' },
    })),
  );
const jets = { count: fc.integer({ min: 1, max: 60 }), bore: amount('bore') };

const BODIES: Record<string, fc.Arbitrary<object>> = {
  'gravity-flow': fc.record({
    pipe,
    slope: amount('slope'),
    deposit: maybe(deposit),
    peakInflow: maybe(amount('flow')),
  }),
  'gravity-flow/figure.svg': fc.record({
    pipe,
    slope: amount('slope'),
    deposit: maybe(deposit),
    peakInflow: maybe(amount('flow')),
  }),
  'pumped-discharge': fc.record({
    pipe,
    length: amount('length'),
    lift: amount('length', 0),
    fittings: maybe(
      fc.record(Object.fromEntries(FITTING_KINDS.map((kind) => [kind, fc.integer({ min: 0, max: 100 })]))),
    ),
    roughness: maybe(amount('bore')),
    pumpCurve: fc.oneof(curve, fallingCurve),
    deposit: maybe(deposit),
    pit: maybe(fc.record({ diameter: amount('bore'), floatTravel: amount('bore') })),
    inflow: maybe(amount('flow', 0)),
  }),
  'pumped-discharge/figure.svg': fc.record({
    pipe,
    length: amount('length'),
    lift: amount('length', 0),
    pumpCurve: fallingCurve,
    deposit: maybe(deposit),
  }),
  // Most of what the schema takes makes no plan: half of the questions start from one that does.
  jetting: fc.oneof(
    fc.record({
      pipe: fc.record({
        material: fc.constantFrom(...MATERIALS),
        condition: fc.constantFrom(...CONDITIONS),
        perforated: fc.constantFrom(true, false, null),
        bore: amount('bore'),
        length: amount('length'),
        bends: fc.array(fc.record({ at: amount('length', 0), degrees: fc.integer({ min: 0, max: 180 }) }), {
          maxLength: 20,
        }),
      }),
      occlusion: fc.double({ min: 0, max: 1, noNaN: true }),
      deposit: fc.constantFrom(...DEPOSITS),
      machine: fc.record({ pressure: amount('pressure'), flow: amount('flow') }),
      hose: fc.record({ length: amount('length'), weight: maybe(amount('force')) }),
      nozzle: fc.record({
        rear: fc.record({ ...jets, angleFromAxis: fc.integer({ min: 0, max: 90 }) }),
        front: maybe(fc.record(jets)),
        diameter: amount('bore'),
        rigidLength: amount('bore'),
      }),
      water: maybe(fc.record({ tank: amount('volume', 0), tap: amount('flow', 0) })),
    }),
    fc.record({
      pipe: fc.record({
        material: fc.constant('pvc'),
        condition: fc.constant('sound'),
        perforated: fc.constant(false),
        bore: fc.constant({ value: 100, unit: 'mm' }),
        length: amount('length'),
        bends: fc.constant([]),
      }),
      occlusion: fc.double({ min: 0, max: 1, noNaN: true }),
      deposit: fc.constantFrom(...DEPOSITS),
      machine: fc.constant({ pressure: { value: 1500, unit: 'psi' }, flow: { value: 4, unit: 'gpm' } }),
      hose: fc.record({ length: fc.constant({ value: 45, unit: 'm' }) }),
      nozzle: fc.constant({
        rear: { count: 4, bore: { value: 0.8, unit: 'mm' }, angleFromAxis: 20 },
        diameter: { value: 25, unit: 'mm' },
        rigidLength: { value: 165, unit: 'mm' },
      }),
      water: maybe(fc.record({ tank: amount('volume', 0), tap: amount('flow', 0) })),
    }),
  ),
  'pit-overflow': fc.record({
    pit: maybe(
      fc.oneof(
        fc.record({ freeVolume: amount('volume') }),
        fc.record({ diameter: amount('bore'), freeDepth: amount('bore') }),
      ),
    ),
    jet: amount('flow'),
    inflow: amount('flow', 0),
    takenOut: maybe(amount('flow', 0)),
    minutesNeeded: fc.double({ min: 0.1, max: 10_000, noNaN: true }),
  }),
  'site-minutes': fc.record({
    tasks: fc.array(
      fc.record({
        kind: fc.constantFrom(...TASK_KINDS),
        runMinutes: maybe(fc.double({ min: 0, max: 1440, noNaN: true })),
        attempts: maybe(
          fc.array(
            fc.record({
              plannedMinutes: fc.integer({ min: 1, max: 10_000 }),
              takenMinutes: fc.integer({ min: 1, max: 10_000 }),
            }),
            { maxLength: 5 },
          ),
        ),
      }),
      { minLength: 1, maxLength: 5 },
    ),
  }),
  occlusion: fc.record({
    kind: fc.constantFrom(...LINE_KINDS),
    material: maybe(fc.constantFrom(...MATERIALS)),
    bore: maybe(amount('bore')),
    slope: maybe(amount('slope')),
    length: maybe(amount('length')),
    lift: maybe(amount('length', 0)),
    pumpCurve: maybe(fallingCurve),
    cleanDrawdown: maybe(amount('bore')),
    cleanFlow: maybe(amount('flow')),
    reading: maybe(
      fc.oneof(
        fc.record({ method: fc.constant('camera'), share: fc.double({ min: 0, max: 1, noNaN: true }) }),
        fc.record({ method: fc.constant('outlet_depth'), depth: amount('bore', 0) }),
        fc.record({
          method: fc.constant('timed_fill'),
          volume: amount('volume'),
          seconds: fc.double({ min: 0.1, max: 80_000, noNaN: true }),
        }),
        fc.record({ method: fc.constant('poured_flow'), flow: amount('flow'), backsUp: fc.boolean() }),
        fc.record({ method: fc.constant('pit_drawdown'), rise: amount('bore', 0), fall: amount('bore', 0) }),
        fc.record({ method: fc.constant('passes_to_clear'), nozzleStopped: amount('length', 0) }),
      ),
    ),
    plugged: maybe(fc.record({ cause: fc.constantFrom(...PLUG_CAUSES) })),
  }),
};

test.each(Object.keys(BODIES))(
  '%s answers or refuses whatever its schema takes, with finite numbers',
  async (path) => {
    let answered = 0;
    await fc.assert(
      fc.asyncProperty(
        BODIES[path] ?? fc.constant({}),
        fc.constantFrom('us', 'metric'),
        async (payload, units) => {
          const { status, text } = await t.call('technician', {
            method: 'POST',
            url: `/v1/calculations/${path}?units=${units}`,
            payload,
          });
          expect([200, 400, 422], `${status} ${text}`).toContain(status);
          expect(text).not.toMatch(/NaN|Infinity/);
          if (status === 200) answered++;
        },
      ),
      { numRuns: 150, seed: 20261125 },
    );
    expect(answered).toBeGreaterThan(0);
  },
);
