import { dayNumber, daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import { chanceBy } from '../../domain/fouling/selfScore.js';
import type { LineKind } from '../../domain/words.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import type { LinesAsked } from './lineFilter.js';

export interface LineAtRisk {
  lineId: string;
  name: string;
  kind: LineKind;
  siteId: string;
  address: string;
  dueOn: IsoDate | null;
  occlusion: number;
  /** Of having passed the limit by the day, if nobody comes. */
  actionChance: number;
  plugChance: number;
}

/** Lines by their chance, side by side for both limits. */
export interface ChanceClass {
  from: number;
  to: number;
  action: number;
  plug: number;
}

export interface RiskOn {
  lines: number;
  expectedPastAction: number;
  expectedPlugged: number;
  classes: ChanceClass[];
  items: LineAtRisk[];
}

const CLASS_EDGES = [0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1];
/** Chances are stored a year ahead. */
const DAYS_AHEAD = 365;

/**
 * What may have passed its limits by a day if nobody visits, likeliest plug first.
 *
 * @param atMost Lines told one by one; the sums are over all.
 * @throws {Refused} `rule-broken` for a day before today or more than a year ahead.
 */
export async function riskOn(
  { stores }: House,
  asked: LinesAsked,
  on: IsoDate,
  atMost: number,
): Promise<RiskOn> {
  const ahead = daysBetween(asked.today, on);
  if (ahead < 0 || ahead > DAYS_AHEAD)
    throw ruleBroken(
      'risk-day',
      '#/querystring:on',
      `${on} is ${ahead < 0 ? 'over' : 'more than a year ahead'}`,
      `a day from ${asked.today}, at most ${DAYS_AHEAD} days on`,
    );
  const lines = (await stores.reports.trends(asked)).map((row) => atRisk(row, dayNumber(on)));
  lines.sort(
    (a, b) =>
      b.plugChance - a.plugChance || b.actionChance - a.actionChance || (a.lineId < b.lineId ? -1 : 1),
  );
  const sum = (of: (line: LineAtRisk) => number) => lines.reduce((total, line) => total + of(line), 0);
  return {
    lines: lines.length,
    expectedPastAction: sum((line) => line.actionChance),
    expectedPlugged: sum((line) => line.plugChance),
    classes: classesOf(lines),
    items: lines.slice(0, atMost),
  };
}

/** A belief without news stands: its chances count from its own day. */
function atRisk(row: Row, onDay: number): LineAtRisk {
  const days = onDay - dayNumber(String(row['as_of']));
  return {
    lineId: String(row['id']),
    name: String(row['name']),
    kind: row['kind'] as LineKind,
    siteId: String(row['site_id']),
    address: String(row['address']),
    dueOn: row['due_on'] === null ? null : String(row['due_on']),
    occlusion: Number(row['occlusion']),
    actionChance: chanceBy(row['action_chances'] as number[], days),
    plugChance: chanceBy(row['plug_chances'] as number[], days),
  };
}

function classesOf(lines: readonly LineAtRisk[]): ChanceClass[] {
  return CLASS_EDGES.slice(1).map((to, i) => {
    const from = CLASS_EDGES[i] ?? 0;
    const within = (chance: number) => chance >= from && (chance < to || to === 1);
    return {
      from,
      to,
      action: lines.filter((line) => within(line.actionChance)).length,
      plug: lines.filter((line) => within(line.plugChance)).length,
    };
  });
}
