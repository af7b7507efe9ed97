import type { DrainsTo, Outlet, WaterReceiver } from '../words.js';

/** Receivers that take water only with a reference in writing; US: CWA 301, 402; 40 CFR 122.26(b)(2). */
const NEEDS_REFERENCE: Record<WaterReceiver, string | null> = {
  storm_drain: 'the permit or leave of who owns the storm drain',
  water_body: 'the permit of the authority for the water',
  sanitary_sewer: 'the leave of who owns the sewer',
  own_ground: null,
  caught: null,
  none: null,
};

/** What reference a receiver asks for; null: none. */
export const referenceFor = (receiver: WaterReceiver): string | null => NEEDS_REFERENCE[receiver];

/** Where flushed water ends when it follows the line to its outlet. */
const BY_OUTLET: Record<Outlet, WaterReceiver> = {
  daylight: 'own_ground',
  pop_up: 'own_ground',
  dry_well: 'own_ground',
  creek: 'water_body',
  ditch: 'water_body',
  pond: 'water_body',
  kerb: 'storm_drain',
  storm_sewer: 'storm_drain',
  sanitary_sewer: 'sanitary_sewer',
  unknown: 'caught',
};

/** Where flushing toward an outlet would send the water; an unknown outlet's water is caught. */
export const receiverOf = (outlet: Outlet): WaterReceiver => BY_OUTLET[outlet];

export const isSensitive = (outlet: Outlet): boolean => referenceFor(receiverOf(outlet)) !== null;

/** Receivers a firm may let flushed water go to without asking each time. */
export const STANDING_RECEIVERS = ['own_ground', 'caught'] as const satisfies readonly WaterReceiver[];
export type StandingReceiver = (typeof STANDING_RECEIVERS)[number];

/** Where a line ends, as far as its outlet matters. */
export interface LineEnd {
  drainsTo: DrainsTo;
  outlet: Outlet;
  permitRef: string | null;
}

/**
 * What the end of a line asks for before anything is flushed toward it: `decide` where its water goes, `find` the
 * outlet nobody knows, or nothing.
 */
export function askedOfEnd({ drainsTo, outlet, permitRef }: LineEnd): 'decide' | 'find' | null {
  if (isSensitive(outlet)) return permitRef === null ? 'decide' : null;
  const endsElsewhere = drainsTo === 'pit' || drainsTo === 'line';
  return outlet === 'unknown' && !endsElsewhere ? 'find' : null;
}

/** What must be decided before a visit flushes toward an outlet. */
export function dischargeQuestion(outlet: Outlet): string {
  const reference = referenceFor(receiverOf(outlet));
  const into = reference === null ? 'let go there' : `let go there with ${reference}`;
  return `where flushed water and sludge go: caught and taken away, or ${into}`;
}

/** A plan that may be kept for the next visit of the same system: what it needs a reference for has one. */
export const planHolds = (receiver: WaterReceiver, permitRef: string | null): boolean =>
  referenceFor(receiver) === null || (permitRef ?? '').trim() !== '';
