import type { PumpPoint } from '../hydraulics/pumpCurve.js';
import type { Bound, CameBack, Deposit, LineKind, Material, Method, PlugCause } from '../words.js';

/** Five words or pictures a crew picks from when it will not measure. */
export const OCCLUSION_WORDS = ['clear', 'light', 'half', 'heavy', 'nearly_full'] as const;
export type OcclusionWord = (typeof OCCLUSION_WORDS)[number];

/** A reading as it was read, in plain SI numbers; exactly what its method takes is set. Stored for ever. */
export interface Reading {
  method: Method;
  /** Share of the bore's area blocked, given as such: by eye, or from a book that holds nothing else. */
  share?: number;
  /** Nothing gets through, and why. */
  plugged?: PlugCause;
  /** Depth of the deposit at one point. */
  depthMm?: number;
  volumeL?: number;
  /** Mean of the timings. */
  seconds?: number;
  timings?: number;
  flowLps?: number;
  backsUp?: boolean;
  riseMmPerMinute?: number;
  /** Negative when the water still rises with the pump on. */
  fallMmPerMinute?: number;
  passes?: number;
  cameBack?: CameBack;
  /** Distance from the entry at which the nozzle went no further. */
  nozzleStoppedAtM?: number;
  word?: OcclusionWord;
}

/** The same after its fields were checked: one shape for each thing one can read. */
export type CheckedReading =
  | { form: 'share'; method: Method; share: number }
  | { form: 'plugged'; cause: PlugCause }
  | { form: 'depth'; depthMm: number }
  | { form: 'timed_fill'; volumeL: number; seconds: number; timings: number }
  | { form: 'poured_flow'; flowLps: number; backsUp: boolean }
  | { form: 'drawdown'; riseMmPerMinute: number; fallMmPerMinute: number }
  | { form: 'passes'; passes: number; cameBack: CameBack | null }
  | { form: 'nozzle_stopped'; atM: number }
  | { form: 'came_back'; cameBack: CameBack }
  | { form: 'word'; word: OcclusionWord; cameBack: CameBack | null };

/** What is known of the line read; null or absent is unknown: it is assumed, said so, and the error widened. */
export interface ReadingFacts {
  kind: LineKind;
  material: Material;
  boreMm: number | null;
  /** Fall over length. */
  slope: number | null;
  /** What the same pump moved after the line's last clean, mm of pit a minute with the inflow added back. */
  cleanDrawdownMmPerMinute: number | null;
  /** What came out of a discharge with the same pump after the line's last clean. */
  cleanFlowLps?: number | null;
  lengthM?: number | null;
  /** Manning's n and Hazen-Williams C of the clean wall, where its make is known. */
  manningN?: number | null;
  hazenWilliamsC?: number | null;
  /** Height the pump lifts the water. */
  liftM?: number | null;
  pumpCurve?: readonly PumpPoint[] | null;
  deposit?: Deposit;
}

export interface OcclusionNote {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}

/** A refusal: where in the reading, what stood there, what is wrong with it, what would be right. */
export interface ReadingFault {
  pointer: string;
  value: unknown;
  detail: string;
  remedy: string;
}

/** What a formula makes of a reading. */
export interface PartRead {
  /** Share of the bore's area blocked, 0 to 1. */
  occlusion: number;
  standardError: number;
  /** `at_most`: the line carries at least this. `at_least`: that much is there, perhaps more. */
  bound: Bound;
  notes: OcclusionNote[];
}

/** Share of the bore's area blocked, as a reading tells it. */
export interface OcclusionRead extends PartRead {
  ok: true;
  /** What the reading says of fouling: 1; a half for a plug of unknown cause; 0 for ice, roots and the like. */
  foulingWeight: number;
  conversionVersion: number;
}

export type Occlusion = OcclusionRead | { ok: false; faults: ReadingFault[] };
