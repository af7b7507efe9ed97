import type { IsoDate } from '../calendar/isoDate.js';
import type { PlugCause, TaskKind } from '../words.js';

export type PriceBasis = 'care_terms' | 'quote' | 'time_and_material' | 'warranty' | 'goodwill';

/** What a client signs up for with care terms: looking after a line. Common practice, no source. */
const CARE: readonly TaskKind[] = ['survey', 'inspect', 'hose_flush', 'jet', 'clear_pit', 'test_pump'];

/** Lines of care terms in force; none named: all of the site. */
export interface TermsOfSite {
  lineIds: readonly string[];
}

/** A task with the lines any of which brings it under care terms: its own, or those of its pit's system. */
export interface PricedTask {
  kind: TaskKind;
  lineIds: readonly string[];
}

/** Terms are in force from their first day to their last, both included. */
export const inForce = (
  { fromDay, toDay }: { fromDay: IsoDate; toDay: IsoDate | null },
  today: IsoDate,
): boolean => fromDay <= today && (toDay === null || toDay >= today);

/** Care terms cover care, and of the lines they name: terms of one line cover no other. */
export const covers = (terms: readonly TermsOfSite[], { kind, lineIds }: PricedTask): boolean =>
  CARE.includes(kind) &&
  terms.some((own) => own.lineIds.length === 0 || lineIds.some((id) => own.lineIds.includes(id)));

/** What work is paid by where nobody said: the care terms where they cover all of it, else time and material. */
export const basisByTerms = (
  terms: readonly TermsOfSite[],
  tasks: readonly PricedTask[],
): 'care_terms' | 'time_and_material' =>
  tasks.every((task) => covers(terms, task)) ? 'care_terms' : 'time_and_material';

/**
 * Whether a plug after a clean that proved flow is ours to open: what fouls is what was to be cleaned; a pipe crushed,
 * roots, ice, an animal or a buried outlet came from elsewhere.
 *
 * @param cause Null: it runs, but was cleaned poorly.
 */
export const isWarranty = (cause: PlugCause | null): boolean =>
  cause === null || cause === 'deposit' || cause === 'unknown';
