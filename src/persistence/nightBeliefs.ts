import type { PoolClient } from 'pg';
import { BELIEVED_OF_HISTORY, believedColumn } from '../actions/night/believedColumns.js';
import type { OldTrend } from '../actions/night/dateLines.js';
import type { LineState } from '../actions/night/lineState.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import { type CopyValue, copyIn, copyOut } from './copy.js';

/** What the night kept of each line. */
export async function lineStates(
  client: PoolClient,
  lineIds?: readonly string[],
): Promise<Map<string, LineState>> {
  const some = lineIds
    ? ` WHERE line_id = ANY (${client.escapeLiteral(`{${lineIds.join(',')}}`)}::uuid[])`
    : '';
  const states = new Map<string, LineState>();
  await copyOut(
    client,
    `SELECT line_id, fit_id, evidence_hash, encode(state, 'hex') FROM line_state${some}`,
    (row) => {
      const bytes = Buffer.from(row.text(3) ?? '', 'hex');
      states.set(row.text(0) ?? '', {
        fitId: row.word(1) ?? '',
        digest: row.text(2) ?? '',
        numbers: doublesOf(bytes),
      });
    },
  );
  return states;
}

function doublesOf(bytes: Buffer): Float64Array {
  const numbers = new Float64Array(bytes.length >> 3);
  for (let k = 0; k < numbers.length; k++) numbers[k] = bytes.readDoubleLE(8 * k);
  return numbers;
}

const STATE_COLUMNS = ['line_id', 'fit_id', 'evidence_hash', 'state'];

export async function putLineStates(
  client: PoolClient,
  states: readonly (LineState & { lineId: string })[],
  all: boolean,
): Promise<void> {
  const rows = states.map(({ lineId, fitId, digest, numbers }): CopyValue[] => [
    lineId,
    fitId,
    digest,
    bytesOf(numbers),
  ]);
  if (all) {
    await client.query('DELETE FROM line_state');
    await copyIn(client, 'line_state', STATE_COLUMNS, rows);
    return;
  }
  await client.query('CREATE TEMP TABLE night_state (LIKE line_state) ON COMMIT DROP');
  await client.query('ALTER TABLE night_state ALTER updated_at SET DEFAULT now()');
  await copyIn(client, 'night_state', STATE_COLUMNS, rows, 'pg_temp');
  await client.query(
    `INSERT INTO line_state SELECT * FROM night_state
     ON CONFLICT (line_id) DO UPDATE SET fit_id = excluded.fit_id, evidence_hash = excluded.evidence_hash, state = excluded.state, updated_at = now()`,
  );
}

function bytesOf(numbers: Float64Array): Buffer {
  const bytes = Buffer.alloc(8 * numbers.length);
  numbers.forEach((value, k) => {
    bytes.writeDoubleLE(value, 8 * k);
  });
  return bytes;
}

export async function oldTrends(client: PoolClient): Promise<Map<string, OldTrend>> {
  const trends = new Map<string, OldTrend>();
  await copyOut(
    client,
    'SELECT line_id, as_of, fit_id, engine_version, evidence_hash, policy_hash, due_on, due_set_on FROM trend',
    (row) => {
      trends.set(row.text(0) ?? '', {
        asOf: row.word(1) ?? '',
        fitId: row.word(2) ?? '',
        engineVersion: row.word(3) ?? '',
        evidenceHash: row.text(4) ?? '',
        policyHash: row.word(5) ?? '',
        dueOn: row.word(6),
        dueSetOn: row.word(7),
      });
    },
  );
  return trends;
}

/** Columns of a trend that its history keeps, beside line and day. */
const KEPT = [
  'fit_id',
  'engine_version',
  'evidence_hash',
  'because',
  'occlusion',
  'occlusion_sd',
  'rate_per_month',
  'action_limit',
  'plug_limit',
  'action_q10_on',
  'action_q50_on',
  'action_q90_on',
  'plug_q50_on',
  'readings_used',
  'due_on',
  'due_rule',
  'action_chances',
];

/** Last values of a row that only the history takes. */
const HISTORY_ONLY = [...BELIEVED_OF_HISTORY.map(believedColumn), 'action_chances', 'because'];

/** Replaces the lines' trends; those with a reason, the last value of a row, go into the history as well. */
export async function putTrends(
  client: PoolClient,
  day: IsoDate,
  columns: readonly string[],
  trends: readonly (readonly unknown[])[],
): Promise<number> {
  const rows = trends as CopyValue[][];
  await client.query('DELETE FROM trend WHERE line_id = ANY ($1::uuid[])', [
    rows.map((row) => row[columns.indexOf('line_id')]),
  ]);
  await copyIn(
    client,
    'trend',
    columns.slice(0, -HISTORY_ONLY.length),
    rows.map((row) => row.slice(0, -HISTORY_ONLY.length)),
  );
  const kept = rows.filter((row) => row.at(-1) !== null);
  if (kept.length === 0) return 0;
  await client.query('SELECT make_trend_history_partition($1)', [day]);
  const names = ['line_id', 'as_of', ...KEPT];
  const places = names.map((name) => {
    const believed = columns.indexOf(believedColumn(name));
    return believed < 0 ? columns.indexOf(name) : believed;
  });
  await client.query(
    'CREATE TEMP TABLE IF NOT EXISTS night_kept (LIKE trend_history INCLUDING DEFAULTS) ON COMMIT DROP',
  );
  await client.query('TRUNCATE night_kept');
  await copyIn(
    client,
    'night_kept',
    names,
    kept.map((row) => places.map((place) => row[place])),
    'pg_temp',
  );
  await client.query(
    `INSERT INTO trend_history (${names}) SELECT ${names} FROM night_kept
     ON CONFLICT (line_id, as_of) DO UPDATE SET ${KEPT.map((column) => `${column} = excluded.${column}`)}`,
  );
  return kept.length;
}
