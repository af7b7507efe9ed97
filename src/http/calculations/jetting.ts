import { z } from 'zod';
import { Refused } from '../../actions/problems.js';
import type { Finding } from '../../domain/jetting/finding.js';
import { HOSE_LOSS, type Hose, USUAL_HOSE } from '../../domain/jetting/hose.js';
import { type JetJob, planJet } from '../../domain/jetting/jetPlan.js';
import { DRILLED_JETS } from '../../domain/jetting/nozzle.js';
import { JETTING_RULES } from '../../domain/jetting/rules.js';
import { USUAL_RESIDUE } from '../../domain/jetting/sludge.js';
import { waterPlan } from '../../domain/jetting/waterSupply.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import { CONDITIONS, DEPOSITS, MATERIALS } from '../../domain/words.js';
import { cautionsOf } from '../../domain/work/cautions.js';
import { caution, reason, share } from '../shapes.js';
import { amount, amountOrNone, answered, out, stored, storedOrNull } from './amounts.js';
import { type Assumption, assumed, assumptions, basisOf, type Calculation, sources } from './calculation.js';

const HOSE_BORES = Object.keys(HOSE_LOSS) as [keyof typeof HOSE_LOSS, ...(keyof typeof HOSE_LOSS)[]];

const jets = { count: z.number().int().min(1).max(60), bore: amount('bore') };

const body = z
  .strictObject({
    pipe: z.strictObject({
      material: z.enum(MATERIALS),
      condition: z.enum(CONDITIONS),
      perforated: z
        .boolean()
        .nullable()
        .optional()
        .describe('not known: counts as perforated, as a footing drain is'),
      bore: amount('bore'),
      length: amount('length'),
      bends: z
        .array(z.strictObject({ at: amountOrNone('length'), degrees: z.number().min(0).max(180) }))
        .max(20)
        .optional(),
    }),
    occlusion: share,
    residue: share.optional(),
    deposit: z.enum(DEPOSITS),
    machine: z.strictObject({ pressure: amount('pressure'), flow: amount('flow') }),
    hose: z.strictObject({
      length: amount('length'),
      bore: z.enum(HOSE_BORES).optional().describe('inches; fire hose of that bore stands for its loss'),
      lossCoefficient: z
        .number()
        .min(0.1)
        .max(1e5)
        .optional()
        .describe("of the maker's chart: FL = C (Q/100)^2 L/100"),
      weight: amount('force').optional().describe('of the whole hose, filled'),
      drag: z.number().min(0.05).max(1).optional(),
    }),
    nozzle: z.strictObject({
      rear: z.strictObject({ ...jets, angleFromAxis: z.number().min(0).max(90).describe('degrees') }),
      front: z.strictObject(jets).nullable().optional(),
      coefficient: z.number().min(0.5).max(1).optional(),
      diameter: amount('bore'),
      rigidLength: amount('bore').describe('nozzle and rigid hose end together'),
    }),
    water: z.strictObject({ tank: amountOrNone('volume'), tap: amountOrNone('flow') }).optional(),
  })
  .meta({
    id: 'JettingQuestion',
    example: {
      pipe: {
        material: 'pvc',
        condition: 'sound',
        perforated: false,
        bore: { value: 4, unit: 'in' },
        length: { value: 55, unit: 'ft' },
        bends: [{ at: { value: 20, unit: 'ft' }, degrees: 45 }],
      },
      occlusion: 0.45,
      deposit: 'gel',
      machine: { pressure: { value: 1500, unit: 'psi' }, flow: { value: 4, unit: 'gpm' } },
      hose: { length: { value: 150, unit: 'ft' }, bore: '3/4' },
      nozzle: {
        rear: { count: 4, bore: { value: 0.8, unit: 'mm' }, angleFromAxis: 20 },
        diameter: { value: 1, unit: 'in' },
        rigidLength: { value: 6.5, unit: 'in' },
      },
      water: { tank: { value: 100, unit: 'gal' }, tap: { value: 5, unit: 'gpm' } },
    },
  });

