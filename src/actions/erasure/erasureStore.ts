import type { Row } from '../ports.js';

/** A table with its columns that hold text: text, lists of text, json. */
export interface TextTable {
  table: string;
  columns: string[];
  /** Its columns that say what a row is about: ids of sites, clients, orders, lines, pits; when an incident happened. */
  refs: string[];
  hasId: boolean;
}

/** A row that holds what was looked for: its text columns as they are, and where it lies. */
export interface FoundRow {
  table: string;
  /** Where the row lies in its table, for as long as the transaction holds it. */
  place: string;
  /** Its own id, where it has one. */
  id: string | null;
  values: Row;
  refs: Row;
}

/** A record as JSON, beside the record itself. */
export interface Copy {
  table: 'conflict' | 'idempotency_key';
  place: string;
  content: unknown;
  /** All of it is of the record. */
  isOwn: boolean;
}

/** Looks through every text of the database, and writes over it. */
export interface ErasureStore {
  textTables(): Promise<TextTable[]>;
  /** Rows with a text that the pattern (`~*`) finds, locked where they are to be written over. */
  find(table: TextTable, pattern: string, lock: boolean): Promise<FoundRow[]>;
  overwrite(row: FoundRow, change: Row): Promise<void>;
  /** What was sent or answered of these records and is kept: conflicts about them (`isOwn`), answers that name one. */
  copies(ids: readonly string[]): Promise<Copy[]>;
  rewriteCopy(copy: Copy, content: unknown): Promise<void>;
  /** Mails not sent yet are dropped, links to unsubscribe by removed; what mail servers said of the others as well. */
  forgetMails(contactIds: readonly string[]): Promise<number>;
  /** From here to the end of the transaction an inspection's texts may be written over. */
  mayTouchFindings(): Promise<void>;
  /** Names of other clients, contacts, members and keys on the books that the pattern (`~*`) finds. */
  peopleLike(pattern: string, exceptIds: readonly string[]): Promise<string[]>;
  /** Of these numbers, as digits, and addresses, those another client, contact or member can be reached by. */
  sharedReach(
    digits: readonly string[],
    emails: readonly string[],
    exceptIds: readonly string[],
  ): Promise<{ digits: string[]; emails: string[] }>;
}
