import { litresPerMm } from '../hydraulics/pitCycle.js';
import type { Condition, Deposit, LineKind, Material } from '../words.js';
import type { Finding } from './finding.js';
import { HOSE_LOSS, type Hose, hoseLossKpa, USUAL_HOSE } from './hose.js';
import { type JetWork, jetWork, planJet } from './jetPlan.js';
import { DRILLED_JETS, jetBoreMm, nozzlePressureKpa } from './nozzle.js';
import { nozzleFor } from './nozzleFit.js';
import { MOST_PASSES } from './passes.js';
import { pitOverflow } from './pitOverflow.js';
import {
  FIELD_DRAIN_KPA,
  FIELD_DRAIN_LEAST_LPS,
  type JettedPipe,
  type PressureLimit,
  pressureLimits,
} from './pressureLimit.js';
import { USUAL_RESIDUE } from './sludge.js';

/** A line as its jetting depends on it; what nobody knows is null. */
export interface JettedLine {
  kind: LineKind;
  lengthM: number | null;
  boreMm: number | null;
  /** Share of the bore, as the trend believes. */
  occlusion: number;
  deposit: Deposit;
  /** Nothing was ever read on it. */
  unseen: boolean;
  /** Of each section there; none where nobody knows any. */
  walls: readonly { material: Material; condition: Condition }[];
  perforated: boolean | null;
  /** The pit its water runs to; null: none does. */
  pit: ReceivingPit | null;
}

export interface ReceivingPit {
  diameterMm: number | null;
  depthMm: number | null;
  /** Level above the bottom at which its pump starts. */
  floatOnMm: number | null;
  inflowLps: number | null;
}

/** A jetter as its books tell it. */
export interface JetMachine {
  name: string;
  pressureKpa: number | null;
  flowLps: number | null;
  /** Length of its hose. */
  reachM: number | null;
}

/** What the firm jets with, and what it takes a pit to hold that nobody measured. */
export interface JetMeans {
  machines: readonly JetMachine[];
  assumedFreeVolumeL: number;
}

/** How one line is jetted, for the crew that does it. Litres, L/s, kPa, mm, m. */
export interface OrderJet extends JetWork {
  /** The lowest limit of each place a pressure counts at. */
  limits: PressureLimit[];
  /** To be held at the machine, and what then arrives at the nozzle: neither above its limit. */
  pumpKpa: number;
  nozzleKpa: number;
  flowLps: number;
  nozzle: {
    jets: number;
    jetBoreMm: number;
    angleFromAxisDeg: number;
    leastLengthMm: number;
    mostWidthMm: number;
  };
  /** How far its pull takes the hose from where it goes in. */
  reachM: number;
  /** Where its water runs to a pit: how long the pit holds with its pump locked out. */
  overflow: {
    freeVolumeL: number;
    inflowLps: number;
    /** Null: it does not run over. */
    minutes: number | null;
    minutesNeeded: number;
    takeOutLps: number;
  } | null;
  /** The machine it is planned with; null: none with known figures. */
  machine: string | null;
  /** What was taken for want of a fact. */
  assumed: string[];
  findings: Finding[];
}

/** Common practice, no source, unless a line says otherwise. */
const PRACTICE = {
  lengthM: 20,
  boreMm: 100,
  /** 1500 psi at the pump: what small lines are jetted with, whatever more pipe and machine would bear. */
  usualPumpKpa: 1500 * 6.894757293168,
  /** 4 gpm: the least of an engine jetter by a rental-trade guide (4 to 12 gpm), second hand. */
  flowLps: 0.252,
  /** Jets low to the axis, so that in a slotted pipe they do not strike the slots. */
  jets: 6,
  angleFromAxisDeg: 20,
  /** Hose on the reel where nobody measured it: the line and the way to it, at least so much. */
  hoseM: 30,
  wayToLineM: 5,
  /** A hose takes at most this share of what the machine may give; more, and the flow is turned down. */
  hoseShare: 0.5,
  /** Water of a pit stands at this share of its depth where nobody knows the float. */
  waterShare: 0.5,
  /** 2 gpm. */
  inflowLps: 0.126,
} as const;

/** Lengths and bores unknown, as jets and hoses take them. */
export const usualRun = ({ lengthM, boreMm }: Pick<JettedLine, 'lengthM' | 'boreMm'>) => ({
  lengthM: lengthM ?? PRACTICE.lengthM,
  boreMm: boreMm ?? PRACTICE.boreMm,
});

/**
 * How hard and with what a line is jetted when an order is made: the pressure its weakest section bears, a flow that
 * carries the deposit out, jets that give that flow at that pressure, and what follows from them by the same plan as
 * the calculator's. What nobody knows is taken with care and named.
 */
