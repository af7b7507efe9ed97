import type { PoolClient } from 'pg';
import { to as copyTo } from 'pg-copy-streams';
import type { LineFacts } from '../actions/night/lineEvidence.js';
import {
  EVENT_KINDS,
  EVENT_WORDS,
  emptyEvents,
  eventDay,
  NONE,
  type PackedEvents,
} from '../actions/night/nightEvents.js';
import type { BookedLine } from '../actions/night/nightStore.js';
import type { BusinessZone } from '../domain/calendar/businessZone.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { Basement, LineKind, Material } from '../domain/words.js';
import { type CopyRow, copyOut } from './copy.js';

/** Readings in force and not dismissed; cleans and changes of regime in force. */
const READINGS = (before: string, joined = '') =>
  `FROM inspection i LEFT JOIN reading_review r ON r.inspection_id = i.id ${joined}
    WHERE i.line_id IS NOT NULL AND i.replaced_at IS NULL AND i.withdrawn_at IS NULL AND i.observed_at < ${before} AND coalesce(r.verdict, 'open') <> 'dismissed'`;
/** Visits that the line's own trouble brought about. */
export const CALLED = "LEFT JOIN work_order o ON o.id = i.work_order_id AND o.cause IN ('call', 'plugged')";
/** A clean after which water was seen not to run left nobody knows what: the line is as it was (common practice, no source). */
export const CLEANED = "c.withdrawn_at IS NULL AND c.flow_proven IS DISTINCT FROM 'no'";
const CLEANS = (before: string) =>
  `FROM clean c WHERE c.line_id IS NOT NULL AND ${CLEANED} AND c.cleaned_at < ${before}`;
const REGIMES = (before: string) => `FROM regime_change g WHERE g.changed_on::timestamptz < ${before}`;
/** New pipe in part of a line is a clean too; other told changes leave lie what lies there. Midday stands for its hour. */
export const CLEANED_BY_CHANGE = "g.changed_on::timestamptz + interval '17 hours'";
export const CHANGED_AND_CLEANED = "g.cause = 'partial_replacement'";

const FIRST_NIGHT = '(SELECT min(business_day) FROM nightly_run)';
/** From here on roads on record were closed to all cleaning. */
const ROADS_CLOSED = `(SELECT min(from_day) FROM closed_season WHERE withdrawn_at IS NULL AND depot_id IS NULL AND tasks @> '{hose_flush,jet}')`;
/** From here on this service set the visits, or closed roads did. */
const FIRST_SET = `least(${FIRST_NIGHT}, ${ROADS_CLOSED})`;
/** Days from which a promise or a client's word set the visits of a site, or of the lines named. */
const TOLD_VISITS = `(
  SELECT site_id, line_ids, from_day AS day FROM care_terms WHERE interval_days IS NOT NULL OR visits_per_year IS NOT NULL
  UNION ALL
  SELECT site_id, line_ids, decided_on FROM decision WHERE task IS NULL OR task IN ('hose_flush', 'jet'))`;
const TOLD_OF_LINE = "t.site_id = l.site_id AND (t.line_ids = '{}' OR l.id = ANY (t.line_ids))";

/** Of line `l`: from here on its visits were not the old owner's free choice, and tell nothing of how fast it fouls. */
export const VISITS_SET_FROM = `least(${FIRST_SET}, (SELECT min(t.day) FROM ${TOLD_VISITS} t WHERE ${TOLD_OF_LINE}))`;

/**
 * The mark changes with any row the estimate reads: its hash takes in id and version. Of the day from which visits were set it
 * holds what was entered for the time before the first night, not that night itself.
 */
