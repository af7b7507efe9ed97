import { setImmediate as turn } from 'node:timers/promises';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { type CurvePoint, riskCurve } from '../../domain/fouling/costAgainstRisk.js';
import { ENGINE_VERSION } from '../../domain/fouling/evidence.js';
import { forecastLine } from '../../domain/fouling/forecastLine.js';
import { limitsOf, lineCosts, ochreAt, softDaysOf } from '../../domain/fouling/policy.js';
import type { House } from '../house.js';
import { lineFacts, packedLine } from '../night/lineEvidence.js';
import { withPriors } from '../night/lineState.js';
import { withWorkLimits } from '../night/workLimits.js';
import { ownerSettings } from '../ownerSettings.js';
import type { LinesAsked } from './lineFilter.js';

/** What serving the lines asked for would take under each rule. */
export interface CostRisk {
  /** Day of the fit it rests on; null before the first night. */
  asOf: IsoDate | null;
  /** Lines that were asked for, and how many of them were reckoned with. */
  lines: number;
  linesCounted: number;
  /** Costs in minor units of money. */
  points: CurvePoint[];
}

/** Yearly chances of a plug that the curve shows. */
const RISKS = [0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4];

/** A sample of so many gives the mean cost to about 3 %; more would only make the caller wait. */
const LINES_AT_MOST = 1_000;

/** Lines reckoned with before others get their turn: some 20 ms. */
const LINES_A_TURN = 20;

/** The owner's curve of cost against risk, from the newest stored fit. */
export async function costRisk(house: House, asked: LinesAsked): Promise<CostRisk> {
  const { stores, zone } = house;
  const settings = await ownerSettings(stores);
  const fit = await stores.night.lastFit(ENGINE_VERSION, asked.today);
  const curve = riskCurve(RISKS, settings);
  const { lines, rows } = await stores.reports.sampleLines(asked, LINES_AT_MOST);
  if (fit === null || rows.length === 0)
    return { asOf: fit?.asOf ?? null, lines, linesCounted: 0, points: [] };

  const { lines: facts } = await withWorkLimits(stores, rows.map(lineFacts), settings);
  const ids = facts.map(({ lineId }) => lineId);
  const states = await stores.night.lineStates(ids);
  const events = await stores.night.eventsOf(ids, zone.instantOf(fit.asOf, 0).toISOString(), zone);
  const known = withPriors(
    fit.parameters,
    ids.flatMap((lineId) => {
      const state = states.get(lineId);
      return state ? [{ lineId, state }] : [];
    }),
  );
  for (const [i, each] of facts.entries()) {
    if (i % LINES_A_TURN === 0) await turn();
    const line = packedLine(each, events, i, fit.asOf);
    const { components } = forecastLine(known, line.evidence, dayNumber(fit.asOf));
    const ochre = ochreAt(line.ironMgL, line.deposits, settings);
    const costs = lineCosts(settings, softDaysOf(ochre, line.staysWet, settings));
    curve.add({ components, limits: limitsOf(line, settings), costs });
  }
  const { visitMinor } = settings.costs;
  const points = curve
    .points()
    .map((point) => ({ ...point, costPerLineYear: Math.round(point.costPerLineYear * visitMinor) }));
  return { asOf: fit.asOf, lines, linesCounted: rows.length, points };
}
