import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { siteVisits } from '../../domain/fouling/dueDateOfSystem.js';
import type { Reason } from '../../domain/fouling/dueDateReason.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { giveUpOrder } from '../workLife/withdrawal.js';
import { type BecauseOf, becauseOf, isOfTheDay } from './becauseOf.js';
import { aheadOf, LEAD_DAYS, systemsDue, trendOf } from './dueVisits.js';
import { type VisitConditions, visitConditions } from './visitConditions.js';

/**
 * The night's orders that nobody has in hand and no client knows of follow their lines' dates: to a later day where
 * all lines are due later by more than dates move by themselves; withdrawn where none is due within the time ahead in
 * which a night makes orders, so that no night makes it anew.
 */
export async function followDates(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<{ putOff: number; withdrawn: number }> {
  const lastDay = dayNumber(day) + LEAD_DAYS + settings.visits.levelDays;
  const orders = await stores.night.visitsDueLater();
  const lines = await stores.night.linesWithTrend(
    day,
    orders.flatMap((order) => order['line_ids'] as string[]),
  );
  const conditions = await visitConditions(house, stores, lines, day, settings);
  const counts = { putOff: 0, withdrawn: 0 };
  for (const found of orders) {
    const lineIds = new Set(found['line_ids'] as string[]);
    const own = lines.filter((line) => lineIds.has(String(line['id'])));
    const order = await stores.rows.lock('work_order', String(found['id']));
    // A line out of service is for people to settle.
    if (order?.['state'] !== 'wanted' || order['lock_day'] !== null || own.length < lineIds.size) continue;
    const linesDay = dayOrNull(found['lines_due_on']);
    if (linesDay === null || linesDay > lastDay) {
      await giveUpOrder(stores, order, nothingAsks(own, linesDay));
      counts.withdrawn++;
      continue;
    }
    const wantedDay = Math.min(linesDay, dayOrNull(found['pits_due_on']) ?? linesDay);
    if (wantedDay - dueDayOf(order) <= steadyDays(own, dueDayOf(order), settings)) continue;
    await putOff(stores, conditions, { order, lines: own, wantedDay, day, settings });
    counts.putOff++;
  }
  return counts;
}

const dayOrNull = (value: unknown): number | null => (value == null ? null : dayNumber(String(value)));

function nothingAsks(lines: readonly Row[], dueDay: number | null): string {
  if (dueDay === null) return 'Nothing asks for it: its lines are due on no day.';
  const first = lines.find((line) => trendOf(line)['due_on'] === isoDate(dueDay));
  const [reason] = first ? (trendOf(first)['due_reasons'] as Reason[]) : [];
  return `Nothing asks for it before ${isoDate(dueDay)}.${reason ? ` ${reason.text}` : ''}`;
}

/** The day its lines were due when the order took its wanted day: later where the visit came sooner to even out weeks. */
function dueDayOf(order: Row): number {
  const wantedBy = String(order['wanted_by']);
  const levelled = (order['because_of'] as BecauseOf[]).find(
    ({ code, facts }) => code === 'levelled' && facts['by'] === wantedBy,
  );
  return dayNumber(String(levelled?.facts['dueOn'] ?? wantedBy));
}

/** Dates move by so many days without meaning anything. */
function steadyDays(lines: readonly Row[], dueDay: number, { intervals }: OwnerSettings): number {
  const starts = lines.flatMap((line) => {
    const { due_on: dueOn, interval_days: days } = trendOf(line);
    return dueOn === null || days === null ? [] : [dayNumber(String(dueOn)) - Number(days)];
  });
  return Math.max(intervals.steadyDays, intervals.steadyShare * (dueDay - Math.max(...starts)));
}

async function putOff(
  stores: Stores,
  conditions: VisitConditions,
  to: { order: Row; lines: Row[]; wantedDay: number; day: IsoDate; settings: OwnerSettings },
): Promise<void> {
  const { order, lines, wantedDay, day, settings } = to;
  const id = String(order['id']);
  const today = dayNumber(day);
  const open = lines.flatMap((line) => {
    const { notBefore, openFrom } = aheadOf(line);
    return [notBefore, openFrom].flatMap((on) => (on ? [dayNumber(on)] : []));
  });
  const notBefore = Math.min(wantedDay, Math.max(today, wantedDay - settings.visits.aheadDays, ...open));
  const [visit] = siteVisits(systemsDue(lines, today), settings);
  const lineIds = lines.map((line) => String(line['id']));
  const early = await conditions.early(String(order['site_id']), lineIds, wantedDay);
  await conditions.askAnew(id, early);
  const was = String(order['wanted_by']);
  const on = isoDate(wantedDay);
  const kept = (order['because_of'] as BecauseOf[]).filter((reason) => !isOfTheDay(reason));
  await stores.rows.update('work_order', id, {
    wanted_by: on,
    not_before: isoDate(notBefore),
    price_minor: early?.priceMinor ?? null,
    because_of: JSON.stringify([
      // One the client refused is due on no day and asks for nothing.
      ...becauseOf(
        {
          lines: lines.filter((line) => trendOf(line)['due_on'] !== null),
          wantedDay,
          joined: visit?.reasons ?? [],
        },
        today,
      ),
      ...kept,
      ...(early ? [early.reason] : []),
      {
        code: 'put_off',
        facts: { on: day, was, wantedBy: on },
        text: `Put off on ${day}: all its lines are due later now, by ${on}. Before, it was wanted by ${was}.`,
      },
    ]),
  });
}
