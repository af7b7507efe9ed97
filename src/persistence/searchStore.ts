import type { SearchAsk, SearchStore } from '../actions/desk/searchStore.js';
import type { Queryable } from './rowStore.js';

/** As the indexes have them. */
const CLIENT_WORDS = `lower(name || ' ' || coalesce(email, ''))`;
const SITE_WORDS = `lower(address || ' ' || town || ' ' || coalesce(postal_code, ''))`;
const PHONE_DIGITS = `regexp_replace(coalesce(phone, ''), '\\D', '', 'g')`;
const EARTH_M = 6_371_000;

/** Distance on the great circle between a site and a point, metres. */
const metresFrom = (lat: string, lon: string): string =>
  `2 * ${EARTH_M} * asin(sqrt(least(1, sin(radians(latitude - ${lat}) / 2) ^ 2 + cos(radians(latitude)) * cos(radians(${lat})) * sin(radians(longitude - ${lon}) / 2) ^ 2)))`;

const escaped = (word: string): string => word.replace(/[\\%_]/g, (ch) => `\\${ch}`);

/** Conditions and scores on one text column, with the parameters they take. */
class Words {
  readonly values: unknown[] = [];
  readonly #whole: string;
  readonly #parts: readonly string[];

  constructor(words: readonly string[]) {
    this.#whole = words.length === 0 ? '' : this.param(words.join(' '));
    this.#parts = words.map((word) => this.param(`%${escaped(word)}%`));
  }

  param(value: unknown): string {
    this.values.push(value);
    return `$${this.values.length}`;
  }

  /** Rows of a table in which all words occur, or nearly the whole, or that meet another condition; each by its own index. */
  match(table: 'client' | 'contact' | 'site', column: string, or = 'false'): string {
    const ways = or === 'false' ? [] : [`SELECT id FROM ${table} WHERE ${or}`];
    if (this.#whole !== '') {
      const all = this.#parts.map((part) => `${column} LIKE ${part}`).join(' AND ');
      ways.push(`SELECT id FROM ${table} WHERE ${all}`, `SELECT ${table}s_nearly(${this.#whole})`);
    }
    return ways.length === 0 ? 'false' : `id IN (${ways.join(' UNION ')})`;
  }