export async function bookedLines(client: PoolClient, day: IsoDate, before: string): Promise<BookedLine[]> {
  const [today, until] = [client.escapeLiteral(day), `${client.escapeLiteral(before)}::timestamptz`];
  const setBefore = `least(${ROADS_CLOSED}, told.day)`;
  const booked: BookedLine[] = [];
  await copyOut(
    client,
    `SELECT l.id, l.site_id, l.kind, l.main_material, s.basement, s.area, l.main_bore_mm, coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l),
            l.under_slab, l.stays_wet, l.action_limit, l.plug_limit, p.id IS NOT NULL, coalesce(p.id, l.drains_to_pit_id), l.drains_to_line_id,
            e.id, e.started_on, e.begins, e.because, least(${FIRST_SET}, told.day), coalesce(i.n, 0),
            concat(hashtextextended(ROW(l.site_id, l.kind, l.main_material, l.main_bore_mm, l.ferrous_iron_mg_l, s.ferrous_iron_mg_l, l.action_limit,
                     l.plug_limit, l.under_slab, l.stays_wet, s.area, s.basement, e.id, e.started_on, e.begins, e.because, CASE WHEN ${setBefore} < coalesce(${FIRST_NIGHT}, ${today}) THEN ${setBefore} END)::text, 0),
                   ' ', i.mark, ' ', c.mark, ' ', g.mark), l.created_at::date
       FROM line l
       JOIN site s ON s.id = l.site_id AND s.archived_on IS NULL
       LEFT JOIN LATERAL (SELECT id, started_on, begins, because FROM epoch WHERE line_id = l.id AND started_on <= ${today} ORDER BY started_on DESC LIMIT 1) e ON true
       LEFT JOIN pit p ON p.discharge_line_id = l.id AND p.archived_on IS NULL
       LEFT JOIN (SELECT i.line_id, count(*) AS n, bit_xor(uuid_hash_extended(i.id, 2 * i.version + CASE r.verdict WHEN 'confirmed' THEN 1 ELSE 0 END)) AS mark ${READINGS(until)} GROUP BY 1) i ON i.line_id = l.id
       LEFT JOIN (SELECT c.line_id, bit_xor(uuid_hash_extended(c.id, c.version)) AS mark ${CLEANS(until)} GROUP BY 1) c ON c.line_id = l.id
       LEFT JOIN (SELECT g.line_id, bit_xor(uuid_hash_extended(g.id, g.version)) AS mark ${REGIMES(until)} GROUP BY 1) g ON g.line_id = l.id
       LEFT JOIN (SELECT l.id, min(t.day) AS day FROM ${TOLD_VISITS} t JOIN line l ON ${TOLD_OF_LINE} GROUP BY 1) told ON told.id = l.id
      WHERE l.archived_on IS NULL
      ORDER BY l.id`,
    (row) => {
      booked.push({ facts: factsOf(row), readings: row.integer(20), digest: row.text(21) ?? '' });
    },
  );
  return booked;
}

function factsOf(row: CopyRow): LineFacts {
  const number = (column: number): number | null => (row.isNull(column) ? null : row.float(column));
  const text = (column: number): string => row.text(column) ?? '';
  const word = (column: number): string => row.word(column) ?? '';
  return {
    lineId: text(0),
    siteId: text(1),
    kind: word(2) as LineKind,
    material: word(3) as Material,
    basement: word(4) as Basement,
    area: word(5),
    boreMm: number(6),
    ironMgL: number(7),
    underSlab: text(8) === 't',
    staysWet: row.isNull(9) ? null : text(9) === 't',
    actionLimit: number(10),
    plugLimit: number(11),
    isDischarge: text(12) === 't',
    pitId: row.text(13),
    drainsToLineId: row.text(14),
    epochId: row.text(15),
    epochStartedOn: row.word(16),
    epochBegins: row.word(17) as LineFacts['epochBegins'],
    epochBecause: row.word(18) as LineFacts['epochBecause'],
    bookedOn: row.word(22),
    ruledFrom: row.word(19),
  };
}

const KINDS_SQL = { reading: 0, clean: 1, regime: 2 } satisfies Record<(typeof EVENT_KINDS)[number], number>;

