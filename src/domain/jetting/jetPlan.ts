import type { Deposit } from '../words.js';
import type { Finding } from './finding.js';
import { type Bend, type Hose, hoseLossKpa, hoseReachM } from './hose.js';
import { type Nozzle, nozzlePressureKpa, nozzlePullN } from './nozzle.js';
import { nozzleFaults } from './nozzleFit.js';
import { MOST_PASSES, passesFor, passMinutes, passSpeeds, passWaterL } from './passes.js';
import {
  FIELD_DRAIN_KPA,
  FIELD_DRAIN_LEAST_LPS,
  type JettedPipe,
  type PressureLimit,
  pressureLimit,
  pressureLimits,
} from './pressureLimit.js';
import { sludgeOutL } from './sludge.js';

export interface JetJob {
  pipe: JettedPipe & { boreMm: number; lengthM: number; bends: readonly Bend[] };
  occlusion: number;
  /** What a clean usually leaves. */
  residue: number;
  deposit: Deposit;
  machine: { pressureKpa: number; flowLps: number };
  hose: Hose;
  nozzle: Nozzle;
}

/** What it takes to jet a run in passes. */
export interface JetWork {
  passes: number;
  inMps: number;
  outMps: number;
  /** Minutes the jet runs. */
  jetMinutes: number;
  waterL: number;
  sludgeL: number;
}

export interface JetPlan extends JetWork {
  limit: PressureLimit;
  nozzleKpa: number;
  pullN: number;
  reachM: number;
  /** What the crew should know; none of it forbids the work. */
  findings: Finding[];
}

export type JetPlanned = { ok: true; plan: JetPlan } | { ok: false; faults: Finding[] };

/** Water to rinse a line after its passes, over that of the passes. Common practice, no source. */
const RINSE_SHARE = 0.1;

/**
 * A plan to jet one line, or why it must not be jetted so: pressure above the limit of the pipe, a nozzle that can
 * turn back, a machine that cannot give the pressure.
 */
export function planJet(job: JetJob): JetPlanned {
  const limits = pressureLimits(job.pipe);
  const nozzleKpa = nozzlePressureKpa(job.nozzle, job.machine.flowLps);
  const lossKpa = hoseLossKpa(job.machine.flowLps, job.hose.lengthM, job.hose.lossCoefficient);
  const faults = [
    ...nozzleFaults(job.nozzle, job.pipe.boreMm),
    ...machineFaults(job.machine.pressureKpa, nozzleKpa, lossKpa),
    ...limits.flatMap((limit) =>
      pressureFaults(limit, limit.at === 'pump' ? job.machine.pressureKpa : nozzleKpa),
    ),
    ...pullFaults(nozzlePullN(job.nozzle, nozzleKpa), job.hose),
  ];
  return faults.length > 0
    ? { ok: false, faults }
    : { ok: true, plan: planned(job, pressureLimit(job.pipe), nozzleKpa) };
}

/**
 * Passes, minutes, water and sludge of a run; the calculator's plan and an order's rest on it.
 *
 * @param mostPasses Where to stop: what more passes would not clear is the next rung's.
 */
export function jetWork(
  run: Pick<JetJob, 'occlusion' | 'residue' | 'deposit'> & { runM: number; boreMm: number; flowLps: number },
  mostPasses = Number.POSITIVE_INFINITY,
): JetWork {
  const { runM, boreMm, flowLps } = run;
  const { inMps, outMps } = passSpeeds(run.deposit);
  const passes = Math.min(mostPasses, passesFor(run.occlusion, run.deposit));
  return {
    passes,
    inMps,
    outMps,
    jetMinutes: passes * passMinutes(runM, inMps, outMps),
    waterL: passes * passWaterL(runM, inMps, outMps, flowLps) * (1 + RINSE_SHARE),
    sludgeL: sludgeOutL(boreMm, runM, run.occlusion, run.residue),
  };
}

function planned(job: JetJob, limit: PressureLimit, nozzleKpa: number): JetPlan {
  const { boreMm, lengthM, bends } = job.pipe;
  const pullN = nozzlePullN(job.nozzle, nozzleKpa);
  const reachM = hoseReachM(pullN, job.hose, bends);
  const work = jetWork({ ...job, runM: Math.min(lengthM, reachM), boreMm, flowLps: job.machine.flowLps });
  return {
    limit,
    nozzleKpa,
    pullN,
    reachM,
    ...work,
    findings: findings(job, { reachM, passes: work.passes, nozzleKpa }),
  };
}

