import { expect, test } from 'vitest';
import {
  blockedShareOfDepth,
  depthShareOfBlocked,
  evenCoat,
  gravityCapacityLeft,
  hydraulicDiameterShare,
  pressureCapacityLeft,
  wettedShareOfDepth,
} from '../../../src/domain/hydraulics/segment.js';

// Circular segment of a round bore, closed forms evaluated with scipy 1.17.1; even coat in closed form.
// Number of the check value, argument (d/D, share blocked, or t/D), expected; within 1e-6.
const CHECKS: [string, (argument: number) => number, [string, number, number][]][] = [
  [
    'blockedShareOfDepth',
    blockedShareOfDepth,
    [
      ['GEO-01', 0.05, 0.01869303673],
      ['GEO-02', 0.1, 0.05204401933],
      ['GEO-03', 0.15, 0.09406020219],
      ['GEO-04', 0.2, 0.1423784899],
      ['GEO-05', 0.25, 0.1955011095],
      ['GEO-06', 0.3, 0.2523157877],
      ['GEO-07', 0.4, 0.3735300391],
      ['GEO-08', 0.5, 0.5],
      ['GEO-09', 0.6, 0.6264699609],
      ['GEO-10', 0.7, 0.7476842123],
      ['GEO-11', 0.75, 0.8044988905],
      ['GEO-12', 0.8, 0.8576215101],
      ['GEO-13', 0.9, 0.9479559807],
    ],
  ],
  [
    'wettedShareOfDepth',
    wettedShareOfDepth,
    [
      ['GEO-14', 0.1, 0.986153167],
      ['GEO-18', 0.25, 0.9423311144],
      ['GEO-22', 0.5, 0.8183098862],
      ['GEO-26', 0.75, 0.608997781],
    ],
  ],
  [
    'hydraulicDiameterShare',
    hydraulicDiameterShare,
    [
      ['GEO-15', 0.1, 0.961266477],
      ['GEO-19', 0.25, 0.8537327042],
      ['GEO-23', 0.5, 0.6110154704],
      ['GEO-27', 0.75, 0.3210210539],
    ],
  ],
  [
    'gravityCapacityLeft',
    gravityCapacityLeft,
    [
      ['GEO-16', 0.1, 0.9233167246],
      ['GEO-20', 0.25, 0.7240024932],
      ['GEO-24', 0.5, 0.3600295452],
      ['GEO-28', 0.75, 0.09165825197],
    ],
  ],
  [
    'pressureCapacityLeft',
    pressureCapacityLeft,
    [
      ['GEO-17', 0.1, 0.9246550865],
      ['GEO-21', 0.25, 0.7282127157],
      ['GEO-25', 0.5, 0.3665919249],
      ['GEO-29', 0.75, 0.09555762376],
    ],
  ],
  [
    'depthShareOfBlocked',
    depthShareOfBlocked,
    [
      ['GEO-30', 0.1, 0.1564755869],
      ['GEO-31', 0.25, 0.2980136234],
      ['GEO-32', 0.5, 0.5],
      ['GEO-33', 0.6, 0.5788680969],
      ['GEO-34', 0.75, 0.7019863766],
    ],
  ],
  [
    'blocked',
    (t) => evenCoat(t).blocked,
    [
      ['GEO-35', 0.05, 0.19],
      ['GEO-38', 0.1, 0.36],
      ['GEO-41', 0.2, 0.64],
    ],
  ],
  [
    'gravityLeft',
    (t) => evenCoat(t).gravityLeft,
    [
      ['GEO-36', 0.05, 0.7550574989],
      ['GEO-39', 0.1, 0.5515352806],
      ['GEO-42', 0.2, 0.2560963179],
    ],
  ],
  [
    'pressureLeft',
    (t) => evenCoat(t).pressureLeft,
    [
      ['GEO-37', 0.05, 0.757980093],
      ['GEO-40', 0.1, 0.5560664153],
      ['GEO-43', 0.2, 0.2609382759],
    ],
  ],
];

test.each(CHECKS)('%s agrees with the check values', (_name, compute, rows) => {
  for (const [number, argument, expected] of rows) {
    expect(Math.abs(compute(argument) - expected), number).toBeLessThanOrEqual(1e-6);
  }
});

test('a depth outside the bore is refused', () => {
  expect(() => blockedShareOfDepth(1.2)).toThrow(RangeError);
});
