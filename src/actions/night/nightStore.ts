import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Row } from '../ports.js';

/** What the night asks of the books; each answer is ordered by id so that sums come out the same. */
export interface NightStore {
  lines(day: IsoDate): Promise<Row[]>;
  /** Readings, cleans and regime changes before an instant, by line and time. */
  events(before: string): Promise<Row[]>;
  openTasks(): Promise<Row[]>;
  upsertTrends(trends: Row[]): Promise<void>;
  /** Appends today's trends where evidence is new, the due date moved or the month began; how many. */
  keepHistory(day: IsoDate): Promise<number>;
  openReviews(
    reviews: { inspectionId: string; lineId: string; weight: number; suspicion: string }[],
  ): Promise<void>;
  /** Extends the lease; false when the run is another's now. */
  beat(runId: string, holder: string, leaseSeconds: number): Promise<boolean>;
  runOf(day: IsoDate): Promise<Row | null>;
  running(): Promise<Row | null>;
  /** Runs whose worker went away. */
  lapsedRuns(): Promise<Row[]>;
  event(id: string, kind: string, subjectId: string, onceKey: string, facts: object): Promise<void>;
}
