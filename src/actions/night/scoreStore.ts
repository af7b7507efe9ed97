import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { ForeseenLaw } from '../../domain/fouling/levelForeseen.js';
import type { CalibrationReport, ResidualSums, ScoreSums } from '../../domain/fouling/selfScore.js';
import type { Row } from '../ports.js';
import type { LinesAsked } from '../reports/lineFilter.js';

/** The self-score's own questions. */
export interface ScoreStore {
  /** Scores whose finding was withdrawn, replaced or dismissed since go. */
  forgetStale(): Promise<number>;
  /**
   * Visits from a day on, before an instant, that nobody judged yet, each with the forecast made when the visit
   * before it had come in, and the last clean before that.
   */
  unjudged(ask: { from: IsoDate; before: string; zone: string }): Promise<Row[]>;
  /** The laws of fits, by id; those that are not kept are left out. */
  lawsOf(fitIds: readonly string[]): Promise<Map<string, ForeseenLaw[]>>;
  put(scores: Row[]): Promise<void>;
  /** Sums by class, method and crew over visits from a day on; of some lines only, where they are named. */
  sums(
    from: IsoDate,
    asked?: LinesAsked,
  ): Promise<{ classes: ScoreSums[]; methods: ResidualSums[]; crews: ResidualSums[] }>;
  putReport(day: IsoDate, report: CalibrationReport): Promise<void>;
  /** How nights saw it, newest first. */
  nights(atMost: number): Promise<{ asOf: IsoDate; count: number; off: boolean }[]>;
}