export function orderJet(line: JettedLine, means: JetMeans): OrderJet {
  const assumed = unknownOf(line);
  const pipe = pipeOf(line);
  const { lengthM, boreMm } = usualRun(line);
  const machine = machineFor(line, means.machines);
  if (machine?.pressureKpa == null) assumed.push('machine_pressure');
  if (machine?.flowLps == null) assumed.push('machine_flow');
  if (machine?.reachM == null) assumed.push('hose_length');
  const hose: Hose = {
    lengthM: machine?.reachM ?? Math.max(PRACTICE.hoseM, lengthM + PRACTICE.wayToLineM),
    lossCoefficient: HOSE_LOSS[USUAL_HOSE.bore],
    weightNPerM: USUAL_HOSE.weightNPerM,
    drag: USUAL_HOSE.drag,
  };
  const slotted = isSlotted(pipe);
  const limits = pressureLimits(pipe);
  const held = heldPressure(limits, slotted, machine, hose);
  const { leastLengthMm, mostWidthMm } = nozzleFor(boreMm);
  const nozzle = {
    rear: {
      count: PRACTICE.jets,
      // Drills go by twentieths of a millimetre; a wider jet lowers the pressure.
      boreMm: Math.ceil(20 * jetBoreMm(held.flowLps, PRACTICE.jets, DRILLED_JETS, held.nozzleKpa)) / 20,
      angleFromAxisDeg: PRACTICE.angleFromAxisDeg,
    },
    front: null,
    coefficient: DRILLED_JETS,
    diameterMm: mostWidthMm,
    rigidLengthMm: leastLengthMm,
  };
  const nozzleKpa = nozzlePressureKpa(nozzle, held.flowLps);
  const pumpKpa = nozzleKpa + hoseLossKpa(held.flowLps, hose.lengthM, hose.lossCoefficient);
  const run = { occlusion: line.occlusion, residue: USUAL_RESIDUE, deposit: line.deposit };
  const planned = planJet({
    ...run,
    pipe: { ...pipe, boreMm, lengthM, bends: [] },
    machine: { pressureKpa: pumpKpa, flowLps: held.flowLps },
    hose,
    nozzle,
  });
  const { reachM, findings } = planned.ok ? planned.plan : unmoved(planned.faults);
  // The whole line is to be cleaned, from the other end too where one end does not reach.
  const work = jetWork({ ...run, runM: lengthM, boreMm, flowLps: held.flowLps }, MOST_PASSES);
  const overflow = overflowOf(line.pit, work.jetMinutes, held.flowLps, means.assumedFreeVolumeL, assumed);
  return {
    limits,
    pumpKpa: figures(pumpKpa),
    nozzleKpa: figures(nozzleKpa),
    flowLps: figures(held.flowLps),
    nozzle: {
      jets: nozzle.rear.count,
      jetBoreMm: nozzle.rear.boreMm,
      angleFromAxisDeg: nozzle.rear.angleFromAxisDeg,
      leastLengthMm: figures(leastLengthMm),
      mostWidthMm: figures(mostWidthMm),
    },
    passes: work.passes,
    inMps: work.inMps,
    outMps: work.outMps,
    jetMinutes: figures(work.jetMinutes),
    waterL: figures(work.waterL),
    sludgeL: figures(work.sludgeL),
    reachM: figures(reachM),
    overflow: overflow.plan,
    machine: machine?.name ?? null,
    assumed,
    findings: [...findings, ...overflow.findings],
  };
}

/** A machine so weak, or a hose so long, that the nozzle drags nothing: the order says so, and its crew brings another. */
function unmoved(faults: readonly Finding[]): { reachM: number; findings: readonly Finding[] } {
  if (faults.some(({ code }) => code !== 'no-pull'))
    throw new RangeError(`a jet plan against its own rules: ${JSON.stringify(faults)}`);
  return { reachM: 0, findings: faults };
}

/** A number to be read, not reckoned with. */
const figures = (value: number): number => Number(value.toPrecision(4));

function unknownOf(line: JettedLine): string[] {
  const facts: [string, boolean][] = [
    ['length', line.lengthM === null],
    ['bore', line.boreMm === null],
    ['material', line.walls.length === 0 || line.walls.some(({ material }) => material === 'unknown')],
    ['condition', line.walls.length === 0 || line.walls.some(({ condition }) => condition === 'unknown')],
    ['perforated', line.perforated === null],
    ['occlusion', line.unseen],
    ['deposit', line.deposit === 'unknown'],
    ['bends', true],
    ['nozzle', true],
  ];
  return facts.flatMap(([name, unknown]) => (unknown ? [name] : []));
}

/** Its weakest section; a pumped discharge holds pressure, so nobody need say that it has no slots. */
function pipeOf({ kind, walls, perforated }: JettedLine): JettedPipe {
  const slots = perforated ?? (kind === 'sump_discharge' ? false : null);
  const pipes = walls.map((wall) => ({ ...wall, perforated: slots }));
  const weakest = (pipe: JettedPipe) => Math.min(...pressureLimits(pipe).map(({ kpa }) => kpa));
  return pipes.reduce<JettedPipe>(
    (least, pipe) => (weakest(pipe) < weakest(least) ? pipe : least),
    pipes[0] ?? { material: 'unknown', condition: 'unknown', perforated: slots },
  );
}

