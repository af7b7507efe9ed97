import {
  blockedShareOfDepth,
  blockedShareSlope,
  depthShareAtCapacity,
  gravityCapacityLeft,
  pressureCapacityLeft,
} from '../hydraulics/segment.js';
import type { Bound, CameBack, LineKind, Material, Method } from '../words.js';

export const OCCLUSION_WORDS = ['clear', 'light', 'half', 'heavy', 'nearly_full'] as const;
export type OcclusionWord = (typeof OCCLUSION_WORDS)[number];

/** Raised whenever a formula below changes: occlusion is derived, and derived again. */
export const CONVERSION_VERSION = 1;

/** A reading in plain numbers; exactly what its method takes is set. */
export interface Reading {
  method: Method;
  /** Share of the bore's area blocked, given as such. */
  share?: number;
  depthMm?: number;
  volumeL?: number;
  seconds?: number;
  flowLps?: number;
  backsUp?: boolean;
  riseMmPerMinute?: number;
  fallMmPerMinute?: number;
  passes?: number;
  cameBack?: CameBack;
  word?: OcclusionWord;
}

/** What is known of the line; null is unknown. */
export interface ReadingFacts {
  kind: LineKind;
  material: Material;
  boreMm: number | null;
  /** Fall over length. */
  slope: number | null;
  /** What the same pump moved after its last clean, mm of pit a minute with the inflow added back. */
  cleanDrawdownMmPerMinute: number | null;
}

export interface OcclusionNote {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}

export type Occlusion =
  | { ok: true; occlusion: number; standardError: number; bound: Bound; notes: OcclusionNote[] }
  | { ok: false; faults: { pointer: string; detail: string; remedy: string }[] };

/**
 * Standard errors by method, share of the bore's area. Camera .08 (operators differ by about ten points,
 * common practice), outlet look .10; priors only: the night estimates them from repeated and paired readings.
 */
const SD = { camera: 0.08, look: 0.1, fill: 0.08, share: 0.12 } as const;
/** A look with little to see proves little: deposit may sit upstream of a clean outlet (Ford, CIR671). */
const LOOK_SD_WHEN_CLEAN = 0.16;
/** Depth at one point is read to about a quarter inch (common practice, no source). */
const DEPTH_READING_SD_MM = 6.35 / 2;
/** One point stands for the worst spot only roughly (common practice, no source). */
const ONE_POINT_SD = 0.06;
/** Five words or pictures: middle of each fifth, error half as wide again (common practice, no source). */
const WORDS: Record<OcclusionWord, number> = {
  clear: 0.05,
  light: 0.2,
  half: 0.5,
  heavy: 0.7,
  nearly_full: 0.88,
};
const WORD_SD = 0.15;
/** One pass clears a light deposit; each further one stands for about .17 more (common practice, no source). */
const FIRST_PASS = 0.2;
const FURTHER_PASS = 0.17;
const PASSES_SD = 0.18;
const CAME_BACK_SHIFT: Record<CameBack, number> = { clear: -0.1, tinted: -0.03, slugs: 0.05, thick: 0.1 };
/** Rise and fall by stopwatch: 10 % each (common practice, no source). */
const DRAWDOWN_RELATIVE_SD = 0.1;
/** A pumped line hides fouling until about a fifth of its width is gone: below that flow tells little. */
const DRAWDOWN_HIDDEN = 0.36;
const MANNING_N: Record<Material, number> = {
  // Winchester IN code table 4; US tables for corrugated, clay and concrete as in the notes beside pipes data.
  pvc: 0.01,
  corrugated_hdpe: 0.018,
  clay: 0.014,
  concrete: 0.013,
  cast_iron: 0.013,
  other: 0.015,
  unknown: 0.015,
};

const clamp = (share: number): number => Math.min(1, Math.max(0, share));

/**
 * Occlusion with its standard error, by method.
 *
 * @returns `bound` says `at_most` where a flow test proves "carries at least this", `at_least` where a look
 *   saw that much but cannot see the rest. Faults name the field of the reading.
 */
export function occlusionOf(reading: Reading, facts: ReadingFacts): Occlusion {
  if (reading.share !== undefined) return fromShare(reading.share, reading.method);
  switch (reading.method) {
    case 'camera':
    case 'outlet_look':
      return missing(
        'share',
        `a reading by ${reading.method} gives the share of the bore that is blocked, 0 to 1`,
      );
    case 'outlet_depth':
      return fromDepth(reading.depthMm, facts.boreMm);
    case 'timed_fill':
      if (reading.volumeL === undefined || reading.seconds === undefined) {
        return missing('volume', 'a timed fill gives volume and seconds (or the share)');
      }
      if (!(reading.volumeL > 0 && reading.seconds > 0))
        return missing('seconds', 'volume and seconds are above zero');
      return fromFlow(reading.volumeL / reading.seconds, false, facts);
    case 'poured_flow':
      if (reading.flowLps === undefined || reading.backsUp === undefined) {
        return missing('flow', 'a poured flow gives the flow and whether it backs up');
      }
      return fromFlow(reading.flowLps, reading.backsUp, facts);
    case 'pit_drawdown':
      return fromDrawdown(reading, facts);
    case 'passes_to_clear':
      return fromPasses(reading);
    case 'by_word':
      if (reading.word === undefined) return missing('word', `say one of ${Object.keys(WORDS).join(', ')}`);
      return exact(WORDS[reading.word], WORD_SD);
    default:
      return reading.method satisfies never;
  }
}

