import { z } from 'zod';
import type { PipeChanges } from '../../domain/hydraulics/pipes.js';
import { litresPerMm } from '../../domain/hydraulics/pitCycle.js';
import { pitOverflow as overflowOf } from '../../domain/jetting/pitOverflow.js';
import { JETTING_RULES } from '../../domain/jetting/rules.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { reason } from '../shapes.js';
import { amount, amountOrNone, answered, out, stored, storedOrNull } from './amounts.js';
import { type Assumption, assumed, assumptions, basisOf, type Calculation, sources } from './calculation.js';

const body = z
  .strictObject({
    pit: z
      .union([
        z.strictObject({ freeVolume: amount('volume') }),
        z.strictObject({
          diameter: amount('bore'),
          freeDepth: amount('bore').describe('from the water to the rim or floor'),
        }),
      ])
      .optional(),
    jet: amount('flow'),
    inflow: amountOrNone('flow').describe(
      'what else runs in; 0 only where somebody looked: it shortens the minutes',
    ),
    takenOut: amountOrNone('flow').optional().describe('by a second pump or vacuum'),
    minutesNeeded: z.number().min(0.1).max(10_000),
  })
  .meta({
    id: 'PitOverflowQuestion',
    example: {
      pit: { diameter: { value: 18, unit: 'in' }, freeDepth: { value: 16, unit: 'in' } },
      jet: { value: 4, unit: 'gpm' },
      inflow: { value: 2, unit: 'gpm' },
      minutesNeeded: 10,
    },
  });

const answer = z
  .object({
    freeVolume: answered('volume'),
    minutes: z.number().nullable().describe('until the pit runs over; null: it does not'),
    enough: z.boolean(),
    takeOut: answered('flow').describe(
      'what a second pump or vacuum must move so that the work can be finished',
    ),
    findings: z.array(reason),
    sources,
    assumptions,
  })
  .meta({ id: 'PitOverflowAnswer' });

function freeVolume(
  pit: z.infer<typeof body>['pit'],
  { pits }: Pick<OwnerSettings, 'pits'>,
): { litres: number; assumptions: Assumption[] } {
  if (pit === undefined) {
    const litres = pits.assumedFreeVolumeL;
    return {
      litres,
      assumptions: [
        assumed(
          'pit/freeVolume',
          litres,
          `${litres} L free: the setting pits.assumedFreeVolumeL, by default the low end of a sump about 2 ft wide`,
        ),
      ],
    };
  }
  if ('freeVolume' in pit) return { litres: stored(pit.freeVolume, 'volume'), assumptions: [] };
  return {
    litres: litresPerMm(stored(pit.diameter, 'bore')) * stored(pit.freeDepth, 'bore'),
    assumptions: [],
  };
}

function compute(raw: z.infer<typeof body>, units: UnitSystem, _pipes: PipeChanges, settings: OwnerSettings) {
  const { litres, assumptions } = freeVolume(raw.pit, settings);
  const result = overflowOf({
    freeVolumeL: litres,
    jetLps: stored(raw.jet, 'flow'),
    inflowLps: stored(raw.inflow, 'flow'),
    takenOutLps: storedOrNull(raw.takenOut, 'flow') ?? 0,
    minutesNeeded: raw.minutesNeeded,
  });
  return {
    freeVolume: out(litres, 'volume', units),
    minutes: result.minutes,
    enough: result.enough,
    takeOut: out(result.takeOutLps, 'flow', units),
    findings: [
      {
        code: 'pump-locked-out',
        facts: {},
        text: "the pit's own pump is locked out while hands or hose are in it",
      },
      ...(result.needed ? [result.needed] : []),
    ],
    sources: basisOf(JETTING_RULES.overflow),
    assumptions,
  };
}

export const pitOverflow: Calculation = {
  path: 'pit-overflow',
  operationId: 'calculatePitOverflow',
  ruled: false,
  summary: 'Minutes until a pit runs over while a line is jetted toward it with its pump locked out',
  body,
  answer,
  compute,
};