function machineFaults(pumpKpa: number, nozzleKpa: number, lossKpa: number): Finding[] {
  const neededKpa = nozzleKpa + lossKpa;
  if (neededKpa <= pumpKpa * 1.001) return [];
  return [
    {
      code: 'machine-too-weak',
      facts: { pumpKpa, nozzleKpa, lossKpa },
      text: `nozzle and hose take ${bar(neededKpa)} bar at this flow, the machine gives ${bar(pumpKpa)} bar: wider jets or a shorter hose`,
    },
  ];
}

/** The nozzle must at least drag its first metre of hose; one that pushes back comes out at the crew. */
const LEAST_PULLED_M = 1;

function pullFaults(pullN: number, hose: Hose): Finding[] {
  const leastN = LEAST_PULLED_M * hose.weightNPerM * hose.drag;
  if (pullN >= leastN) return [];
  if (pullN > 0)
    return [
      {
        code: 'no-pull',
        facts: { pullN, leastN },
        text: `the rear jets pull with ${pullN.toFixed(1)} N and do not move even the first metre of hose (${leastN.toFixed(1)} N): jets turned further back, or narrower ones`,
      },
    ];
  return [
    {
      code: 'no-pull',
      facts: { pullN },
      text: 'the front jets push back as hard as the rear jets pull: the nozzle does not go in, and may come out at the crew',
    },
  ];
}

/** Jets that make less of the machine's pressure than this are too wide for it. Common practice, no source. */
const WIDE_JETS_SHARE = 0.5;

/** Rounding of a unit converted twice. */
const ROUNDING = 1 + 1e-9;

function pressureFaults(limit: PressureLimit, plannedKpa: number): Finding[] {
  if (plannedKpa <= limit.kpa * ROUNDING) return [];
  return [
    {
      code: 'pressure-above-limit',
      facts: { plannedKpa, limitKpa: limit.kpa, at: limit.at, because: limit.because, source: limit.source },
      text: `${bar(plannedKpa)} bar at the ${limit.at} is above ${bar(limit.kpa)} bar (${limit.because}; ${limit.source})`,
    },
  ];
}

function findings(
  job: JetJob,
  { reachM, passes, nozzleKpa }: Pick<JetPlan, 'reachM' | 'passes' | 'nozzleKpa'>,
): Finding[] {
  const found: Finding[] = [];
  const { lengthM, perforated } = job.pipe;
  if (reachM < lengthM) {
    const text = `the pull takes the hose ${reachM.toFixed(0)} m of ${lengthM.toFixed(0)} m: open from the other end, or add a cleanout`;
    found.push({ code: 'does-not-reach', facts: { reachM, lengthM }, text });
  }
  if (!(perforated ?? true) && nozzleKpa < WIDE_JETS_SHARE * job.machine.pressureKpa) {
    const text = `at this flow the jets make ${bar(nozzleKpa)} bar of the machine's ${bar(job.machine.pressureKpa)}: narrower ones pull harder and reach farther, within the limit`;
    found.push({ code: 'jets-too-wide', facts: { nozzleKpa, machineKpa: job.machine.pressureKpa }, text });
  }
  if (passes > MOST_PASSES) {
    const text = `${passes} passes: more than a jet is expected to do, plan the next rung`;
    found.push({ code: 'too-many-passes', facts: { passes, most: MOST_PASSES }, text });
  }
  const slotted = perforated ?? true;
  if (slotted && job.machine.flowLps < FIELD_DRAIN_LEAST_LPS) {
    const text = `a slotted drain wants at least 70 L/min to carry the deposit out; the machine gives ${(job.machine.flowLps * 60).toFixed(0)}`;
    found.push({ code: 'little-water', facts: { flowLps: job.machine.flowLps }, text });
  }
  if (slotted && nozzleKpa < FIELD_DRAIN_KPA.usualFrom) {
    const text = `${bar(nozzleKpa)} bar at the nozzle is little for a slotted drain; 10 to 15 bar are usual`;
    found.push({ code: 'little-pressure', facts: { nozzleKpa }, text });
  }
  if (slotted) {
    const text =
      'keep the nozzle moving: standing, it washes soil in through the slots; jetting does not open slots';
    found.push({ code: 'keep-moving', facts: {}, text });
  }
  return found;
}

const bar = (kpa: number): string => (kpa / 100).toFixed(1);
