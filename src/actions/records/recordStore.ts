import type { Row } from '../ports.js';

/** How PostgreSQL keeps a column. */
export type ColumnType =
  | 'uuid'
  | 'text'
  | 'integer'
  | 'number'
  | 'boolean'
  | 'day'
  | 'instant'
  | 'json'
  | 'texts'
  | 'uuids'
  | 'numbers';

/** A column of a table whose rows go out and come in. */
export interface RecordColumn {
  name: string;
  type: ColumnType;
  isKey: boolean;
  isNullable: boolean;
  hasDefault: boolean;
  /** The words it takes, where it takes listed ones only. */
  words: readonly string[] | null;
  /** The table it points into. */
  refersTo: string | null;
}

export interface RecordTable {
  table: string;
  columns: RecordColumn[];
}

/** Why the database refused rows: the values by which the row can be told. */
export interface RowRefused {
  by: Row;
  /** Null: it does not say which. */
  column: string | null;
  problem: string;
  remedy: string;
}

/** Takes whole records in as they are, ids and all. */
export interface RecordStore {
  tables(): Promise<RecordTable[]>;
  /**
   * New rows by key; those that are there stay as they are.
   *
   * @param later Columns that point to rows that come after: written by `link`.
   */
  bring(
    table: RecordTable,
    rows: readonly Row[],
    later: readonly string[],
  ): Promise<{ fresh: number } | RowRefused>;
  /** Writes the columns kept back, of the rows that were new. */
  link(table: RecordTable, later: readonly string[]): Promise<RowRefused | null>;
  /** What holds for several rows together is looked at now. */
  settle(): Promise<RowRefused | null>;
}