  /** 1: the whole text; .9: it begins so; .8: all words occur; less: nearly. */
  score(column: string): string {
    if (this.#whole === '') return '0';
    const all = this.#parts.map((part) => `${column} LIKE ${part}`).join(' AND ');
    return `CASE WHEN ${column} = ${this.#whole} THEN 1 WHEN starts_with(${column}, ${this.#whole}) THEN 0.9 WHEN ${all} THEN 0.8 ELSE 0.7 * word_similarity(${this.#whole}, ${column}) END`;
  }
}

function searchSql(ask: SearchAsk): { text: string; values: unknown[] } {
  const words = new Words(ask.words);
  const digits = ask.digits === null ? null : words.param(`%${ask.digits}`);
  const within = ask.digits === null ? null : words.param(`%${ask.digits}%`);
  const number = ask.number === null ? null : words.param(ask.number);
  const phone = within === null ? 'false' : `${PHONE_DIGITS} LIKE ${within}`;
  const phoneScore =
    digits === null ? '0' : `CASE WHEN ${PHONE_DIGITS} LIKE ${digits} THEN 0.95 ELSE 0.75 END`;
  const lat = ask.near ? words.param(ask.near.latitude) : null;
  const lon = ask.near ? words.param(ask.near.longitude) : null;
  const metres = lat && lon ? metresFrom(`${lat}::float8`, `${lon}::float8`) : 'NULL::float8';
  const limit = words.param(ask.limit);
  const person = (table: 'client' | 'contact', more: string) => `
    SELECT id, name, phone, email, ${more},
           greatest(${words.score(CLIENT_WORDS)}, CASE WHEN ${phone} THEN ${phoneScore} ELSE 0 END)::float8 AS score,
           CASE WHEN ${phone} THEN 'phone' ELSE 'name' END AS matched
      FROM ${table} WHERE ${words.match(table, CLIENT_WORDS, phone)} AND archived_on IS NULL ORDER BY score DESC, name, id LIMIT ${limit}`;
  // Nearest in degrees by the index; the farthest of them on the globe bounds what may be nearer still.
  const nearest =
    lat && lon
      ? `UNION ALL
    SELECT s.id, 1 / (1 + d.metres / 1000), 'near' FROM site s
     CROSS JOIN LATERAL (SELECT ${metres.replaceAll('latitude', 's.latitude').replaceAll('longitude', 's.longitude')} AS metres) d
     WHERE s.archived_on IS NULL AND s.latitude IS NOT NULL AND ${ask.words.length === 0 && !digits}
       AND point(s.longitude, s.latitude) <@ (SELECT box(point(${lon} - r / cos(radians(least(89, abs(${lat}::float8) + r))), ${lat} - r), point(${lon} + r / cos(radians(least(89, abs(${lat}::float8) + r))), ${lat} + r)) FROM reach)
     ORDER BY 2 DESC, 1 LIMIT ${limit}`
      : '';
  const text = `
  WITH ${
    lat && lon
      ? `reach AS (SELECT coalesce(max(${metres}), 0) / 111000 + 0.001 AS r
                     FROM (SELECT latitude, longitude FROM site WHERE latitude IS NOT NULL ORDER BY point(longitude, latitude) <-> point(${lon}, ${lat}) LIMIT ${limit}) n),`
      : ''
  }
  c AS (${person('client', 'NULL::uuid AS site_id, id AS client_id')}),
  k AS (${person('contact', 'site_id, client_id')}),
  own AS (
    SELECT id, ${words.score(SITE_WORDS)}::float8 AS score, 'address' AS matched FROM site
     WHERE ${words.match('site', SITE_WORDS)} AND archived_on IS NULL ORDER BY score DESC, id LIMIT ${limit}),
  sites AS (
    SELECT DISTINCT ON (id) id, score, matched FROM (
      SELECT id, score, matched FROM own
      UNION ALL SELECT x.site_id, c.score * 0.9, 'client' FROM c JOIN site_client x ON x.client_id = c.id AND x.to_day IS NULL
      UNION ALL SELECT k.site_id, k.score * 0.9, 'contact' FROM k WHERE k.site_id IS NOT NULL
      ${nearest ? `UNION ALL SELECT * FROM (SELECT NULL::uuid, NULL::float8, NULL::text WHERE false ${nearest}) n` : ''}) s
     ORDER BY id, score DESC),
  orders AS (
    SELECT DISTINCT ON (id) id, score, matched FROM (
      ${number === null ? '' : `SELECT id, 1::float8 AS score, 'number' AS matched FROM work_order WHERE number = ${number} UNION ALL`}
      SELECT o.id, s.score * 0.8 AS score, 'site' AS matched FROM sites s JOIN work_order o ON o.site_id = s.id AND o.state IN ('wanted', 'placed', 'under_way')) o
     ORDER BY id, score DESC)
  SELECT * FROM (
    SELECT 'client' AS type, c.id, c.name AS title, concat_ws(' · ', c.phone, c.email) AS detail, c.matched, c.score, c.client_id, c.site_id, NULL::float8 AS distance_m FROM c
    UNION ALL
    SELECT 'contact', k.id, k.name, concat_ws(' · ', k.phone, (SELECT address FROM site WHERE id = k.site_id)), k.matched, k.score, k.client_id, k.site_id, NULL FROM k
    UNION ALL
    SELECT 'site', site.id, address, concat_ws(' · ', town, (SELECT name FROM client JOIN site_client x ON x.client_id = client.id WHERE x.site_id = site.id AND x.to_day IS NULL LIMIT 1),
           CASE WHEN latitude IS NULL THEN 'not on the map' END), s.matched, s.score, (SELECT client_id FROM site_client x WHERE x.site_id = site.id AND x.to_day IS NULL LIMIT 1), site.id, ${metres}
      FROM sites s JOIN site USING (id) WHERE site.archived_on IS NULL
    UNION ALL
    SELECT 'order', o.id, 'Order ' || w.number, concat_ws(' · ', w.state, t.address, 'wanted by ' || w.wanted_by), o.matched, o.score,
           (SELECT client_id FROM site_client x WHERE x.site_id = t.id AND x.to_day IS NULL LIMIT 1), t.id, NULL
      FROM orders o JOIN work_order w USING (id) JOIN site t ON t.id = w.site_id) hits
   ORDER BY score DESC, array_position(ARRAY['client', 'site', 'contact', 'order'], type), distance_m, title, id LIMIT ${limit}`;
  return { text, values: words.values };
}

/** Clients that share something with another: only those are worth comparing. */
const ALIKE = `
  WITH p AS (
    SELECT c.id, c.name, c.phone, c.email, right(regexp_replace(coalesce(c.phone, ''), '\\D', '', 'g'), 10) AS digits, lower(trim(c.email)) AS mail,
           (SELECT string_agg(w, ' ' ORDER BY w) FROM unnest(regexp_split_to_array(lower(c.name), '[^[:alnum:]]+')) w WHERE length(w) > 2) AS words,
           ARRAY(SELECT s.address FROM site_client x JOIN site s ON s.id = x.site_id WHERE x.client_id = c.id ORDER BY s.address) AS addresses
      FROM client c WHERE c.archived_on IS NULL),
  shared AS (
    SELECT 'd' || digits AS mark, id FROM p WHERE length(digits) >= 7
    UNION SELECT 'm' || mail, id FROM p WHERE mail <> ''
    UNION SELECT 'n' || words, id FROM p WHERE words <> ''
    UNION SELECT 'a' || lower(a), id FROM p, unnest(addresses) a)
  SELECT p.id, p.name, p.phone, p.email, p.addresses, array_agg(DISTINCT s.mark) AS marks
    FROM shared s JOIN (SELECT mark FROM shared GROUP BY mark HAVING count(*) BETWEEN 2 AND 20) m USING (mark) JOIN p ON p.id = s.id
   GROUP BY p.id, p.name, p.phone, p.email, p.addresses ORDER BY p.name, p.id LIMIT 2000`;

const OFF_MAP = `
  SELECT s.id, s.address, s.town, s.postal_code, s.version, near.latitude, near.longitude, near.place,
         coalesce((SELECT jsonb_agg(jsonb_build_object('id', o.id, 'number', o.number, 'state', o.state, 'wantedBy', o.wanted_by) ORDER BY o.number)
            FROM work_order o WHERE o.site_id = s.id AND o.state IN ('wanted', 'placed', 'under_way')), '[]') AS orders
    FROM site s
    LEFT JOIN LATERAL (
      SELECT * FROM (
        SELECT 1 AS rank, avg(n.latitude) AS latitude, avg(n.longitude) AS longitude, s.area AS place FROM site n WHERE n.area = s.area AND n.latitude IS NOT NULL
        UNION ALL SELECT 2, avg(n.latitude), avg(n.longitude), s.town FROM site n WHERE n.town = s.town AND n.latitude IS NOT NULL
        UNION ALL SELECT 3, avg(d.latitude), avg(d.longitude), 'the depot' FROM depot d WHERE d.archived_on IS NULL) x
       WHERE x.latitude IS NOT NULL ORDER BY rank LIMIT 1) near ON true
   WHERE s.latitude IS NULL AND s.archived_on IS NULL ORDER BY s.town, s.address, s.id LIMIT 1000`;

export function makeSearchStore(q: Queryable): SearchStore {
  return {
    async find(ask) {
      const { text, values } = searchSql(ask);
      return (await q.query(text, values)).rows;
    },
    async alikeClients() {
      return (await q.query(ALIKE)).rows;
    },
    async offMap() {
      return (await q.query(OFF_MAP)).rows;
    },
  };
}
