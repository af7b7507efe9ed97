import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type {
  DecisionKind,
  Method,
  PlugCause,
  ProposalKind,
  TaskKind,
  WaterReceiver,
} from '../../domain/words.js';
import type { ClientDecision, ClientDeclined, ClientReading, ClientWater } from '../../papers/clientWords.js';
import type { House } from '../house.js';
import type { Condition, Row } from '../ports.js';

/** Rows in force, as clients are told of them. */
export const is = (column: string, value: unknown): Condition => ({ column, is: '=', value });
export const isIn = (column: string, value: readonly unknown[]): Condition => ({ column, is: 'in', value });
/** Readings nobody took back or replaced. */
export const IN_FORCE: readonly Condition[] = [
  { column: 'withdrawn_at', is: 'null' },
  { column: 'replaced_at', is: 'null' },
];

export const dayOf = (house: House, at: unknown): IsoDate => house.zone.dayOf(new Date(String(at)));

/** Readings by their id that a client is not told as they are: doubted and looked into, or dismissed. */
export async function doubtsOf(
  house: House,
  lineIds: readonly unknown[],
): Promise<ReadonlyMap<unknown, 'open' | 'dismissed'>> {
  const reviews = await house.stores.rows.all(
    'reading_review',
    [isIn('line_id', lineIds), isIn('verdict', ['open', 'dismissed'])],
    'inspection_id',
  );
  return new Map(reviews.map((row) => [row['inspection_id'], row['verdict'] as 'open' | 'dismissed']));
}

/** @param toldOn Day on which the client was told of it: corrections that came later are said. */
export function readingOf(
  house: House,
  row: Row | null,
  doubts: ReadonlyMap<unknown, 'open' | 'dismissed'>,
  toldOn: IsoDate,
): ClientReading | null {
  if (row === null) return null;
  const doubt = doubts.get(row['id']);
  const receivedOn = dayOf(house, row['received_at']);
  return {
    // That it was plugged the crew saw; in doubt is whether deposit did it.
    isDoubted: doubt === 'open' && row['plugged'] !== true,
    isTakenBack: doubt === 'dismissed' || row['withdrawn_at'] !== null,
    correctedOn: row['replaces_id'] !== null && receivedOn > toldOn ? receivedOn : null,
    on: dayOf(house, row['observed_at']),
    occlusion: row['occlusion'] as number | null,
    plugged: row['plugged'] === true ? ((row['plug_cause'] ?? 'unknown') as PlugCause) : null,
    method: row['method'] as Method | null,
  };
}

export const waterOf = (row: Row): ClientWater => ({
  receiver: row['receiver'] as WaterReceiver,
  place: row['place'] as string | null,
  reference: row['permit_ref'] as string | null,
  waterLitres: row['water_l'] as number | null,
  sludgeLitres: row['sludge_l'] as number | null,
  sludgeTo: row['sludge_to'] as string | null,
});

export const decisionOf = (row: Row, lineNames: ReadonlyMap<unknown, string>): ClientDecision => ({
  kind: row['kind'] as DecisionKind,
  task: row['task'] as TaskKind | null,
  lines: (row['line_ids'] as string[]).map((id) => lineNames.get(id) ?? 'a line'),
  by: String(row['decided_by']),
  on: String(row['decided_on']),
  until: row['until_day'] as IsoDate | null,
  riskTold: String(row['risk_told']),
});

/** Proposals the client declined between two days, both included; `from` null: at any time before. */
export async function declinedProposals(
  house: House,
  siteId: unknown,
  lineNames: ReadonlyMap<unknown, string>,
  { from, to }: { from: IsoDate | null; to: IsoDate },
): Promise<ClientDeclined[]> {
  const declined = await house.stores.rows.all(
    'proposal',
    [is('site_id', siteId), is('state', 'declined')],
    'answered_on',
  );
  return declined
    .filter(
      (row) => String(row['answered_on']) <= to && (from === null || String(row['answered_on']) >= from),
    )
    .map((row) => ({
      kind: row['kind'] as ProposalKind,
      target: row['line_id'] === null ? 'the pit' : (lineNames.get(row['line_id']) ?? 'a line'),
      by: String(row['answered_by']),
      on: String(row['answered_on']),
      because: row['answer_because'] as string | null,
      evidence: (row['evidence'] as { text: string }[]).map(({ text }) => text),
    }));
}

/** The last value of a list's order that fits. */
export const lastOf = <T>(all: readonly T[], fits: (each: T) => boolean): T | null =>
  all.filter(fits).at(-1) ?? null;
