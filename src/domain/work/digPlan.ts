import type { Material, TaskKind } from '../words.js';

/** What a dig-up works on; metres from the line's upstream end, null where nobody traced it yet. */
export interface DigJob {
  lineId: string;
  pitId: string | null;
  fromM: number | null;
  toM: number | null;
  /** Length of the line, where the ends are not known. */
  lengthM: number | null;
  depthM: number | null;
  material: Material;
  boreMm: number | null;
  /** Water still runs in: a temporary pump stays until the line carries again. */
  hasInflow: boolean;
}

export interface DigQuantities {
  fromM: number | null;
  toM: number | null;
  runM: number;
  depthM: number;
  /** Pipe that goes in, 5 % over. */
  pipeM: number;
  newMaterial: Material;
  newBoreMm: number;
  trenchM3: number;
  stoneM3: number;
  assumed: string[];
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
  trenchWidthM: 0.6,
  /** Ochre practice: smooth rigid 100 mm, washed stone 300 mm above and round the pipe (Quebec trade guidance). */
  newMaterial: 'pvc' as Material,
  leastBoreMm: 100,
  stoneDepthM: 0.4,
  pipeOver: 1.05,
} as const;

/** What a dig takes; what was assumed is said. */
export function digQuantities(job: Omit<DigJob, 'hasInflow' | 'lineId' | 'pitId'>): DigQuantities {
  const assumed: string[] = [];
  const known = job.fromM !== null && job.toM !== null ? job.toM - job.fromM : null;
  if (known === null) assumed.push('from_to');
  if (job.depthM === null) assumed.push('depth');
  const runM = known ?? Math.min(job.lengthM ?? PRACTICE.assumedRunM, PRACTICE.assumedRunM);
  const depthM = job.depthM ?? PRACTICE.assumedDepthM;
  return {
    fromM: job.fromM,
    toM: job.toM,
    runM,
    depthM,
    pipeM: runM * PRACTICE.pipeOver,
    newMaterial: PRACTICE.newMaterial,
    newBoreMm: Math.max(PRACTICE.leastBoreMm, job.boreMm ?? 0),
    trenchM3: runM * depthM * PRACTICE.trenchWidthM,
    stoneM3: runM * PRACTICE.stoneDepthM * PRACTICE.trenchWidthM,
    assumed,
  };
}

/**
 * Finding a plug and getting the water round it: traced at once, a temporary pump where water still runs in. The
 * dig itself follows once its place is known and its ticket called.
 */
export function traceFirst(job: Pick<DigJob, 'lineId' | 'pitId' | 'hasInflow'>, because: string): DigPart {
  const pump =
    job.hasInflow && job.pitId !== null
      ? [{ kind: 'temporary_pump' as const, lineId: null, pitId: job.pitId, part: 1, plan: { set: true } }]
      : [];
  return {
    tasks: [...pump, { kind: 'trace', lineId: job.lineId, pitId: null, part: 1, plan: {} }],
    afterDays: 0,
    waitsFor: [],
    cause: 'plugged',
    because,
  };
}

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
