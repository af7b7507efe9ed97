import { addDays, daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { ToldRoute } from '../../domain/routing/asTold.js';
import { overtimePrice } from '../../domain/routing/overtime.js';
import type { CrewDay } from '../../domain/routing/problem.js';
import { type DayTrouble, dayTroubles, isImpossible } from '../../domain/work/crewRest.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { clockText, durationText, weekdayText } from '../../papers/printed.js';
import type { House } from '../house.js';
import { absencesOf, type Books, secondsOf, shiftOf } from './books.js';
import type { Said } from './planTools.js';

const DAY_SECONDS = 86_400;
/** Days looked ahead for the next shift: after a week everybody has rested. */
const LOOK_AHEAD_DAYS = 7;

/** One crew's day in the sequence a person wants. */
export interface HandMadeDay {
  crewDay: CrewDay;
  day: IsoDate;
  told: ToldRoute;
  /** What people call an order, and until when its client was told it begins. */
  nameOf: (orderId: string) => string;
  isPromised: (orderId: string) => boolean;
}

/**
 * What is unwise about the day, in sentences, and what is impossible: stops that start late, overtime with its
 * cost, a late break, too little rest before the next shift.
 */
export function dayWarnings(
  house: House,
  books: Books,
  settings: OwnerSettings,
  made: HandMadeDay,
): { impossible: Said | null; warnings: Said[] } {
  const { crewDay, told } = made;
  const { route } = told;
  const next = nextShift(books, crewDay.crewId, made.day);
  const troubles = dayTroubles(
    {
      endSeconds: route.endSeconds,
      shiftStartSeconds: crewDay.shiftStartSeconds,
      shiftEndSeconds: crewDay.shiftEndSeconds,
      overtimeSeconds: crewDay.overtimeSeconds,
      nextShiftSeconds: next && daysBetween(made.day, next.day) * DAY_SECONDS + next.startSeconds,
    },
    settings,
  );
  const said = troubles.map((trouble) => ({ trouble, said: troubleSaid(house, made, trouble, next) }));
  return {
    impossible: said.find(({ trouble }) => isImpossible(trouble))?.said ?? null,
    warnings: [
      ...lateStops(house, made),
      ...said.flatMap(({ trouble, said: one }) => (isImpossible(trouble) ? [] : [one])),
      ...lateBreaks(house, made),
      ...idleHours(house, made, Math.round(settings.routes.idleMinutes * 60)),
    ],
  };
}

interface NextShift {
  day: IsoDate;
  startSeconds: number;
}

function nextShift(books: Books, crewId: string, day: IsoDate): NextShift | null {
  for (let ahead = 1; ahead <= LOOK_AHEAD_DAYS; ahead++) {
    const on = addDays(day, ahead);
    const shift = shiftOf(books, crewId, on);
    const away = absencesOf(books, 'crew_id', crewId, on).some((row) => row['people'] === null);
    if (shift && !away) return { day: on, startSeconds: secondsOf(String(shift['starts_at'])) };
  }
  return null;
}

function troubleSaid(
  house: House,
  { crewDay, day, told }: HandMadeDay,
  trouble: DayTrouble,
  next: NextShift | null,
): Said {
  const { endSeconds, overtimeSeconds } = told.route;
  const name = crewDay.crewName ?? crewDay.crewId;
  const back = `${name} is back at ${clock(house, day, endSeconds)}`;
  const shift = `its shift ends at ${clock(house, day, crewDay.shiftEndSeconds)}`;
  const costMinor = overtimePrice(overtimeSeconds, crewDay.overtimePerHour);
  const cost = moneyText(costMinor, currencyOf(house.currency), 2);
  const nextAt = next ? `${clockText(next.startSeconds, house.units)} on ${weekdayText(next.day)}` : '';
  const facts = { crewId: crewDay.crewId, day, endSeconds };
  const say = (more: object, text: string): Said => ({
    code: trouble.code,
    facts: { ...facts, ...more },
    text: plain(text),
  });
  switch (trouble.code) {
    case 'next_shift_begun':
      return say({ nextDay: next?.day }, `${back}, after its next shift began at ${nextAt}`);
    case 'longer_than_a_day':
      return say({}, `${back}, ${durationText(trouble.seconds)} after it left: nobody works round the clock`);
    case 'rest_too_short':
      return say(
        { restSeconds: trouble.restSeconds, wantedSeconds: trouble.wantedSeconds, nextDay: next?.day },
        `${back}: ${durationText(trouble.restSeconds)} of rest before its next shift at ${nextAt}, ${durationText(trouble.wantedSeconds)} are wanted`,
      );
    case 'past_overtime':
      return say(
        { overtimeSeconds, overtimeCostMinor: costMinor },
        `${back}, ${shift}: ${durationText(overtimeSeconds)} of overtime, ${cost}, where a plan uses at most ${durationText(crewDay.overtimeSeconds)}`,
      );
    case 'overtime':
      return say(
        { overtimeSeconds, overtimeCostMinor: costMinor },
        `${back}, ${shift}: ${durationText(overtimeSeconds)} of overtime, ${cost}`,
      );
    default:
      return trouble satisfies never;
  }
}

export const lateStops = (house: House, { told, day, nameOf, isPromised }: HandMadeDay): Said[] =>
  told.late.map(({ orderId, lateSeconds }) => {
    const stop = told.route.stops.find((each) => each.kind === 'visit' && each.orderId === orderId);
    const starts = stop?.startSeconds ?? 0;
    const promised = isPromised(orderId);
    return {
      code: 'late_start',
      facts: { workOrderId: orderId, lateSeconds, promised },
      text: plain(
        `${nameOf(orderId)} starts at ${clock(house, day, starts)}, ${durationText(lateSeconds)} after ${
          promised ? 'what was promised' : 'its hours end'
        } (${clock(house, day, starts - lateSeconds)})${promised ? ': phone the client' : ''}`,
      ),
    };
  });

/** How long a crew stands idle before it leaves: from its shift, or from when it is free. */
export const idleSeconds = (crewDay: CrewDay, route: ToldRoute['route']): number =>
  route.stops.length === 0
    ? 0
    : Math.max(0, route.leaveSeconds - (crewDay.underWay?.freeAtSeconds ?? crewDay.shiftStartSeconds));

/** Hours nobody works in: before the crew leaves, and at stops that may not begin yet. */
function idleHours(house: House, { crewDay, day, told, nameOf }: HandMadeDay, news: number): Said[] {
  const name = crewDay.crewName ?? crewDay.crewId;
  const said: Said[] = [];
  const idle = idleSeconds(crewDay, told.route);
  const from = crewDay.underWay?.freeAtSeconds ?? crewDay.shiftStartSeconds;
  if (idle >= news)
    said.push({
      code: 'idle_start',
      facts: { crewId: crewDay.crewId, day, idleSeconds: idle },
      text: `${name} leaves at ${clock(house, day, told.route.leaveSeconds)}, ${durationText(idle)} after ${
        crewDay.underWay ? 'it is free' : 'its shift begins'
      } at ${clock(house, day, from)}: nothing is planned before, put other work first`,
    });
  for (const stop of told.route.stops) {
    if (stop.kind !== 'visit' || stop.waitSeconds < news) continue;
    said.push({
      code: 'long_wait',
      facts: { workOrderId: stop.orderId, crewId: crewDay.crewId, day, waitSeconds: stop.waitSeconds },
      text: `${name} waits ${durationText(stop.waitSeconds)} before ${nameOf(stop.orderId)} may begin at ${clock(house, day, stop.startSeconds)}`,
    });
  }
  return said.map((each) => ({ ...each, text: plain(each.text) }));
}

function lateBreaks(house: House, { told, crewDay, day }: HandMadeDay): Said[] {
  const rests = told.route.stops.filter(({ kind }) => kind === 'break');
  return crewDay.breaks.flatMap((rest, i) => {
    const taken = rests[i];
    if (!taken && told.route.endSeconds > rest.latestStartSeconds)
      return {
        code: 'no_break',
        facts: { crewId: crewDay.crewId, day },
        text: plain(
          `${crewDay.crewName ?? crewDay.crewId} has no break, wanted by ${clock(house, day, rest.latestStartSeconds)}`,
        ),
      };
    if (!taken || taken.startSeconds <= rest.latestStartSeconds) return [];
    return {
      code: 'late_break',
      facts: { crewId: crewDay.crewId, day, startSeconds: taken.startSeconds },
      text: plain(
        `the break of ${crewDay.crewName ?? crewDay.crewId} begins at ${clock(house, day, taken.startSeconds)}, wanted by ${clock(house, day, rest.latestStartSeconds)}`,
      ),
    };
  });
}

/** Time of day; past midnight, with the day it is then. */
function clock({ units }: House, day: IsoDate, seconds: number): string {
  const ahead = Math.floor(Math.round(seconds / 60) / 1440);
  const time = clockText(seconds - ahead * DAY_SECONDS, units);
  return ahead === 0 ? time : `${time} on ${weekdayText(addDays(day, ahead))}`;
}

/** Sentences of an answer break anywhere. */
const plain = (text: string): string => text.replaceAll('\u00A0', ' ').replaceAll('\u202F', ' ');
