import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { PairedDifference } from '../../domain/statistics/pairedDifference.js';
import type { SettingChanges } from '../../domain/work/settings.js';

/** What would be otherwise in the weeks to come; nothing said: as it is. */
export interface WhatIf {
  /** Crews more of the usual hours; below 0 crews less. */
  extraCrews: number;
  /** Crews that are not there between two days, both included. */
  lostCrews: { crewId: string; fromDay: IsoDate; toDay: IsoDate }[];
  /** Settings as an owner would change them: risk, intervals, limits, surveys a week. */
  settings: SettingChanges;
  /** Every interval of care terms times this. */
  careIntervalFactor: number;
  /** Sites that come in a week, for so many weeks; each like one of the base, nothing known of it. */
  newSites: { perWeek: number; weeks: number };
}

export const AS_IT_IS: WhatIf = {
  extraCrews: 0,
  lostCrews: [],
  settings: {},
  careIntervalFactor: 1,
  newSites: { perWeek: 0, weeks: 0 },
};

/** How often and how far to look, and the seed of all chance in it. */
export interface WhatIfRuns {
  runs: number;
  weeks: number;
  seed: number;
}

/** Low, middle and high tenth over the runs. */
export interface Band {
  q10: number;
  q50: number;
  q90: number;
}

export const QUANTITIES = ['visits', 'hours', 'waterL', 'backlog', 'overtimeHours', 'plugs'] as const;
export type Quantity = (typeof QUANTITIES)[number];

/** What one week of one run came to. */
export type WeekFigures = Record<Quantity, number>;

export interface WeekAhead extends Record<Quantity, Band> {
  monday: IsoDate;
  /** Crew-hours of the shifts, absences left out. */
  capacityHours: number;
  /** Plugs of this week and all before. */
  plugsSoFar: Band;
  /** Of the hours there are; null where nobody works. */
  usedShare: Band | null;
}

export interface YearAhead {
  weeks: WeekAhead[];
  /** Over all weeks; of the backlog the mean over weeks. */
  totals: Record<Quantity, Band>;
  /** Hours of the hours there are, over all weeks; null where nobody works. */
  usedShare: Band | null;
}

/** What the same runs differ by, of each total. */
export type Differences = Record<Quantity, PairedDifference>;

export interface WhatIfAnswer {
  asOf: IsoDate;
  /** Day of the fit that lines were drawn from. */
  fitOf: IsoDate;
  lines: number;
  /** Lines worked on: of many whole sites, always the same ones; figures are scaled up. */
  linesCounted: number;
  asItIs: YearAhead;
  /** Null where nothing was to be otherwise. */
  otherwise: YearAhead | null;
  /** Otherwise less as it is, run by run with the same weather; null where nothing was to be otherwise. */
  differences: Differences | null;
}
