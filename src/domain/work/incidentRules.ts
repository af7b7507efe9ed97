import type { Consequence, IncidentKind } from '../words.js';

/** Who is told of an incident, and within how many hours; 0: at once. */
export interface Telling {
  who: string;
  withinHours: number;
  source: string;
}

/** The card that goes to hospital with whoever a jet touched. */
export const JET_INJURY_CARD =
  'HIGH-PRESSURE WATER INJECTION. A small wound over deep damage and infection: a surgical emergency. Tell: pressure, water and deposit, when.';

/**
 * Kinds whose words the law asks to be kept; what only nearly happened, or broke a thing, it does not (common practice, no
 * source: local law governs).
 */
export const isKeptByLaw = (kind: IncidentKind): boolean => kind !== 'near_miss' && kind !== 'damage';

const COMMON = 'common practice, no source';
const OWNER: Telling = { who: 'owner of the business', withinHours: 1, source: COMMON };
const CLIENT: Telling = { who: 'client', withinHours: 24, source: COMMON };
const INSURER: Telling = { who: 'insurer', withinHours: 72, source: COMMON };
/** US; 29 CFR 1904.39, from memory, unverified: state plans differ. */
const OSHA_SOURCE = '29 CFR 1904.39 (from memory, unverified); state plans differ';

const BY_KIND: Record<IncidentKind, readonly Telling[]> = {
  injury: [OWNER, INSURER],
  jet_injury: [
    {
      who: 'emergency service: hospital at once, with the card',
      withinHours: 0,
      source: 'Rodriguez-Villar et al., 2019',
    },
    {
      who: 'authority for work safety: an injected jet is treated in hospital',
      withinHours: 24,
      source: OSHA_SOURCE,
    },
    OWNER,
    INSURER,
  ],
  near_miss: [{ ...OWNER, withinHours: 24 }],
  utility_strike: [
    {
      who: 'emergency service (911) where gas or power may escape, from a distance; nobody goes back in',
      withinHours: 0,
      source: '49 U.S.C. 60114(d) (from memory, unverified); state one-call law: local law governs',
    },
    {
      who: 'owner of the utility',
      withinHours: 0,
      source: 'state one-call law; common practice, no source for the hour',
    },
    {
      who: 'one-call centre',
      withinHours: 0,
      source: 'state one-call law; common practice, no source for the hour',
    },
    OWNER,
    CLIENT,
    INSURER,
  ],
  gas: [
    { who: 'emergency service, from a distance; nobody goes back in', withinHours: 0, source: COMMON },
    { who: 'gas utility', withinHours: 0, source: COMMON },
    OWNER,
    CLIENT,
  ],
  discharge: [
    {
      who: 'authority for the water or the storm drain',
      withinHours: 24,
      source: 'the permit says; common practice, no source for the hour',
    },
    OWNER,
    CLIENT,
  ],
  damage: [CLIENT, { ...OWNER, withinHours: 24 }, INSURER],
  flood_after_visit: [OWNER, CLIENT, INSURER],
};

/** Who must be told of an incident by when; a death or a stay in hospital adds the authority for work safety. */
export function tellings(kind: IncidentKind, consequence: Consequence): Telling[] {
  const work: Telling[] =
    consequence === 'death'
      ? [{ who: 'authority for work safety', withinHours: 8, source: OSHA_SOURCE }]
      : consequence === 'hospital' || consequence === 'amputation_or_eye'
        ? [{ who: 'authority for work safety', withinHours: 24, source: OSHA_SOURCE }]
        : [];
  const known =
    work.length > 0 ? BY_KIND[kind].filter(({ source }) => source !== OSHA_SOURCE) : BY_KIND[kind];
  return [...known, ...work].sort((a, b) => a.withinHours - b.withinHours);
}
