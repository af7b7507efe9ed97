import type { PreconditionKind, TaskKind } from '../words.js';

/** Tasks that open the ground. */
const DIGS: readonly TaskKind[] = ['dig_and_replace', 'add_cleanout', 'replace_outlet'];
const NEEDS_PARTS: readonly TaskKind[] = [
  'dig_and_replace',
  'add_cleanout',
  'replace_outlet',
  'fit_alarm',
  'fit_pump',
];
/** Lets water out of the line or round it: where it goes is planned, whatever the outlet. */
const LETS_OUT: readonly TaskKind[] = ['dig_and_replace', 'temporary_pump'];

/** A restoration fills up and rakes; with an excavator on the truck it opens the ground as a dig does. */
export const opensGround = (tasks: readonly TaskKind[], kit: readonly string[] = []): boolean =>
  tasks.some((task) => DIGS.includes(task)) || kit.includes('excavator');

export interface VisitFacts {
  tasks: readonly TaskKind[];
  kit: readonly string[];
  /** `quote` and `time_and_material` need the client's yes; care terms are a yes. */
  priceBasis: string;
  /** Early visits the care terms or the site allow without asking. */
  standingConsent: boolean;
  /** The visit was not signed up for: found on site, or asked for by us. */
  beyondTerms: boolean;
  /** The house is in its builder's warranty: notice before anything is opened. */
  builderNotice: boolean;
  /** Water is flushed to a storm drain, water or sewer without a reference, or nobody knows where to. */
  endAsks: boolean;
}

/**
 * What must be true before a crew goes. Common practice, no source; the ticket is law everywhere in the US.
 * That somebody must be home keeps nothing back: a plan finds the day first, then the client is told it
 * (`somebodyMustAgree`); only after a visit in vain the next one waits for a word (`notDone`).
 */
export function preconditionsOf(visit: VisitFacts): PreconditionKind[] {
  const kinds: PreconditionKind[] = [];
  const digs = opensGround(visit.tasks);
  if (opensGround(visit.tasks, visit.kit)) kinds.push('locate_ticket');
  if (digs || visit.priceBasis === 'quote') kinds.push('quote_accepted');
  else if (visit.beyondTerms && !visit.standingConsent) kinds.push('consent');
  if (visit.endAsks || visit.tasks.some((task) => LETS_OUT.includes(task))) kinds.push('discharge_plan');
  if (visit.builderNotice && digs) kinds.push('builder_notice');
  if (visit.tasks.some((task) => NEEDS_PARTS.includes(task))) kinds.push('parts');
  return kinds;
}

/** Tasks that begin inside the house. */
const INSIDE: readonly TaskKind[] = [
  'survey',
  'inspect',
  'test_pump',
  'clear_pit',
  'temporary_pump',
  'hose_flush',
  'jet',
  'cable',
  'fit_alarm',
  'fit_pump',
];

/** The client must be told the day before a crew goes. Common practice, no source. */
export const somebodyMustAgree = (access: string, tasks: readonly TaskKind[]): boolean =>
  access === 'someone_home' && tasks.some((task) => INSIDE.includes(task));

/** What a quote must say before it counts as accepted. */
const QUOTE_FACTS = ['lines', 'notToExceedMinor', 'acceptedBy', 'acceptedAt'] as const;

/** What a waiver says: why, and who answers for it. */
export const WAIVER_FACTS = ['because', 'waivedBy'] as const;

/** What is met only by an operation of its own, and which. */
export const MET_ELSEWHERE: Partial<Record<PreconditionKind, string>> = {
  locate_ticket:
    'call the one-call centre (POST /v1/work-orders/{id}/locate-tickets), then say what came back (POST /v1/locate-tickets/{id}/news)',
  discharge_plan: 'plan where the water goes: POST /v1/work-orders/{id}/discharge-plan',
};

const NEEDED: Record<PreconditionKind, readonly string[]> = {
  locate_ticket: [],
  consent: ['by', 'at'],
  quote_accepted: QUOTE_FACTS,
  discharge_plan: [],
  someone_home: ['who', 'day'],
  parts: [],
  builder_notice: ['toldTo', 'toldAt'],
  made_safe: ['by', 'at'],
};

/** Facts a precondition must hold to be met; what is missing, by name. */
export function missingFacts(kind: PreconditionKind, facts: Record<string, unknown>): string[] {
  return NEEDED[kind].filter(
    (name) => facts[name] === undefined || facts[name] === null || facts[name] === '',
  );
}

const isName = (value: unknown): boolean => typeof value === 'string' && value.trim() !== '';
const WITH_ZONE = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}.*(Z|[+-]\d{2}:?\d{2})$/;
const isInstant = (value: unknown): boolean =>
  typeof value === 'string' && WITH_ZONE.test(value) && !Number.isNaN(Date.parse(value));
const isDay = (value: unknown): boolean =>
  typeof value === 'string' && /^\d{4}-\d{2}-\d{2}$/.test(value) && !Number.isNaN(Date.parse(value));
const INSTANT = { is: isInstant, right: 'an instant such as 2026-06-04T18:00:00Z' };
const NAME = { is: isName, right: 'words or a name' };

/** How a fact is written, by its name. */
const WRITTEN: Record<string, { is: (value: unknown) => boolean; right: string }> = {
  lines: NAME,
  notToExceedMinor: {
    is: (value) => Number.isSafeInteger(value) && Number(value) >= 0,
    right: 'a whole number of the minor unit, zero or more',
  },
  acceptedBy: NAME,
  acceptedAt: INSTANT,
  by: NAME,
  at: INSTANT,
  who: NAME,
  day: { is: isDay, right: 'a day such as 2026-06-04' },
  toldTo: NAME,
  toldAt: INSTANT,
};

/** Facts a precondition must hold that are not written as they should be. */
export const wrongFacts = (
  kind: PreconditionKind,
  facts: Record<string, unknown>,
): { name: string; right: string }[] =>
  NEEDED[kind].flatMap((name) => {
    const written = WRITTEN[name];
    return written === undefined || written.is(facts[name]) ? [] : [{ name, right: written.right }];
  });
