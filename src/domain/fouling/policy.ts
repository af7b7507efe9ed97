import type { Basement, Deposit, LineKind } from '../words.js';
import type { OwnerSettings } from '../work/settings.js';
import type { LineCosts } from './costCycle.js';

/** What is known of ochre at a line: it decides the first interval and whether deposit hardens. */
export type Ochre = 'known' | 'unknown' | 'none_seen';

/** What floods when a line plugs; `wholeSystem` when all that drains through the line is counted. */
export interface Consequence {
  basement: Basement;
  wholeSystem: boolean;
}

export interface PolicyLine {
  kind: LineKind;
  underSlab: boolean;
  /** Limits set for this line, by the owner or by hydraulics; null takes the default of its kind. */
  actionLimit: number | null;
  plugLimit: number | null;
}

/** The line's two limits. Hydraulics may lower the action limit; it never lies above the plug limit. */
export function limitsOf(line: PolicyLine, { limits }: Pick<OwnerSettings, 'limits'>) {
  const byKind = limits.action[line.kind];
  const usual = line.underSlab ? Math.min(byKind, limits.actionUnderSlab) : byKind;
  const plug = line.plugLimit ?? limits.plug;
  return { action: Math.min(line.actionLimit ?? usual, plug), plug };
}

/**
 * Of each line, the kinds of all lines whose water runs through it.
 * @param lines `belowId`: the line its water runs into next, itself or through a pit; null at an outlet.
 * @throws {RangeError} When the water runs in a circle.
 */
export function upstreamKinds(
  lines: readonly { id: string; kind: LineKind; belowId: string | null }[],
): Map<string, LineKind[]> {
  const below = new Map(lines.map(({ id, belowId }) => [id, belowId]));
  const upstream = new Map<string, LineKind[]>();
  for (const { id, kind } of lines) {
    let at = below.get(id) ?? null;
    for (let steps = 0; at !== null; steps++) {
      if (steps > lines.length) throw new RangeError(`the water of line ${id} runs in a circle`);
      const held = upstream.get(at);
      if (held) held.push(kind);
      else upstream.set(at, [kind]);
      at = below.get(at) ?? null;
    }
  }
  return upstream;
}

/**
 * What floods when the line plugs: a yard drain only ponds; any other line reaches the house. A discharge, or
 * any line others drain into, stops everything upstream, so the worst of them counts.
 *
 * @param upstream Kinds of all lines that drain through this one.
 */
export function plugConsequence(
  kind: LineKind,
  upstream: readonly LineKind[],
  siteBasement: Basement,
): Consequence {
  const wholeSystem = upstream.length > 0;
  const kinds = kind === 'sump_discharge' && wholeSystem ? upstream : [kind, ...upstream];
  const ponds = kinds.every((each) => each === 'yard_drain');
  return { basement: ponds ? 'none' : siteBasement, wholeSystem };
}

/** What floods when the worst line of a system plugs: it stops as much as one that all the others drain through. */
export function systemConsequence(kinds: readonly LineKind[], siteBasement: Basement): Consequence {
  const feeding = kinds.filter((kind) => kind !== 'sump_discharge');
  return plugConsequence('sump_discharge', feeding, siteBasement);
}

/**
 * What is known of ochre, from the site's water and from what came out of the line.
 * @param deposits What its visits saw; `none` is a sight of no deposit, `unknown` is no sight.
 */
export function ochreAt(
  ferrousIronMgL: number | null,
  deposits: readonly Deposit[],
  { firstIntervals }: Pick<OwnerSettings, 'firstIntervals'>,
): Ochre {
  if (deposits.some((deposit) => deposit === 'gel' || deposit === 'crust')) return 'known';
  if (ferrousIronMgL !== null && ferrousIronMgL >= firstIntervals.ochreIronMgL) return 'known';
  const looked = deposits.some((deposit) => deposit !== 'unknown');
  return ferrousIronMgL !== null || looked ? 'none_seen' : 'unknown';
}

const DAYS_PER_MONTH = 365.25 / 12;

/** Days a deposit stays soft; null where there is no ochre. Where nobody knows whether the line stays wet, it dries out. */
export function softDaysOf(
  ochre: Ochre,
  staysWet: boolean | null,
  { hardening }: Pick<OwnerSettings, 'hardening'>,
): number | null {
  if (ochre !== 'known') return null;
  const months = staysWet === true ? hardening.softMonthsWet : hardening.softMonthsDry;
  return Math.round(months * DAYS_PER_MONTH);
}

/** A line's costs in visits. */
export function lineCosts({ costs }: Pick<OwnerSettings, 'costs'>, softDays: number | null): LineCosts {
  return {
    visit: 1,
    event: costs.plugVisits,
    pastDearLimit: costs.pastActionVisits,
    hardenedPerDay: costs.hardenedVisitsPerYear / 365.25,
    softDays,
  };
}
