import type { CrewDay } from '../../domain/routing/problem.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { openBooks } from './books.js';
import { callOf } from './calls.js';
import type { DayBook } from './dayRoutes.js';
import { type OnCallCrew, onCallCrews, onCallDayOf } from './onCallDays.js';
import type { TravelTable } from './planTools.js';
import { liveStart, placesOf, stateQuestion, withTravel } from './problem.js';

/** As `openDays` for the hours out of all shifts: who can be sent, and what they drive out of shifts already. */
export async function openOnCall(
  house: House,
  stores: Stores,
  travel: TravelTable,
  workOrderId: string,
): Promise<DayBook> {
  const settings = await ownerSettings(stores);
  const today = house.zone.dayOf(house.clock.now());
  const books = await openBooks(stores, today);
  const order = books.orders.find((row) => row['id'] === workOrderId);
  const until = order?.['respond_by'] == null ? 0 : Date.parse(String(order['respond_by']));
  const found = await onCallCrews(house, stores, books, until);
  const days = [...new Set(found.map(({ day }) => day))].sort();
  const { places, depotAt } = placesOf(books);
  const onCall = new Map<string, OnCallCrew>();
  const crewDays: CrewDay[] = [];
  for (const each of found) {
    const crewDay = onCallDayOf(house, books, each, days.indexOf(each.day), depotAt, places);
    if (!crewDay) continue;
    crewDays.push(crewDay);
    onCall.set(crewDay.id, each);
  }
  const [fromDay = today] = days;
  const span = { from: fromDay, to: days.at(-1) ?? today };
  const live = found.flatMap(({ progress }) => progress ?? []);
  const question = stateQuestion(
    { house, books, settings, fromDay, span, days, crewDays, places, moveFactor: 1, onCall: true },
    { alsoOrder: workOrderId },
    depotAt,
    live,
  );
  const { problem, warnings } = await withTravel(question, { travel });
  const ahead = new Map(liveStart(question).map(({ crewDayId: id, orderIds }) => [id, orderIds]));
  return { question, problem, settings, warnings, ahead, onCall };
}

/**
 * The house by hours that pass: out of the shift seconds count from the day's midnight on, also over a change of
 * clocks, where a shift goes by the clock on the wall.
 */
export const byHoursThatPass = (house: House): House => ({
  ...house,
  zone: {
    ...house.zone,
    instantOf: (day, seconds) =>
      new Date(house.zone.instantOf(day, 0).getTime() + Math.round(seconds) * 1000),
  },
});

/** Whether somebody is sent out of the shift for it: a call with a time to be there that no shift waits for. */
export function isForOnCall(house: House, row: Row | undefined): boolean {
  const call = row && callOf(house, row, house.zone.dayOf(house.clock.now()));
  return call != null && call.urgency !== 'in_days';
}
