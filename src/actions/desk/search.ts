import { phoneEnd } from '../../domain/work/clientDoubles.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { ruleBroken } from '../problems.js';

export interface Hit {
  type: 'client' | 'contact' | 'site' | 'order';
  id: string;
  title: string;
  detail: string;
  matched: string;
  score: number;
  clientId: string | null;
  siteId: string | null;
  distanceMetres: number | null;
}

/** Fewer digits are a house number or an order's, not a phone's. */
const LEAST_DIGITS = 4;
/** What nobody gives as a number of an order. */
const MOST_NUMBER = 2_000_000_000;
const MOST_WORDS = 6;

/**
 * Clients, contacts, sites and orders by what a caller says: a name, a street, a phone number in any writing, an
 * order's number; or sites near a point. Best first.
 *
 * @throws {Refused} `rule-broken` when nothing is asked for.
 */
export async function search(
  house: House,
  ask: { text: string | null; near: { latitude: number; longitude: number } | null; limit: number },
): Promise<Hit[]> {
  const text = (ask.text ?? '').trim().toLowerCase();
  if (text === '' && ask.near === null)
    throw ruleBroken('search', '#/querystring:q', 'nothing to look for', 'q, or near=latitude,longitude');
  const isPhone = /^[+(\d][\d\s()+./-]*$/.test(text) && phoneEnd(text).length >= LEAST_DIGITS;
  const number = /^(?:order|no\.?|number|#)?\s*#?(\d{1,10})$/.exec(text)?.[1];
  const words = text.split(/[\s,;]+/).filter((word) => word !== '');
  const rows = await house.stores.search.find({
    words: words.slice(0, MOST_WORDS),
    digits: isPhone ? phoneEnd(text) : null,
    number: number !== undefined && Number(number) <= MOST_NUMBER ? Number(number) : null,
    near: ask.near,
    limit: ask.limit,
  });
  return rows.map(hitOf);
}

const hitOf = (row: Row): Hit => ({
  type: row['type'] as Hit['type'],
  id: String(row['id']),
  title: String(row['title']),
  detail: String(row['detail']),
  matched: String(row['matched']),
  score: Math.round(Number(row['score']) * 1000) / 1000,
  clientId: row['client_id'] === null ? null : String(row['client_id']),
  siteId: row['site_id'] === null ? null : String(row['site_id']),
  distanceMetres: row['distance_m'] === null ? null : Math.round(Number(row['distance_m'])),
});
