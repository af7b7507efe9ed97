import type { LineKind } from '../../domain/words.js';
import type { Row } from '../ports.js';

/** A line on a site that the books know. */
export interface StoredLine {
  id: string;
  siteId: string;
  systemId: string;
  kind: LineKind;
  /** Its id in the books; null when it came from elsewhere. */
  ref: string | null;
  /** Facts of it that nobody said; `exists` when it was only assumed of a thin book. */
  assumed: string[];
  archived: boolean;
}

export interface StoredPit {
  id: string;
  siteId: string;
  systemId: string;
  dischargeLineId: string | null;
}

/** What an import asks and writes, in bulk. */
export interface ImportStore {
  /**
   * Imports take turns: false while another one writes. The turn lasts until the transaction ends, and no
   * statement in it has a time limit.
   */
  takeTurn(): Promise<boolean>;
  /** Ids of the records that came from this source before, by their ids in its books. */
  known(table: 'client' | 'site' | 'crew', source: string): Promise<Map<string, string>>;
  /** Lines of the source, and all that stand on its sites, archived ones too. */
  linesOf(source: string): Promise<StoredLine[]>;
  /** Pits in use on the source's sites, in the order in which they were made. */
  pitsOf(source: string): Promise<StoredPit[]>;
  setDischarges(pairs: readonly { pitId: string; lineId: string }[]): Promise<void>;
  /** New records with the same columns each; jsonb columns as text. How many went in. */
  add(table: string, rows: Iterable<Row>): Promise<number>;
  /**
   * Findings of lines that may have them already: an inspection of the same line, instant, phase and method, a
   * clean of the same line and instant is left out, though the one that is there was withdrawn or replaced.
   * Asked once a transaction and table.
   */
  addUnlessThere(table: 'inspection' | 'clean', rows: Iterable<Row>): Promise<number>;
}