/** Lines that follow one another in the index are read in one run; scattered ones by their ids. */
const DENSE = 0.5;

/**
 * Events of lines in ascending order of their ids, each line's in order of time: a reading before the clean of its
 * moment, one after cleaning behind it.
 */
export async function eventsOfLines(
  client: PoolClient,
  lineIds: readonly string[],
  before: string,
  zone: BusinessZone,
): Promise<PackedEvents> {
  if (lineIds.length === 0) return emptyEvents(0, 0);
  const until = `${client.escapeLiteral(before)}::timestamptz`;
  const [first = '', last = ''] = [lineIds[0], lineIds.at(-1)];
  const { rows } = await client.query<{ n: number }>(
    'SELECT count(*)::int AS n FROM line WHERE id BETWEEN $1 AND $2',
    [first, last],
  );
  const dense = lineIds.length > DENSE * (rows[0]?.n ?? 0);
  const own = (table: string) =>
    dense
      ? `${table}.line_id BETWEEN ${client.escapeLiteral(first)} AND ${client.escapeLiteral(last)}`
      : `${table}.line_id = ANY (${client.escapeLiteral(`{${lineIds.join(',')}}`)}::uuid[])`;
  const unread = 'NULL::float8, NULL::float8, NULL::text, NULL::text, NULL::text, NULL::text, NULL::text';
  const none = `${unread}, NULL::text`;
  const stream = client.query(
    copyTo(
      `COPY (
         SELECT line_id, kind, confirmed, called, id, at, occlusion, standard_error, bound, method, phase, plug_cause, deposit, change_cause FROM (
           SELECT i.line_id, ${KINDS_SQL.reading}::int2 AS kind, CASE r.verdict WHEN 'confirmed' THEN 1 ELSE 0 END::int2 AS confirmed, CASE WHEN o.id IS NULL THEN 0 ELSE 1 END::int2 AS called, i.id, i.observed_at AS at, i.occlusion, i.standard_error, i.bound, i.method, i.phase, i.plug_cause, i.deposit, NULL::text AS change_cause,
                  CASE i.phase WHEN 'after_cleaning' THEN 2 ELSE 0 END AS turn ${READINGS(until, CALLED)} AND ${own('i')}
           UNION ALL
           SELECT c.line_id, ${KINDS_SQL.clean}::int2, 0::int2, 0::int2, c.id, c.cleaned_at, ${none}, 1 ${CLEANS(until)} AND ${own('c')}
           UNION ALL
           SELECT g.line_id, ${KINDS_SQL.regime}::int2, 0::int2, 0::int2, g.id, g.changed_on::timestamptz, ${unread}, g.cause, 3 ${REGIMES(until)} AND ${own('g')}
           UNION ALL
           SELECT g.line_id, ${KINDS_SQL.clean}::int2, 0::int2, 0::int2, g.id, ${CLEANED_BY_CHANGE}, ${none}, 1 ${REGIMES(until)} AND ${CHANGED_AND_CLEANED} AND ${CLEANED_BY_CHANGE} < ${until} AND ${own('g')}
         ) e ORDER BY line_id, at, turn, id) TO STDOUT (FORMAT binary)`,
    ),
  );
  const chunks: Buffer[] = [];
  for await (const chunk of stream as AsyncIterable<Buffer>) chunks.push(chunk);
  return packed(Buffer.concat(chunks), lineIds, zone);
}

/** Signature, flags and length of the extension. */
const HEADER_BYTES = 19;
/** PostgreSQL counts from 2000. */
const EPOCH_MS = Date.UTC(2000, 0, 1);

const WORD_COLUMNS = ['bound', 'method', 'phase', 'plugCause', 'deposit', 'changeCause'] as const;