const answer = z
  .object({
    limit: z.object({
      pressure: answered('pressure'),
      at: z.enum(['pump', 'nozzle']),
      because: z.string(),
      source: z.string(),
    }),
    nozzlePressure: answered('pressure'),
    pull: answered('force'),
    reach: answered('length'),
    passes: z.number().int(),
    speedIn: answered('speed'),
    speedOut: answered('speed'),
    jetMinutes: z.number(),
    water: answered('volume'),
    sludge: answered('volume'),
    supply: z
      .object({ fromTank: answered('volume'), fromTap: answered('volume'), refills: z.number().int() })
      .nullable(),
    findings: z.array(reason),
    cautions: z.array(caution),
    sources,
    assumptions,
  })
  .meta({ id: 'JettingAnswer' });

type Body = z.infer<typeof body>;

function hoseOf({ hose }: Body): { hose: Hose; assumptions: Assumption[] } {
  const lengthM = stored(hose.length, 'length');
  const weightN = storedOrNull(hose.weight, 'force');
  const lossCoefficient = hose.lossCoefficient ?? HOSE_LOSS[hose.bore ?? USUAL_HOSE.bore];
  return {
    hose: {
      lengthM,
      lossCoefficient,
      weightNPerM: weightN === null ? USUAL_HOSE.weightNPerM : weightN / lengthM,
      drag: hose.drag ?? USUAL_HOSE.drag,
    },
    assumptions: [
      ...(hose.lossCoefficient === undefined
        ? [
            assumed(
              'hose/lossCoefficient',
              lossCoefficient,
              `hose loss C ${lossCoefficient}: fire hose of ${hose.bore ?? USUAL_HOSE.bore} in; take the maker's chart`,
            ),
          ]
        : []),
      ...(weightN === null
        ? [
            assumed(
              'hose/weight',
              USUAL_HOSE.weightNPerM,
              `hose weighs ${USUAL_HOSE.weightNPerM} N a metre, filled (common practice, no source)`,
            ),
          ]
        : []),
      ...(hose.drag === undefined
        ? [
            assumed(
              'hose/drag',
              USUAL_HOSE.drag,
              `hose drags by ${USUAL_HOSE.drag} of its weight (common practice, no source)`,
            ),
          ]
        : []),
    ],
  };
}

function jobOf(raw: Body): { job: JetJob; assumptions: Assumption[] } {
  const { pipe, nozzle } = raw;
  const { hose, assumptions } = hoseOf(raw);
  const jetsOf = (given: { count: number; bore: unknown }) => ({
    count: given.count,
    boreMm: stored(given.bore, 'bore'),
  });
  const coefficient = nozzle.coefficient ?? DRILLED_JETS;
  const residue = raw.residue ?? USUAL_RESIDUE;
  return {
    job: {
      pipe: {
        material: pipe.material,
        condition: pipe.condition,
        perforated: pipe.perforated ?? null,
        boreMm: stored(pipe.bore, 'bore'),
        lengthM: stored(pipe.length, 'length'),
        bends: (pipe.bends ?? []).map((bend) => ({ atM: stored(bend.at, 'length'), degrees: bend.degrees })),
      },
      occlusion: raw.occlusion,
      residue,
      deposit: raw.deposit,
      machine: {
        pressureKpa: stored(raw.machine.pressure, 'pressure'),
        flowLps: stored(raw.machine.flow, 'flow'),
      },
      hose,
      nozzle: {
        rear: { ...jetsOf(nozzle.rear), angleFromAxisDeg: nozzle.rear.angleFromAxis },
        front: nozzle.front ? jetsOf(nozzle.front) : null,
        coefficient,
        diameterMm: stored(nozzle.diameter, 'bore'),
        rigidLengthMm: stored(nozzle.rigidLength, 'bore'),
      },
    },
    assumptions: [
      ...assumptions,
      ...(nozzle.coefficient === undefined
        ? [
            assumed(
              'nozzle/coefficient',
              coefficient,
              `drilled jets, coefficient ${coefficient} (common practice, no source)`,
            ),
          ]
        : []),
      ...(raw.residue === undefined
        ? [assumed('residue', residue, `a clean leaves ${residue} of the bore (common practice, no source)`)]
        : []),
    ],
  };
}

