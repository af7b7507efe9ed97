import type { PipeChanges } from '../hydraulics/pipes.js';
import { TASK_MINUTES } from '../jetting/siteMinutes.js';
import type { LineKind, Material, TaskKind } from '../words.js';
import { newPipe, trenchDepthM, trenchOf } from './digPipe.js';
import type { DepthOf } from './tracedRun.js';
import { TRENCH } from './trenchRules.js';

/** What a dig-up works on; metres from the line's upstream end, null where nobody traced it yet. */
export interface DigJob {
  lineId: string;
  pitId: string | null;
  kind: LineKind;
  /** The owner's pipe table, where it differs. */
  pipes: PipeChanges;
  fromM: number | null;
  toM: number | null;
  /** Length of the line, where the ends are not known. */
  lengthM: number | null;
  depthM: number | null;
  /** To what the depth was measured; null: nobody said. */
  depthOf: DepthOf | null;
  boreMm: number | null;
  /** Whether the old line takes water in by its walls. */
  perforated: boolean | null;
}

export interface DigQuantities {
  fromM: number | null;
  toM: number | null;
  runM: number;
  /** Of the pipe as it was traced, and to what of it. */
  depthM: number;
  depthOf: DepthOf;
  /** Of the hole: with the pipe and the bedding below what was traced. */
  trenchDepthM: number;
  /** What keeps its walls up; null: shallower than a rule asks for, the competent person decides. */
  wallsHeld: string | null;
  /** Pipe that goes in, 5 % over. */
  pipeM: number;
  newMaterial: Material;
  newProduct: string;
  newNominal: string;
  newBoreMm: number;
  trenchWidthM: number;
  /** Where it is sloped and not shored. */
  trenchTopWidthM: number;
  trenchM3: number;
  beddingUnderM: number;
  stoneAboveM: number;
  stoneM3: number;
  /** Of a pipe that takes water in; null: solid pipe. */
  holes: string | null;
  stone: string | null;
  wrap: string | null;
  assumed: string[];
  sources: string[];
}

export interface DigPart {
  tasks: { kind: TaskKind; lineId: string | null; pitId: string | null; part: number; plan: object }[];
  /** Days after the part before it, at least. */
  afterDays: number;
  waitsFor: ('locate_ticket' | 'quote_accepted' | 'parts' | 'discharge_plan')[];
  cause: 'plugged' | 'follow_up';
  because: string;
}

/** Common practice, no source, unless a line says otherwise. */
const PRACTICE = {
  /** Trench a crew opens, replaces and makes safe in a day. */
  metresPerDay: 8,
  assumedRunM: 6,
  assumedDepthM: 1.2,
  pipeOver: 1.05,
} as const;

/** What a dig takes, by the kind of line, its depth and the pipe table; what was assumed is said, with the sources. */
export function digQuantities(job: Omit<DigJob, 'lineId' | 'pitId'>): DigQuantities {
  const assumed: string[] = [];
  const known = job.fromM !== null && job.toM !== null ? job.toM - job.fromM : null;
  if (known === null) assumed.push('from_to');
  if (job.depthM === null) assumed.push('depth');
  const runM = known ?? Math.min(job.lengthM ?? PRACTICE.assumedRunM, PRACTICE.assumedRunM);
  const depthM = job.depthM ?? PRACTICE.assumedDepthM;
  const pipe = newPipe(job.kind, job.boreMm, job.pipes, job.perforated);
  if (pipe.assumed) assumed.push('bore');
  if (job.depthM !== null && job.depthOf === null) assumed.push('depth_of');
  const depthOf = job.depthOf ?? 'crown';
  const bottomM = trenchDepthM(job.kind, depthM, depthOf, pipe.outsideM);
  const trench = trenchOf(job.kind, runM, bottomM, pipe.outsideM);
  return {
    fromM: job.fromM,
    toM: job.toM,
    runM,
    depthM,
    depthOf,
    trenchDepthM: bottomM,
    wallsHeld: bottomM >= TRENCH.protectFromM ? 'from 5 ft on shored, shielded or sloped 1.5 to 1' : null,
    pipeM: runM * PRACTICE.pipeOver,
    newMaterial: pipe.material,
    newProduct: pipe.product,
    newNominal: pipe.nominal,
    newBoreMm: pipe.boreMm,
    trenchWidthM: trench.widthM,
    trenchTopWidthM: trench.topWidthM,
    trenchM3: trench.trenchM3,
    beddingUnderM: trench.beddingUnderM,
    stoneAboveM: trench.stoneAboveM,
    stoneM3: trench.stoneM3,
    holes: pipe.drains?.holes ?? null,
    stone: pipe.drains?.stone ?? null,
    wrap: pipe.drains?.wrap ?? null,
    assumed,
    sources: [pipe.source, ...(pipe.drains ? [pipe.drains.source] : []), ...trench.sources],
  };
}

/** Minutes of a dig of so many metres in one order: a day's for each day it takes. */
export const digMinutes = (runM: number): number =>
  Math.ceil(TASK_MINUTES.dig_and_replace * Math.max(1, runM / PRACTICE.metresPerDay));

/**
 * The dig in linked parts, a day each, the last one with flow proven before backfill and the temporary pump taken
 * out; then restoration once the fill has settled.
 *
 * @param settleDays Days from backfill to restoration.
 */
export function digParts(job: DigJob, settleDays: number, because: string): DigPart[] {
  const quantities = digQuantities(job);
  const count = Math.max(1, Math.ceil(quantities.runM / PRACTICE.metresPerDay));
  const runM = quantities.runM / count;
  const parts: DigPart[] = [];
  for (let i = 0; i < count; i++) {
    const isLast = i === count - 1;
    const fromM = job.fromM === null ? null : job.fromM + i * runM;
    const plan = {
      ...digQuantities({ ...job, fromM, toM: fromM === null ? null : fromM + runM, lengthM: runM }),
      part: i + 1,
      parts: count,
      ...(isLast ? { beforeBackfill: 'flow proven, or looked at with the camera' } : {}),
    };
    parts.push({
      tasks: [
        { kind: 'dig_and_replace', lineId: job.lineId, pitId: null, part: i + 1, plan },
        ...(isLast
          ? [
              {
                kind: 'inspect' as const,
                lineId: job.lineId,
                pitId: null,
                part: 1,
                plan: { beforeBackfill: true },
              },
            ]
          : []),
        ...(isLast && job.pitId !== null
          ? [
              {
                kind: 'test_pump' as const,
                lineId: null,
                pitId: job.pitId,
                part: 1,
                plan: { temporaryPump: 'remove', cycleTheFloat: true },
              },
            ]
          : []),
      ],
      afterDays: 1,
      waitsFor: i === 0 ? ['quote_accepted', 'locate_ticket', 'parts', 'discharge_plan'] : ['locate_ticket'],
      cause: 'follow_up',
      because: count === 1 ? because : `${because}, part ${i + 1} of ${count}`,
    });
  }
  parts.push({
    tasks: [{ kind: 'restore', lineId: job.lineId, pitId: null, part: 1, plan: { settledFill: true } }],
    afterDays: settleDays,
    waitsFor: [],
    cause: 'follow_up',
    because: 'settled fill, lawn and paving after the dig',
  });
  return parts;
}

/** Which part of how many a dig is; neither where it is dug in one. */
export interface PartOfDig {
  part?: number;
  parts?: number;
}

/** Whether a task closes the trench over its line: a dig does with its last part, whoever made it. */
export const closesTrench = (kind: TaskKind, { part, parts }: PartOfDig): boolean =>
  kind === 'dig_and_replace' && (part === undefined || parts === undefined || part >= parts);
