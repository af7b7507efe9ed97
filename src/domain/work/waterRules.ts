import type { DrainsTo, Outlet, TaskKind, WaterReceiver } from '../words.js';

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

const WORD = /\p{Script=Han}|\p{L}{2,}/gu;

/** Whether words name a permit or leave in writing: a number of it, or at least two words. */
export function isReference(words: string | null): boolean {
  const signs = (words ?? '').match(/[\p{L}\p{N}]/gu) ?? [];
  return (/\p{N}/u.test(words ?? '') && signs.length >= 2) || ((words ?? '').match(WORD) ?? []).length >= 2;
}

/** A drain or water named in words; not a street, yard or works that is called after one. */
const DRAIN_OR_WATER =
  /\b(storm ?(?:water )?(?:drain|sewer|inlet)|catch ?basin|gutter|kerb|curb|creek|ditch|pond|river|(?<!waste )stream|lake|sanitary sewer)s?\b(?! ?(?:road|rd|street|st|lane|ln|avenue|ave|drive|way|yard|works|plant|depot|farm|landfill|facility|station|site)\b)/i;
/** "away from the creek" says where it does not go. */
const NOT_THERE = /\b(?:not|never|no|away from|far from|instead of|off)\b/i;

/** The drain or water that sludge would go to by its words; null: none is named. */
export const sludgeInto = (sludgeTo: string | null): string | null =>
  sludgeTo === null || NOT_THERE.test(sludgeTo) ? null : (DRAIN_OR_WATER.exec(sludgeTo)?.[0] ?? null);

/** What was let go, or is to be. */
export interface LetGo {
  receiver: WaterReceiver;
  permitRef: string | null;
  sludgeTo: string | null;
}

/** Why water or sludge may not go there without a reference in writing; empty: it may. */
export function letGoFaults({ receiver, permitRef, sludgeTo }: LetGo): {
  field: 'permitRef' | 'sludgeTo';
  detail: string;
  remedy: string;
}[] {
  if (isReference(permitRef)) return [];
  const reference = referenceFor(receiver);
  const into = sludgeInto(sludgeTo);
  const given = (permitRef ?? '').trim();
  return [
    ...(reference === null
      ? []
      : [
          {
            field: 'permitRef' as const,
            detail:
              given === ''
                ? `${receiver} takes no water without a reference`
                : `"${given}" is no reference: ${receiver} takes no water without one`,
            remedy: `${reference}, its number or who gave it and when; or catch the water`,
          },
        ]),
    ...(into === null
      ? []
      : [
          {
            field: 'sludgeTo' as const,
            detail: `sludge goes into no ${into} without a reference in permitRef`,
            remedy: 'a place that accepts it, such as the depot; or the permit that allows it',
          },
        ]),
  ];
}

/** A visit that jets or flushes lets water out: somebody or something takes it. */
export const takesNone = (receiver: WaterReceiver, tasks: readonly TaskKind[]): boolean =>
  receiver === 'none' && tasks.some((task) => task === 'jet' || task === 'hose_flush');

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
  if (isSensitive(outlet)) return isReference(permitRef) ? null : 'decide';
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
  referenceFor(receiver) === null || isReference(permitRef);