/** Which field a refused plan turns on, and what would be right. */
const FAULT_FIELDS: Record<string, { pointer: string; remedy: string }> = {
  'pressure-above-limit': {
    pointer: '#/machine/pressure',
    remedy: 'lower the pressure, or record a better condition once it was seen',
  },
  'nozzle-may-turn-back': { pointer: '#/nozzle/rigidLength', remedy: 'a longer rigid end' },
  'nozzle-too-wide': { pointer: '#/nozzle/diameter', remedy: 'a smaller nozzle' },
  'no-pull': { pointer: '#/nozzle/front', remedy: 'fewer or narrower front jets' },
  'machine-too-weak': {
    pointer: '#/nozzle/rear/bore',
    remedy: 'wider jets, a shorter hose, or a stronger machine',
  },
};

/** A fault in the units of who asks: a pressure that is too high is told with its limit. */
function detailOf({ code, facts, text }: Finding, units: UnitSystem): string {
  if (code !== 'pressure-above-limit') return text;
  const said = (kpa: unknown) => {
    const { value, unit } = out(Number(kpa), 'pressure', units);
    return `${Math.round(value * 10) / 10} ${unit}`;
  };
  return `${said(facts['plannedKpa'])} at the ${facts['at']} is above ${said(facts['limitKpa'])} (${facts['because']}; ${facts['source']})`;
}

function refused(faults: readonly Finding[], units: UnitSystem): Refused {
  return new Refused({
    code: 'rule-broken',
    rule: 'jet-plan',
    faults: faults.map((each) => ({
      ...(FAULT_FIELDS[each.code] ?? { pointer: '#', remedy: 'change the plan' }),
      detail: detailOf(each, units),
    })),
  });
}

function compute(raw: Body, units: UnitSystem) {
  const { job, assumptions } = jobOf(raw);
  const planned = planJet(job);
  if (!planned.ok) throw refused(planned.faults, units);
  const { plan } = planned;
  const supply = raw.water
    ? waterPlan(plan.waterL, plan.jetMinutes, {
        tankL: stored(raw.water.tank, 'volume'),
        tapLps: stored(raw.water.tap, 'flow'),
      })
    : null;
  return {
    limit: {
      pressure: out(plan.limit.kpa, 'pressure', units),
      at: plan.limit.at,
      because: plan.limit.because,
      source: plan.limit.source,
    },
    nozzlePressure: out(plan.nozzleKpa, 'pressure', units),
    pull: out(plan.pullN, 'force', units),
    reach: out(plan.reachM, 'length', units),
    passes: plan.passes,
    speedIn: out(plan.inMps, 'speed', units),
    speedOut: out(plan.outMps, 'speed', units),
    jetMinutes: plan.jetMinutes,
    water: out(plan.waterL, 'volume', units),
    sludge: out(plan.sludgeL, 'volume', units),
    supply:
      supply === null
        ? null
        : {
            fromTank: out(supply.fromTankL, 'volume', units),
            fromTap: out(supply.fromTapL, 'volume', units),
            refills: supply.refills,
          },
    findings: [...plan.findings, ...(supply?.finding ? [supply.finding] : [])],
    cautions: cautionsOf(['jet'], {}),
    sources: basisOf(
      JETTING_RULES.nozzle,
      JETTING_RULES.hoseLoss,
      JETTING_RULES.reach,
      JETTING_RULES.passes,
      JETTING_RULES.nozzleFit,
      JETTING_RULES.sludge,
      {
        formula: `at most ${Math.round(plan.limit.kpa / 100)} bar at the ${plan.limit.at}: ${plan.limit.because}`,
        source: plan.limit.source,
      },
    ),
    assumptions,
  };
}

export const jetting: Calculation = {
  path: 'jetting',
  operationId: 'calculateJetting',
  ruled: true,
  summary:
    'Whether a line may be jetted so, how far the hose goes, passes, water, sludge; refused above the limit',
  body,
  answer,
  compute,
};
