import type { Role } from '../domain/words.js';

/** A row as the tables have it: snake_case columns, units in their names, days and instants as ISO text. */
export type Row = Record<string, unknown>;

/** Who asks: the name goes into the change log, the id is the key's. */
export interface Actor {
  keyId: string;
  name: string;
  roles: readonly Role[];
  memberId: string | null;
}

export type Comparison = '=' | '<>' | '<' | '<=' | '>' | '>=' | 'in' | 'contains' | 'null' | 'not-null';

export interface Condition {
  column: string;
  is: Comparison;
  value?: unknown;
}

/** One page of a table, by keyset: rows after the cursor's sort value and id. */
export interface PageAsk {
  where: Condition[];
  /** Words that must each occur in one of the columns, whatever their case. */
  search?: { columns: string[]; text: string };
  /** Order by great-circle distance from a point instead of by `sort`. */
  near?: { latitude: number; longitude: number };
  sort: { column: string; descending: boolean };
  after?: { value: unknown; id: string };
  limit: number;
}

/**
 * Plain records of one table or view. Table and column names come from the code, never from a caller.
 */
export interface RowStore {
  get(table: string, id: string): Promise<Row | null>;
  /** Locks the row until the transaction ends. */
  lock(table: string, id: string): Promise<Row | null>;
  insert(table: string, row: Row): Promise<Row>;
  /** Many rows of equal columns at once; the number inserted. */
  insertMany(table: string, rows: Row[], options?: { skipDoubles?: boolean }): Promise<number>;
  /** Null when there is no such row. */
  update(table: string, id: string, change: Row): Promise<Row | null>;
  remove(table: string, id: string): Promise<boolean>;
  page(table: string, ask: PageAsk): Promise<Row[]>;
  count(table: string, where: Condition[]): Promise<number>;
  /** Of a column of numbers; 0 of none. */
  sum(table: string, column: string, where: Condition[]): Promise<number>;
  all(table: string, where: Condition[], sort?: string): Promise<Row[]>;
}

export interface Clock {
  now(): Date;
}
