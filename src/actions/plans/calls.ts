import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Basement } from '../../domain/words.js';
import { callRank, callWorth, type RankedCall, waterOf } from '../../domain/work/callRank.js';
import { clockText, weekdayText } from '../../papers/printed.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import type { Said } from './planTools.js';

interface Caller {
  kind: RankedCall['kind'];
  urgency: RankedCall['urgency'];
  waterInHouse: RankedCall['waterInHouse'];
  callerName: string | null;
  callerPhone: string | null;
}

const HOUR_MS = 3_600_000;

/** An order's call as far as its rank goes; null: no time to be there by is on record. */
export function callOf(house: House, row: Row, fromDay: IsoDate): RankedCall | null {
  if (row['respond_by'] === null) return null;
  const call = row['call'] as Caller | null;
  const midnight = house.zone.instantOf(fromDay, 0).getTime();
  const hoursLeft = (Date.parse(String(row['respond_by'])) - midnight) / HOUR_MS;
  return {
    kind: call?.kind ?? null,
    // Without a call on record, a time within the first day is one of today.
    urgency: call?.urgency ?? (hoursLeft <= 24 ? 'today' : 'in_days'),
    waterInHouse: call?.waterInHouse ?? 'unknown',
    basement: row['basement'] as Basement,
    hoursLeft,
  };
}

/** Rank and worth of an order among calls; work without a time has neither. */
export function rankOf(house: House, row: Row, fromDay: IsoDate): { rank: number; worth: number } {
  const call = callOf(house, row, fromDay);
  return call === null ? { rank: 0, worth: 0 } : { rank: callRank(call), worth: callWorth(call) };
}

const WATER = {
  yes: 'water in the house',
  no: 'no water in the house',
  unknown: 'water may be in the house',
};

/** "water rising, water in the house, finished basement; somebody must be there by 17:09"; null: no such time. */
export function callText(house: House, row: Row): string | null {
  const call = callOf(house, row, house.zone.dayOf(house.clock.now()));
  if (call === null) return null;
  const known =
    call.kind === null
      ? []
      : [
          call.kind.replaceAll('_', ' '),
          WATER[waterOf(call)],
          ...(call.basement === 'finished' ? ['finished basement'] : []),
        ];
  return [
    ...(known.length > 0 ? [known.join(', ')] : []),
    `somebody must be there by ${byText(house, row)}`,
  ].join('; ');
}

/** Time by which somebody must be there; with the day where that is not today. */
export function byText(house: House, row: Row): string {
  return instantText(house, new Date(String(row['respond_by'])));
}

/** "17:09", on another day than today "17:09 on Fri 2 Oct 2026". */
export function instantText(house: House, at: Date): string {
  const day = house.zone.dayOf(at);
  const seconds = Math.round((at.getTime() - house.zone.instantOf(day, 0).getTime()) / 1000);
  const time = clockText(seconds, house.units);
  const said = day === house.zone.dayOf(house.clock.now()) ? time : `${time} on ${weekdayText(day)}`;
  return said.replaceAll('\u00A0', ' ').replaceAll('\u202F', ' ');
}

/** Who called, to be phoned: "A. Reed, 555 0100"; null: nobody on record. */
export function callerText(row: Row): string | null {
  const call = row['call'] as Caller | null;
  return [call?.callerName, call?.callerPhone].filter(Boolean).join(', ') || null;
}

/** The caller as somebody to phone. */
export function callerContact(
  row: Row,
): { name: string; role: string; phone: string; language: null } | null {
  const call = row['call'] as Caller | null;
  if (!call?.callerPhone) return null;
  return { name: call.callerName ?? 'caller', role: 'caller', phone: call.callerPhone, language: null };
}

/** Work with a time to be there that would give way: never without a word. */
export function callGivesWay(house: House, row: Row): Said[] {
  const said = callText(house, row);
  if (said === null) return [];
  const caller = callerText(row);
  return [
    {
      code: 'call_gives_way',
      facts: { workOrderId: row['id'], respondBy: new Date(String(row['respond_by'])).toISOString() },
      text: `order ${String(row['number'])}, ${String(row['address'])}, gives way: ${said}. Send somebody else there${caller ? `, or phone ${caller}` : ''}`,
    },
  ];
}
