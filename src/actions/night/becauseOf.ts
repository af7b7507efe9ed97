import { dayNumber } from '../../domain/calendar/isoDate.js';
import { along } from '../../domain/fouling/dueDateOfSystem.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import type { Row } from '../ports.js';
import { type DueVisit, trendOf } from './dueVisits.js';

/** A reason on an order; that of a line names it among its facts. */
export type BecauseOf = Pick<Reason, 'code' | 'text'> & { facts: Record<string, unknown> };

/** Reasons that moved a line's day away from the one its first reason names. */
const MOVED_THE_DAY: ReadonlySet<string> = new Set(['closed_season', 'steady', 'postponed']);

/** Why this visit, now: of each line its first reason and what moved its day, and what made systems join or the visit move. */
export function becauseOf(
  { lines, wantedDay, joined }: Pick<DueVisit, 'lines' | 'wantedDay' | 'joined'>,
  today: number,
): BecauseOf[] {
  const own = lines.flatMap((line) => {
    const [first, ...others] = trendOf(line)['due_reasons'] as Reason[];
    if (first === undefined) return [];
    const system = lines.filter((other) => other['system_id'] === line['system_id']);
    const dueDay = dueDayOf(line);
    const leaderDay = Math.min(...system.map(dueDayOf));
    const reason = dueDay === leaderDay ? first : along(first, dueDay, { leaderDay, wantedDay, today });
    const told = [reason, ...others.filter(({ code }) => MOVED_THE_DAY.has(code))];
    return told.map((each) => ({ ...each, facts: { ...each.facts, lineId: line['id'] } }));
  });
  return [...own, ...joined];
}

const WITH_THE_DAY: ReadonlySet<string> = new Set([
  'levelled',
  'late_spread',
  'joined_visit',
  'early_visit',
  'put_off',
]);
/** What a line's tasks need stays whatever its day. */
const OF_TASKS = 'out_of_reach';

/** Whether a reason on an order stands and falls with its wanted day, as the lines' own do. */
export const isOfTheDay = ({ code, facts }: BecauseOf): boolean =>
  WITH_THE_DAY.has(code) || ('lineId' in facts && code !== OF_TASKS);

/** A line that is due on no day comes along with nobody. */
const dueDayOf = (line: Row): number => dayNumber(String(trendOf(line)['due_on']));
