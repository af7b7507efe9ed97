import { type IsoDate, isoDate } from '../calendar/isoDate.js';
import type { LineForecast } from './evidence.js';
import { type ShapeParameters, seasonDays, YEAR_ANGLE, YEAR_DAYS } from './shapeParameters.js';

const MONTH_DAYS = YEAR_DAYS / 12;
/** A quarter is as far as people reckon ahead (common practice, no source). */
const AHEAD_DAYS = 91;
/** A season weaker than this is not worth a word (common practice, no source). */
const LEAST_SWING = 0.05;

/** How fast a line fouls in the months to come, beside its mean over a year; levels are shares of the bore, in the middle of belief. */
export interface LinePace {
  from: IsoDate;
  to: IsoDate;
  occlusionFrom: number;
  /** If nobody cleans. */
  occlusionTo: number;
  /** Share of the bore a month from one to the other. */
  perMonth: number;
  /** Mean growth between empty and half full, over a year: share of the bore a month. */
  yearlyMean: number;
  /** Null where the base shows none worth a word. */
  season: {
    /** Growth in these months over that of a year, by the season alone. */
    ofYear: number;
    fastestOn: IsoDate;
    /** Growth then over that of a year. */
    fastest: number;
  } | null;
}

/** As much of a fit as tells its season, law by law. */
interface Seasons {
  shapes: readonly { weight: number; parameters: Pick<ShapeParameters, 'seasonCos' | 'seasonSin'> }[];
}

export function linePace(
  forecast: Pick<LineForecast, 'asOfDay' | 'ratePerDay' | 'curve'>,
  fit: Seasons,
): LinePace {
  const { asOfDay, ratePerDay } = forecast;
  const [now, then] = [forecast.curve(0).q50, forecast.curve(AHEAD_DAYS).q50];
  return {
    from: isoDate(asOfDay),
    to: isoDate(asOfDay + AHEAD_DAYS),
    occlusionFrom: now,
    occlusionTo: then,
    perMonth: ((then - now) / AHEAD_DAYS) * MONTH_DAYS,
    yearlyMean: ratePerDay.median * MONTH_DAYS,
    season: seasonOf(fit, asOfDay),
  };
}

function seasonOf({ shapes }: Seasons, asOfDay: number): LinePace['season'] {
  const over = (of: 'seasonCos' | 'seasonSin'): number =>
    shapes.reduce((sum, { weight, parameters }) => sum + weight * parameters[of], 0);
  const [seasonCos, seasonSin] = [over('seasonCos'), over('seasonSin')];
  const swing = Math.hypot(seasonCos, seasonSin);
  if (swing < LEAST_SWING) return null;
  const peakDay = Math.atan2(seasonSin, seasonCos) / YEAR_ANGLE;
  const years = Math.ceil((asOfDay - peakDay) / YEAR_DAYS);
  return {
    ofYear: seasonDays({ seasonCos, seasonSin }, asOfDay, asOfDay + AHEAD_DAYS) / AHEAD_DAYS,
    fastestOn: isoDate(Math.round(peakDay + years * YEAR_DAYS)),
    fastest: 1 + swing,
  };
}