function exact(
  occlusion: number,
  standardError: number,
  bound: Bound = 'exact',
  notes: OcclusionNote[] = [],
): Occlusion {
  return { ok: true, occlusion: clamp(occlusion), standardError, bound, notes };
}

function missing(field: string, remedy: string): Occlusion {
  return {
    ok: false,
    faults: [{ pointer: `#/reading/${field}`, detail: 'is missing or out of range', remedy }],
  };
}

function fromShare(share: number, method: Method): Occlusion {
  if (!(share >= 0 && share <= 1))
    return missing('share', 'a share of the bore, 0 to 1 (percent divided by 100 once)');
  if (method === 'camera') return exact(share, SD.camera);
  if (method === 'timed_fill') return exact(share, SD.fill);
  if (method === 'outlet_look') {
    // Much deposit is strong evidence, none is weak: the error narrows as the look sees more.
    const sd = share >= 0.3 ? SD.look : LOOK_SD_WHEN_CLEAN + ((SD.look - LOOK_SD_WHEN_CLEAN) * share) / 0.3;
    return exact(share, sd);
  }
  return exact(share, SD.share);
}

function fromDepth(depthMm: number | undefined, boreMm: number | null): Occlusion {
  if (depthMm === undefined || depthMm < 0) return missing('depth', 'the depth of the deposit, zero or more');
  if (boreMm === null) {
    return {
      ok: false,
      faults: [
        {
          pointer: '#/reading/depth',
          detail: 'the bore of the line is unknown',
          remedy: 'record the bore of its section first, or give the share',
        },
      ],
    };
  }
  if (depthMm > boreMm) return missing('depth', `no more than the bore, ${Math.round(boreMm)} mm`);
  const depthShare = depthMm / boreMm;
  const readingSd =
    blockedShareSlope(Math.min(0.95, Math.max(0.05, depthShare))) * (DEPTH_READING_SD_MM / boreMm);
  return exact(
    blockedShareOfDepth(depthShare),
    Math.sqrt(readingSd * readingSd + ONE_POINT_SD * ONE_POINT_SD),
  );
}

/** Full-bore Manning flow, L/s (SI): A (D/4)^(2/3) sqrt(S) / n. */
function fullBoreLps(boreMm: number, slope: number, n: number): number {
  const boreM = boreMm / 1000;
  return ((Math.PI * boreM * boreM) / 4) * ((boreM / 4) ** (2 / 3) * (Math.sqrt(slope) / n)) * 1000;
}

function fromFlow(flowLps: number, backsUp: boolean, facts: ReadingFacts): Occlusion {
  if (!(flowLps > 0)) return missing('flow', 'a flow above zero');
  const assumed: OcclusionNote[] = [];
  const boreMm = facts.boreMm ?? 100;
  const slope = facts.slope ?? 0.01;
  if (facts.boreMm === null || facts.slope === null) {
    assumed.push({
      code: 'facts-assumed',
      facts: { boreMm, slope },
      text: `bore ${boreMm} mm and fall ${slope * 100} % were assumed`,
    });
  }
  const left = Math.min(1, flowLps / fullBoreLps(boreMm, slope, MANNING_N[facts.material]));
  const occlusion = blockedShareOfDepth(depthShareAtCapacity(gravityCapacityLeft, left));
  const sd = assumed.length > 0 ? 0.2 : 0.12;
  // Carries at least this much: no more than so much is blocked. Backing up: at least so much is.
  return exact(occlusion, sd, backsUp ? 'at_least' : 'at_most', assumed);
}

function fromDrawdown(reading: Reading, facts: ReadingFacts): Occlusion {
  const { riseMmPerMinute: rise, fallMmPerMinute: fall } = reading;
  if (rise === undefined || rise < 0)
    return missing('rise', 'the rise of the pit with the pump off, mm a minute');
  if (fall === undefined) return missing('fall', 'the fall of the pit with the pump on, mm a minute');
  const moved = Math.max(0, fall + rise);
  if (facts.cleanDrawdownMmPerMinute === null) {
    return exact(0.3, 0.3, 'exact', [
      {
        code: 'no-clean-reference',
        facts: { moved },
        text: 'no draw-down after a clean to compare with: says next to nothing, but will serve as the reference',
      },
    ]);
  }
  const ratio = Math.min(1, moved / facts.cleanDrawdownMmPerMinute);
  const depthShare = depthShareAtCapacity(pressureCapacityLeft, ratio);
  const occlusion = blockedShareOfDepth(depthShare);
  // The pump's curve makes up for a narrower line at first: near the top of the ratio the flow hardly moves.
  const hidden = occlusion < DRAWDOWN_HIDDEN;
  return exact(occlusion, hidden ? 0.18 : 0.06 + DRAWDOWN_RELATIVE_SD, 'exact');
}

function fromPasses({ passes, cameBack }: Reading): Occlusion {
  if (passes === undefined || !Number.isInteger(passes) || passes < 1)
    return missing('passes', 'a whole number from 1');
  const shift = cameBack ? CAME_BACK_SHIFT[cameBack] : 0;
  return exact(Math.min(0.95, FIRST_PASS + FURTHER_PASS * (passes - 1) + shift), PASSES_SD);
}
