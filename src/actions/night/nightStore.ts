import type { BusinessZone } from '../../domain/calendar/businessZone.js';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { BaseFit } from '../../domain/fouling/fitBase.js';
import type { Row } from '../ports.js';
import type { DoubtedReading, OldTrend } from './dateLines.js';
import type { LineFacts } from './lineEvidence.js';
import type { LineState } from './lineState.js';
import type { PackedEvents } from './nightEvents.js';

/** A line in service, its number of readings, and a mark that changes with anything its estimate rests on. */
export interface BookedLine {
  facts: LineFacts;
  readings: number;
  digest: string;
}

export interface StoredFit {
  id: string;
  asOf: IsoDate;
  parameters: BaseFit;
}

/** What the night asks of the books; each answer is ordered by id so that sums come out the same. */
export interface NightStore {
  /** Lines in service as they are on a day, of the sites on which one is due by another. */
  linesOfDueSites(day: IsoDate, dueBy: IsoDate): Promise<Row[]>;
  /** Orders the night made and nobody has in hand yet, with news of their lines since: id, line_ids. */
  visitsWithNews(): Promise<Row[]>;
  /**
   * Orders the night made, no person had a hand in and no client was told of, all of whose lines are due after their
   * wanted day: id, line_ids, lines_due_on and pits_due_on (the earliest; null: on no day).
   */
  visitsDueLater(): Promise<Row[]>;
  /** Lines in service by id as they are on a day, each with its row of `trend`. */
  linesWithTrend(day: IsoDate, lineIds: readonly string[]): Promise<Row[]>;
  /** Lines in service by id, with what happened to them before an instant in the mark. */
  bookedLines(day: IsoDate, before: string): Promise<BookedLine[]>;
  /** Readings, cleans and regime changes of these lines before an instant, their days by the zone; ids in ascending order. */
  eventsOf(lineIds: readonly string[], before: string, zone: BusinessZone): Promise<PackedEvents>;
  /** Of these lines; of all when none are named. */
  lineStates(lineIds?: readonly string[]): Promise<Map<string, LineState>>;
  /** @param all Whether these are the states of all lines: the others go. */
  putLineStates(states: readonly (LineState & { lineId: string })[], all: boolean): Promise<void>;
  /** The newest of this engine up to a day. */
  lastFit(engineVersion: string, day: IsoDate): Promise<StoredFit | null>;
  /** Day of the newest of this engine, up to a day, that searched the shared shape; null: none did. */
  lastWeeklyFit(engineVersion: string, day: IsoDate): Promise<IsoDate | null>;
  /** Lines cleaned before an instant with no water seen to run after it, and not cleaned well since: line_id, and at, the first of those cleans. */
  cleanedWithoutFlow(before: string): Promise<Row[]>;
  oldTrends(): Promise<Map<string, OldTrend>>;
  openTasks(): Promise<Row[]>;
  /** Lines and pits cleaned or worked on at or after an instant: line_id, pit_id. */
  workedSince(from: string): Promise<Row[]>;
  /**
   * These trends become their lines' current ones; those with a `because`, the last column, are kept for good too.
   * Returns how many are.
   */
  putTrends(
    day: IsoDate,
    columns: readonly string[],
    trends: readonly (readonly unknown[])[],
  ): Promise<number>;
  /**
   * Doubts become open reviews unless a person has judged the reading; open reviews of lines looked into whose doubt
   * is gone are settled, and open again if the doubt comes back.
   */
  openReviews(doubts: readonly DoubtedReading[], lookedInto: readonly string[]): Promise<void>;
  /** Extends the lease; false when the run is another's now. */
  beat(runId: string, holder: string, leaseSeconds: number): Promise<boolean>;
  runOf(day: IsoDate): Promise<Row | null>;
  running(): Promise<Row | null>;
  /** Lets go of a run at once, for whoever comes; false when it is another's now. */
  giveBack(runId: string, holder: string): Promise<boolean>;
  /** The last business day a night was worked on; null: none ever was. */
  lastDay(): Promise<string | null>;
  /** Runs up to a day whose worker went away, and those that wait for longer than a minute without a job. */
  lapsedRuns(today: IsoDate): Promise<Row[]>;
  /** The day's run, where it failed for the last time longer than some minutes ago. */
  failedSince(day: IsoDate, minutes: number): Promise<Row | null>;
  /** When the first crew leaves its depot on a day, those on call apart; null: none does. */
  firstLeave(day: IsoDate): Promise<string | null>;
}
