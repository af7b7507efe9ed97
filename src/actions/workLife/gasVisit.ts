import type { DangerKind } from '../../domain/words.js';
import { endsVisit } from '../../domain/work/dangers.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { AttemptEnd } from './attemptEnd.js';
import { countAgain } from './urgentPitWork.js';

const GAS_WORDS = { gas_smell: 'smell of gas', gas_meter: 'the gas meter alarms', hard_stop: 'hard stop' };

/** How gas ends a visit: everybody is out, and nobody asks after pump, flow or water. */
export function gasEnd(danger: { kind: DangerKind; metAt: string; note: string | null }): AttemptEnd {
  const what = `${GAS_WORDS[danger.kind]}: left at once, pump and kit as they were`;
  return {
    endedAt: danger.metAt,
    result: 'not_done',
    reason: 'gas',
    refusal: null,
    pumpRestored: null,
    flowProven: null,
    waterWentTo: null,
    water: null,
    note: danger.note === null ? what : `${what}. ${danger.note}`,
    tasks: [],
    replaced: [],
  };
}

/** The end that gas put to a visit whose start is heard of only now: the first met that day after it; null: none. */
export async function gasAfterStart(
  house: House,
  stores: Stores,
  orderId: string,
  startedAt: string,
): Promise<AttemptEnd | null> {
  const day = house.zone.dayOf(new Date(startedAt));
  const met = await stores.rows.all(
    'danger',
    [
      { column: 'work_order_id', is: '=', value: orderId },
      { column: 'met_at', is: '>=', value: startedAt },
    ],
    'met_at',
  );
  const gas = met.find(
    ({ kind, met_at: at }) => endsVisit(kind as DangerKind) && house.zone.dayOf(new Date(String(at))) === day,
  );
  if (gas === undefined) return null;
  const note = gas['note'] === null ? null : String(gas['note']);
  return gasEnd({ kind: gas['kind'] as DangerKind, metAt: String(gas['met_at']), note });
}

/** The last visit of an order begun by that moment, where gas had ended it by then; null: none such. */
export async function gasVisitBefore(stores: Stores, orderId: string, at: string): Promise<Row | null> {
  const attempts = await stores.rows.all(
    'attempt',
    [
      { column: 'work_order_id', is: '=', value: orderId },
      { column: 'started_at', is: '<=', value: at },
    ],
    'started_at',
  );
  const last = attempts.at(-1);
  if (last === undefined || last['ended_at'] === null || last['reason'] !== 'gas') return null;
  return Date.parse(String(last['ended_at'])) <= Date.parse(at) ? last : null;
}

/**
 * Gas was met before the moment that ended the last visit of an order: the visit ended then. What others were told of
 * its end stays as it was told.
 */
export async function endVisitSooner(
  stores: Stores,
  orderId: string,
  end: Pick<AttemptEnd, 'endedAt' | 'note'>,
): Promise<void> {
  const visit = await gasVisitAt(stores, orderId, end.endedAt);
  if (visit === null || Date.parse(visit.endedAt) <= Date.parse(end.endedAt)) return;
  const [attempt] = await stores.rows.all('attempt', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'ended_at', is: '=', value: visit.endedAt },
  ]);
  if (attempt === undefined || Date.parse(String(attempt['started_at'])) > Date.parse(end.endedAt)) return;
  await stores.rows.update('attempt', String(attempt['id']), { ended_at: end.endedAt, note: end.note });
  const raised = { column: 'returns_for_id', value: orderId } as const;
  await countAgain(stores, raised, { heardAs: visit.endedAt, at: end.endedAt });
}

/** So long after gas a crew still says of the visit what it did: outside, of what it had to leave. */
const SAID_AFTER_MS = 3_600_000;

/** Whether what is said of that moment is said of a visit that ended then. */
export const isSaidOf = ({ ended_at: end, reason }: Row, at: string): boolean =>
  end === null || Date.parse(String(end)) + (reason === 'gas' ? SAID_AFTER_MS : 0) >= Date.parse(at);

/**
 * The last visit of an order, where gas ended it and it went on at that moment or had ended within the hour: what is
 * heard of it late is kept as if it had come before the gas.
 *
 * @returns Its start and end, and the end of the visit before; null: none such.
 */
export async function gasVisitAt(
  stores: Stores,
  orderId: string,
  at: string,
): Promise<{ startedAt: string; endedAt: string; since: string | null } | null> {
  const attempts = await stores.rows.all(
    'attempt',
    [{ column: 'work_order_id', is: '=', value: orderId }],
    'started_at',
  );
  const last = attempts.at(-1);
  if (last === undefined || last['ended_at'] === null || last['reason'] !== 'gas') return null;
  const endedAt = String(last['ended_at']);
  const before = attempts.at(-2)?.['ended_at'] ?? null;
  const since = before === null ? null : String(before);
  const moment = Date.parse(at);
  const isWithin = isSaidOf(last, at) && (since === null || moment > Date.parse(since));
  return isWithin ? { startedAt: String(last['started_at']), endedAt, since } : null;
}

/** Whether a precondition came from gas met at that moment or later: nothing stood in the way of work begun before. */
export function aroseAfter(precondition: Row, at: string): boolean {
  const { since } = precondition['facts'] as { since?: string };
  return since !== undefined && Date.parse(since) >= Date.parse(at);
}
