import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { LineKind, Material } from '../../domain/words.js';

/** Which lines a question is about; nothing said: all of them. */
export interface LineFilter {
  kind?: LineKind | undefined;
  material?: Material | undefined;
  area?: string | undefined;
  town?: string | undefined;
  builder?: string | undefined;
  /** Dissolved iron of the line, else of its site; mg/L, both ends included. Unknown iron fits neither. */
  ironFrom?: number | undefined;
  ironTo?: number | undefined;
  /** Years since the line was laid, both ends included. An unknown day fits neither. */
  ageFrom?: number | undefined;
  ageTo?: number | undefined;
  /** Who cleaned the line last. */
  crewId?: string | undefined;
  siteId?: string | undefined;
  clientId?: string | undefined;
}

/** A question about some lines as of a business day. */
export interface LinesAsked {
  filter: LineFilter;
  today: IsoDate;
  /** Lines taken out of service from this day on count too; absent: only those in service. */
  archivedSince?: IsoDate;
}

/** First and last day, both included. */
export interface Period {
  fromDay: IsoDate;
  toDay: IsoDate;
}

/** The same asked of a period that is over: what is archived today was in service then. */
export const inPeriod = (asked: LinesAsked, { fromDay }: Pick<Period, 'fromDay'>): LinesAsked => ({
  ...asked,
  archivedSince: fromDay,
});
