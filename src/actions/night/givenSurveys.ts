import { dayNumber, isoDate } from '../../domain/calendar/isoDate.js';
import type { FirstSurvey } from '../../domain/fouling/dueDateLevelling.js';
import type { Stores } from '../house.js';

/** First surveys that nights before gave a day in this week or later, done or not: their places are taken. */
export async function givenSurveys(stores: Stores, today: number): Promise<FirstSurvey[]> {
  const orders = await stores.rows.all('work_order', [
    { column: 'cause', is: '=', value: 'first_survey' },
    { column: 'state', is: '<>', value: 'withdrawn' },
    { column: 'wanted_by', is: '>=', value: isoDate(today - 6) },
  ]);
  return orders.map((order) => ({
    id: String(order['id']),
    yearlyRisk: 0,
    plugWithinYear: 0,
    givenDay: dayNumber(String(order['wanted_by'])),
  }));
}
