import { bucketFlow } from '../hydraulics/bucketFlow.js';
import { blockedShareOfDepth, blockedShareSlope } from '../hydraulics/segment.js';
import { occlusionOfPasses } from '../jetting/passes.js';
import { shortNumber } from '../units/quantity.js';
import type { Bound, CameBack, Method, PlugCause } from '../words.js';
import { checkedReading } from './checkedReading.js';
import { gravityFlowRead } from './gravityFlowRead.js';
import { pumpedShareRead } from './pumpedShareRead.js';
import type {
  CheckedReading,
  Occlusion,
  OcclusionNote,
  OcclusionWord,
  PartRead,
  Reading,
  ReadingFacts,
} from './reading.js';

export {
  OCCLUSION_WORDS,
  type Occlusion,
  type OcclusionNote,
  type OcclusionRead,
  type OcclusionWord,
  type Reading,
  type ReadingFacts,
  type ReadingFault,
} from './reading.js';

/** Raised whenever a formula changes: occlusion is derived, and derived again. */
export const CONVERSION_VERSION = 3;

/**
 * Standard error of a share given as such, by method. Camera: operators differ by about ten points; looks and
 * the rest: common practice, no source. Priors only: the night estimates them from repeated and paired readings.
 */
export const SHARE_ERROR: Readonly<Record<Method, number>> = {
  camera: 0.08,
  outlet_look: 0.1,
  timed_fill: 0.08,
  outlet_depth: 0.1,
  poured_flow: 0.12,
  pit_drawdown: 0.12,
  passes_to_clear: 0.18,
  by_word: 0.15,
};
/** A look with little to see proves little: deposit may sit upstream of a clean outlet (Ford, CIR671). */
export const LOOK_ERROR_WHEN_CLEAN = 0.16;
export const LOOK_SEES_MUCH = 0.3;
/** Depth at one point is read within a quarter inch either way, two standard errors (common practice). */
const DEPTH_READING_ERROR_MM = 6.35 / 2;
/** One point stands for the worst spot only roughly (common practice, no source). */
const ONE_POINT_ERROR = 0.06;
/** Five words or pictures and what came back. Common practice, no source; measured where a camera looked too. */
const WORDS: Record<OcclusionWord, number> = {
  clear: 0.05,
  light: 0.2,
  half: 0.5,
  heavy: 0.7,
  nearly_full: 0.88,
};
const CAME_BACK: Record<CameBack, number> = { clear: 0.08, tinted: 0.2, slugs: 0.45, thick: 0.65 };
const CAME_BACK_ERROR = 0.22;
const CAME_BACK_SHIFT: Record<CameBack, number> = { clear: -0.1, tinted: -0.03, slugs: 0.05, thick: 0.1 };
/** A deposit that stops a nozzle leaves less than half the bore; a bend or a break may stop it too. */
const STOPPED = { occlusion: 0.6, error: 0.2 };
const NEAR_THE_END_SHARE = 0.97;
/** Nothing gets through: close to the whole bore. */
const PLUGGED = { occlusion: 0.97, error: 0.03 };
const FOULING_WEIGHT: Record<PlugCause, number> = {
  deposit: 1,
  unknown: 0.5,
  ice: 0,
  roots: 0,
  crushed: 0,
  debris: 0,
  buried_outlet: 0,
  animal: 0,
};

/**
 * Occlusion with its standard error, from a reading by any method. Unknown facts of the line are assumed, said in
 * the notes, and widen the error. Faults point to the field of the reading, with what would be right.
 */
export function occlusionOf(reading: Reading, facts: ReadingFacts): Occlusion {
  const checked = checkedReading(reading);
  return checked.ok ? converted(checked.reading, facts) : checked;
}

function converted(reading: CheckedReading, facts: ReadingFacts): Occlusion {
  switch (reading.form) {
    case 'share':
      return read(reading.share, shareError(reading.method, reading.share));
    case 'plugged':
      return {
        ...read(PLUGGED.occlusion, PLUGGED.error, 'at_least'),
        foulingWeight: FOULING_WEIGHT[reading.cause],
      };
    case 'depth':
      return fromDepth(reading.depthMm, facts.boreMm);
    case 'timed_fill': {
      const flow = bucketFlow(reading.volumeL, reading.seconds, reading.timings);
      const pumpedOnce = facts.kind === 'sump_discharge' ? (facts.cleanFlowLps ?? null) : null;
      if (pumpedOnce !== null) {
        return readAs(pumpedShareRead(flow.flowLps / pumpedOnce, Math.SQRT2 * flow.relativeError, facts));
      }
      return readAs(gravityFlowRead(flow.flowLps, flow.relativeError, false, facts));
    }
    case 'poured_flow':
      return readAs(gravityFlowRead(reading.flowLps, POURED_ERROR_SHARE, reading.backsUp, facts));
    case 'drawdown':
      return fromDrawdown(reading.riseMmPerMinute, reading.fallMmPerMinute, facts);
    case 'passes': {
      const shift = reading.cameBack === null ? 0 : CAME_BACK_SHIFT[reading.cameBack];
      const passes = occlusionOfPasses(reading.passes, facts.deposit ?? 'unknown');
      return read(Math.min(0.95, passes + shift), SHARE_ERROR.passes_to_clear);
    }
    case 'nozzle_stopped':
      return fromStopped(reading.atM, facts.lengthM ?? null);
    case 'came_back':
      return read(CAME_BACK[reading.cameBack], CAME_BACK_ERROR);
    case 'word': {
      const shift = reading.cameBack === null ? 0 : CAME_BACK_SHIFT[reading.cameBack] / 2;
      return read(WORDS[reading.word] + shift, SHARE_ERROR.by_word);
    }
    default:
      return reading satisfies never;
  }
}

