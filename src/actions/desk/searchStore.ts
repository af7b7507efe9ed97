import type { Row } from '../ports.js';

export interface SearchAsk {
  /** Words in lower case; each must occur, or all together nearly. */
  words: readonly string[];
  /** Digits of a phone number, the country's own last ten; null: the text is none. */
  digits: string | null;
  /** An order's number. */
  number: number | null;
  near: { latitude: number; longitude: number } | null;
  limit: number;
}

/** Finds clients, contacts, sites and orders by what people say on the phone. */
export interface SearchStore {
  /** Typed hits, best first: type, id, title, detail, matched, score, client_id, site_id, distance_m. */
  find(ask: SearchAsk): Promise<Row[]>;
  /** Clients in force with phone, e-mail and addresses that share a phone, an e-mail, a house or a like name with another. */
  alikeClients(): Promise<Row[]>;
  /** Sites without coordinates with their open orders and where planning takes them to be. */
  offMap(): Promise<Row[]>;
}
