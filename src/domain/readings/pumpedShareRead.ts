import type { DischargeLine } from '../hydraulics/dischargeLine.js';
import { occlusionOfPumpedShare } from '../hydraulics/operatingPoint.js';
import { pressureC, roughnessOf } from '../hydraulics/pipes.js';
import { type PumpCurve, powerCurve, pumpCurve } from '../hydraulics/pumpCurve.js';
import type { OcclusionNote, PartRead, ReadingFacts } from './reading.js';

/**
 * Taken where nobody knows: a generic third-horsepower pump (22 ft at no flow, 36 gpm at 10 ft) on 60 ft of
 * 1-1/2 in plastic, 9 ft up, with a check valve and three elbows. Common practice, no source.
 */
const ASSUMED = { boreMm: 40.4, lengthM: 18.3, liftM: 2.74 };
const ASSUMED_PUMP = powerCurve(6.7056, 0.709, 2);
const FITTINGS = { swing_check: 1, elbow_90: 3 };
/** How the coat lies (all round, or thicker below) leaves so much open, whatever was read. */
const SHAPE_ERROR = 0.03;
/** An assumed C may be off by this share either way (common practice, no source). */
const ASSUMED_C_SHARE = 0.15;
/** With a fact assumed the flow says less of the bore (common practice, no source). */
const ASSUMED_ERROR = 0.08;

/**
 * Occlusion from what a pump moves over what the same pump moved after the line's last clean.
 *
 * The pump pushes harder as the line narrows, so little shows until about a fifth of the width is gone: the error
 * is read off the curve itself, wide near a share of one, narrow below.
 */
export function pumpedShareRead(share: number, shareError: number, facts: ReadingFacts): PartRead {
  const { line, pump, c, notes } = pumpAndLine(facts);
  const blocked = (left: number, through = line) =>
    occlusionOfPumpedShare(pump, through, Math.max(0.01, left)) ?? 0;
  const occlusion = blocked(share);
  const above = blocked(share - shareError) - occlusion;
  const below = occlusion - blocked(share + shareError);
  // At a share of one there is nothing below; what may hide is all above.
  const spread = share + shareError >= 1 ? above : (above + below) / 2;
  const assumed = notes.some(({ code }) => code === 'facts-assumed') ? ASSUMED_ERROR : 0;
  const walls = c.assumed
    ? [1 - ASSUMED_C_SHARE, 1 + ASSUMED_C_SHARE].map((by) => blocked(share, walled(line, c.c * by)))
    : [occlusion];
  const wall = (Math.max(...walls) - Math.min(...walls)) / 2;
  return { occlusion, standardError: Math.hypot(spread, SHAPE_ERROR, assumed, wall), bound: 'exact', notes };
}

const walled = (line: DischargeLine, c: number): DischargeLine => ({
  ...line,
  friction: { law: 'hazen_williams', c },
});

interface PumpAndLine {
  pump: PumpCurve;
  line: DischargeLine;
  c: { c: number; assumed: boolean };
  notes: OcclusionNote[];
}

function pumpAndLine(facts: ReadingFacts): PumpAndLine {
  const points = facts.pumpCurve ?? [];
  const pump = points.length > 0 ? pumpCurve(points) : ASSUMED_PUMP;
  const boreMm = facts.boreMm ?? ASSUMED.boreMm;
  const lengthM = facts.lengthM ?? ASSUMED.lengthM;
  const liftM = Math.min(facts.liftM ?? ASSUMED.liftM, 0.8 * pump.shutOffM);
  const usual = roughnessOf(null, facts.material);
  const isGiven = facts.manningN != null || facts.hazenWilliamsC != null;
  const c = pressureC(isGiven ? { n: facts.manningN ?? usual.n, c: facts.hazenWilliamsC ?? null } : usual);
  const friction = { law: 'hazen_williams', c: c.c } as const;
  const line: DischargeLine = { boreMm, lengthM, liftM, friction, fittings: FITTINGS };
  const known =
    points.length > 0 && boreMm === facts.boreMm && lengthM === facts.lengthM && liftM === facts.liftM;
  const text = `pump curve, bore (${boreMm} mm), length (${lengthM} m) or lift (${liftM.toFixed(1)} m) was assumed`;
  const notes: OcclusionNote[] = known
    ? []
    : [{ code: 'facts-assumed', facts: { boreMm, lengthM, liftM }, text }];
  if (c.assumed)
    notes.push({
      code: 'roughness-assumed',
      facts: { hazenWilliamsC: c.c },
      text: `Hazen-Williams C ${c.c} was assumed: of the material, within ${100 * ASSUMED_C_SHARE} %`,
    });
  return { pump, line, c, notes };
}