/** Words told apart by length and first letter: the place of each in its list. */
const CODES = WORD_COLUMNS.map((name) => {
  const codes = new Uint8Array(1 << 14).fill(NONE);
  EVENT_WORDS[name].forEach((word, code) => {
    const key = wordKey(word.length, word.charCodeAt(0));
    if (codes[key] !== NONE) throw new RangeError(`${word} looks like another ${name}`);
    codes[key] = code;
  });
  return codes;
});

function wordKey(length: number, firstLetter: number): number {
  return ((length & 63) << 8) | firstLetter;
}

/** A row of the query above takes at least so many bytes. */
const LEAST_ROW_BYTES = 2 + 14 * 4 + 16 + 3 * 2 + 16 + 8;

/** Binary COPY rows of the query above, side by side. */
function packed(bytes: Buffer, lineIds: readonly string[], zone: BusinessZone): PackedEvents {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const out = emptyEvents(lineIds.length, Math.floor(bytes.length / LEAST_ROW_BYTES));
  const idBytes = Buffer.from(lineIds.join('').replaceAll('-', ''), 'hex');
  const ids = new DataView(idBytes.buffer, idBytes.byteOffset, idBytes.length);
  let line = 0;
  let n = 0;
  let at = HEADER_BYTES + view.getInt32(HEADER_BYTES - 4);
  while (line < lineIds.length && view.getInt16(at) >= 0) {
    const order = compareIds(ids, 16 * line, view, at + 6);
    // Below 0 the row belongs to a later line.
    if (order < 0) out.first[++line] = n;
    else if (order === 0) at = takeRow(view, at, out, n++, zone);
    else at = afterRow(view, at);
  }
  while (line < lineIds.length) out.first[++line] = n;
  return cutTo(out, n);
}

/** Sign of the order of two ids of 16 bytes. */
function compareIds(a: DataView, atA: number, b: DataView, atB: number): number {
  for (let i = 0; i < 16; i += 4) {
    const away = a.getUint32(atA + i) - b.getUint32(atB + i);
    if (away !== 0) return away;
  }
  return 0;
}

/** Room for more events than there are is given back. */
function cutTo(events: PackedEvents, n: number): PackedEvents {
  const { first, id } = events;
  const cut = Object.entries(events).map(([name, column]) => [name, (column as Uint8Array).slice(0, n)]);
  return { ...Object.fromEntries(cut), first, id: id.slice(0, 16 * n) } as PackedEvents;
}

function afterRow(view: DataView, start: number): number {
  let at = start + 2;
  for (let field = view.getInt16(start); field > 0; field--) at += 4 + Math.max(0, view.getInt32(at));
  return at;
}

/** Returns where the next row begins. */
function takeRow(view: DataView, start: number, out: PackedEvents, n: number, zone: BusinessZone): number {
  let at = start + 2 + 20;
  out.kind[n] = view.getInt16(at + 4);
  out.confirmed[n] = view.getInt16(at + 10);
  out.called[n] = view.getInt16(at + 16);
  at += 22;
  for (let i = 0; i < 16; i++) out.id[16 * n + i] = view.getUint8(at + i);
  at += 16;
  // Microseconds in two halves: exact, for dates keep far below 2^53.
  out.atMs[n] = EPOCH_MS + (view.getInt32(at + 4) * 2 ** 32 + view.getUint32(at + 8)) / 1000;
  out.day[n] = eventDay(EVENT_KINDS[out.kind[n]!]!, out.atMs[n]!, zone);
  at += 12;
  let length = view.getInt32(at);
  if (length > 0) out.occlusion[n] = view.getFloat64(at + 4);
  at += 4 + Math.max(0, length);
  length = view.getInt32(at);
  if (length > 0) out.standardError[n] = view.getFloat64(at + 4);
  at += 4 + Math.max(0, length);
  for (let k = 0; k < WORD_COLUMNS.length; k++) {
    length = view.getInt32(at);
    at += 4;
    if (length < 0) continue;
    out[WORD_COLUMNS[k]!][n] = CODES[k]![wordKey(length, view.getUint8(at))]!;
    at += length;
  }
  return at;
}
