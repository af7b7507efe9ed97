import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { Span } from '../../domain/calendar/spans.js';
import { type OnCallTurn, onCallGaps } from '../../domain/work/onCall.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { openShiftBooks, workedShifts } from './crewShifts.js';

export interface Rota {
  turns: (Row & { memberName: string; phone: string | null; crewName: string | null })[];
  gaps: Span[];
}

/** Turns that touch a stretch of time. */
export async function turnsOf(stores: Stores, { from, to }: Span): Promise<Row[]> {
  return stores.rows.all(
    'on_call_turn',
    [
      { column: 'from_at', is: '<', value: new Date(to).toISOString() },
      { column: 'to_at', is: '>', value: new Date(from).toISOString() },
    ],
    'from_at',
  );
}

export const turnOf = (row: Row): OnCallTurn => ({
  memberId: String(row['member_id']),
  from: Date.parse(String(row['from_at'])),
  to: Date.parse(String(row['to_at'])),
  turn: Number(row['turn']),
});

/** Who is on call between two days, both included, and when, out of all shifts, nobody is. */
export async function rota(house: House, stores: Stores, fromDay: IsoDate, toDay: IsoDate): Promise<Rota> {
  const whole = {
    from: house.zone.instantOf(fromDay, 0).getTime(),
    to: house.zone.instantOf(addDays(toDay, 1), 0).getTime(),
  };
  const rows = await turnsOf(stores, whole);
  const today = house.zone.dayOf(house.clock.now());
  const books = await openShiftBooks(stores, [today, fromDay].sort()[0] ?? today);
  const shifts = workedShifts(house, books, addDays(fromDay, -1), toDay);
  const members = await stores.rows.all('member', [
    { column: 'id', is: 'in', value: [...new Set(rows.map((row) => row['member_id']))] },
  ]);
  return {
    turns: rows.map((row) => {
      const member = members.find((each) => each['id'] === row['member_id']);
      const day = house.zone.dayOf(new Date(String(row['from_at'])));
      const crewId = books.memberships.find(
        (each) =>
          each['member_id'] === row['member_id'] &&
          String(each['from_day']) <= day &&
          (each['to_day'] === null || String(each['to_day']) > day),
      )?.['crew_id'];
      const crew = books.crews.find((each) => each['id'] === crewId);
      return {
        ...row,
        memberName: String(member?.['name'] ?? ''),
        phone: member?.['phone'] == null ? null : String(member['phone']),
        crewName: crew ? String(crew['name']) : null,
      };
    }),
    gaps: onCallGaps(whole, rows.map(turnOf), shifts),
  };
}