/** Counted as slotted unless somebody knows better, as the limit counts it. */
const isSlotted = ({ perforated }: JettedPipe): boolean => perforated ?? true;

/**
 * The firm's machine that suits a line best: its hose long enough, its flow enough for slots, then the one that takes
 * the least water. Without figures a machine tells nothing; null: none has any.
 */
export function machineFor(
  line: Pick<JettedLine, 'kind' | 'lengthM' | 'boreMm' | 'walls' | 'perforated'>,
  machines: readonly JetMachine[],
): JetMachine | null {
  const known = machines.filter(({ pressureKpa, flowLps }) => pressureKpa !== null || flowLps !== null);
  const { lengthM } = usualRun(line);
  const leastLps = isSlotted(pipeOf({ ...NO_FACTS, ...line })) ? FIELD_DRAIN_LEAST_LPS : 0;
  const short = ({ reachM }: JetMachine) => (reachM !== null && reachM < lengthM ? 1 : 0);
  const lacking = ({ flowLps }: JetMachine) => Math.max(0, leastLps - (flowLps ?? 0));
  const [best] = [...known].sort(
    (a, b) =>
      short(a) - short(b) ||
      lacking(a) - lacking(b) ||
      (a.flowLps ?? Number.POSITIVE_INFINITY) - (b.flowLps ?? Number.POSITIVE_INFINITY) ||
      (a.name < b.name ? -1 : 1),
  );
  return best ?? null;
}

const NO_FACTS = { occlusion: 0, deposit: 'unknown', unseen: true, pit: null } as const;

/** The pressure at the nozzle that keeps every limit and that the machine gives through its hose, and the flow. */
function heldPressure(
  limits: readonly PressureLimit[],
  slotted: boolean,
  machine: JetMachine | null,
  hose: Hose,
): { nozzleKpa: number; flowLps: number } {
  const least = (place: 'pump' | 'nozzle') =>
    Math.min(...limits.filter(({ at }) => at === place).map(({ kpa }) => kpa));
  const pumpKpa = Math.min(least('pump'), PRACTICE.usualPumpKpa, machine?.pressureKpa ?? Infinity);
  const wantedLps = machine?.flowLps ?? (slotted ? FIELD_DRAIN_LEAST_LPS : PRACTICE.flowLps);
  const lossKpa = hoseLossKpa(wantedLps, hose.lengthM, hose.lossCoefficient);
  const mostLossKpa = PRACTICE.hoseShare * pumpKpa;
  // The loss goes with the square of the flow.
  const flowLps = lossKpa <= mostLossKpa ? wantedLps : wantedLps * Math.sqrt(mostLossKpa / lossKpa);
  const usualKpa = slotted ? FIELD_DRAIN_KPA.usualTo : Number.POSITIVE_INFINITY;
  const throughHoseKpa = pumpKpa - Math.min(lossKpa, mostLossKpa);
  return { nozzleKpa: Math.min(throughHoseKpa, least('nozzle'), usualKpa), flowLps };
}

function overflowOf(
  pit: ReceivingPit | null,
  minutesNeeded: number,
  jetLps: number,
  assumedFreeVolumeL: number,
  assumed: string[],
): { plan: OrderJet['overflow']; findings: Finding[] } {
  if (pit === null) return { plan: null, findings: [] };
  const freeVolumeL = freeVolume(pit, assumedFreeVolumeL, assumed);
  if (pit.inflowLps === null) assumed.push('pit_inflow');
  const inflowLps = pit.inflowLps ?? PRACTICE.inflowLps;
  const { minutes, takeOutLps, needed } = pitOverflow({
    freeVolumeL,
    jetLps,
    inflowLps,
    takenOutLps: 0,
    minutesNeeded,
  });
  return {
    plan: {
      freeVolumeL: figures(freeVolumeL),
      inflowLps: figures(inflowLps),
      minutes: minutes === null ? null : figures(minutes),
      minutesNeeded: figures(minutesNeeded),
      takeOutLps: figures(takeOutLps),
    },
    findings: needed === null ? [] : [needed],
  };
}

/** Room above the water once the pump has run for the last time. */
function freeVolume(pit: ReceivingPit, assumedFreeVolumeL: number, assumed: string[]): number {
  const { diameterMm, depthMm, floatOnMm } = pit;
  if (diameterMm === null || depthMm === null) {
    assumed.push('pit_free_volume');
    return assumedFreeVolumeL;
  }
  if (floatOnMm === null) assumed.push('pit_water_level');
  const waterMm = floatOnMm ?? PRACTICE.waterShare * depthMm;
  return litresPerMm(diameterMm) * Math.max(0, depthMm - waterMm);
}