/** A hose's flow is known from the tap to about a tenth (common practice, no source). */
const POURED_ERROR_SHARE = 0.1;

function read(occlusion: number, standardError: number, bound: Bound = 'exact', notes: OcclusionNote[] = []) {
  return {
    ok: true as const,
    occlusion: Math.min(1, Math.max(0, occlusion)),
    standardError,
    bound,
    foulingWeight: 1,
    conversionVersion: CONVERSION_VERSION,
    notes,
  };
}

const readAs = (part: PartRead): Occlusion =>
  read(part.occlusion, part.standardError, part.bound, part.notes);

function shareError(method: Method, share: number): number {
  if (method !== 'outlet_look' || share >= LOOK_SEES_MUCH) return SHARE_ERROR[method];
  // Much deposit is strong evidence, none is weak: the error narrows as the look sees more.
  return LOOK_ERROR_WHEN_CLEAN + ((SHARE_ERROR.outlet_look - LOOK_ERROR_WHEN_CLEAN) * share) / LOOK_SEES_MUCH;
}

function fromDepth(depthMm: number, boreMm: number | null): Occlusion {
  const refused = (detail: string, remedy: string): Occlusion => ({
    ok: false,
    faults: [{ pointer: '#/reading/depth', value: depthMm, detail, remedy }],
  });
  if (boreMm === null) {
    return refused(
      'the bore of the line is unknown',
      'record the bore of its section first, or give the share',
    );
  }
  if (depthMm > boreMm) {
    return refused(
      `is out of range: ${shortNumber(depthMm)} mm`,
      `no more than the bore, ${Math.round(boreMm)} mm`,
    );
  }
  const depthShare = depthMm / boreMm;
  return read(blockedShareOfDepth(depthShare), Math.hypot(depthError(depthShare, boreMm), ONE_POINT_ERROR));
}

/** Error of the blocked share from the depth's; near bottom and top the segment's width says too little. */
function depthError(depthShare: number, boreMm: number): number {
  return (blockedShareSlope(Math.min(0.95, Math.max(0.05, depthShare))) * DEPTH_READING_ERROR_MM) / boreMm;
}

/** Rise and fall by stopwatch: a tenth each (common practice, no source). */
const LEVEL_ERROR_SHARE = 0.1;

function fromDrawdown(rise: number, fall: number, facts: ReadingFacts): Occlusion {
  const moved = Math.max(0, fall + rise);
  const clean = facts.cleanDrawdownMmPerMinute;
  if (clean === null || !(clean > 0)) {
    const text =
      'no draw-down after a clean to compare with: says next to nothing, but will serve as the reference';
    return read(0.3, 0.3, 'exact', [{ code: 'no-clean-reference', facts: { moved }, text }]);
  }
  const share = moved / clean;
  // Both were timed: the reading, and the clean one it is held against.
  const readError = (LEVEL_ERROR_SHARE * Math.hypot(rise, fall)) / clean;
  return readAs(pumpedShareRead(share, Math.hypot(readError, LEVEL_ERROR_SHARE * share), facts));
}

function fromStopped(atM: number, lengthM: number | null): Occlusion {
  if (lengthM !== null && atM >= NEAR_THE_END_SHARE * lengthM) {
    return {
      ok: false,
      faults: [
        {
          pointer: '#/reading/nozzleStopped',
          value: atM,
          detail: `the line is ${shortNumber(lengthM)} m long: the nozzle reached its end`,
          remedy: 'give the passes it took, or what came back',
        },
      ],
    };
  }
  const text = `the nozzle stopped at ${shortNumber(atM)} m: deposit, a bend or a break`;
  return read(STOPPED.occlusion, STOPPED.error, 'at_least', [
    { code: 'nozzle-stopped', facts: { atM }, text },
  ]);
}
