import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { ToldRoute } from '../../domain/routing/asTold.js';
import { overtimePrice } from '../../domain/routing/overtime.js';
import type { CrewDay } from '../../domain/routing/problem.js';
import { shiftAfterNight } from '../../domain/work/onCall.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { durationText } from '../../papers/printed.js';
import type { House } from '../house.js';
import type { Books } from './books.js';
import { instantText } from './calls.js';
import type { AtHand, OnCallCrew } from './onCallDays.js';
import type { Said } from './planTools.js';

/** What sending a crew out of its shift means: who goes, and what becomes of its next shift. */
export interface OnCallFacts {
  people: AtHand[];
  peopleNeeded: number;
  /** Back at its depot, as planned. */
  backAt: string;
  /** Null: none in the coming week. */
  nextShift: {
    day: IsoDate;
    startsAt: string;
    /** Less than zero: it has begun before the crew is back. */
    restSeconds: number;
    wantedRestSeconds: number;
    /** With the rest wanted; null: the rest lasts to its end and beyond. */
    becomesAt: string | null;
    /** Visits of that shift that stand before then. */
    before: { workOrderId: string; number: number; startsAt: string }[];
  } | null;
}

export function onCallFacts(
  house: House,
  { restHours, orders }: Pick<Books, 'restHours' | 'orders'>,
  { people, nextShift }: OnCallCrew,
  day: IsoDate,
  { route }: ToldRoute,
): OnCallFacts {
  const backAt = house.zone.instantOf(day, route.endSeconds);
  const visited = route.stops.flatMap((stop) => (stop.kind === 'visit' ? [stop.orderId] : []));
  const peopleNeeded = Math.max(
    1,
    ...orders.filter((row) => visited.includes(String(row['id']))).map((row) => Number(row['people'])),
  );
  const facts = { people, peopleNeeded, backAt: backAt.toISOString() };
  if (!nextShift) return { ...facts, nextShift: null };
  const { restMs, startsAt } = shiftAfterNight(backAt.getTime(), nextShift, restHours);
  const iso = (instant: number) => new Date(instant).toISOString();
  return {
    ...facts,
    nextShift: {
      day: nextShift.day,
      startsAt: iso(nextShift.from),
      restSeconds: Math.round(restMs / 1000),
      wantedRestSeconds: Math.round(restHours * 3600),
      becomesAt: startsAt === null ? null : iso(startsAt),
      before: nextShift.visits
        .filter((visit) => visit.startsAt < (startsAt ?? Infinity))
        .filter(({ workOrderId }) => !visited.includes(workOrderId))
        .map((visit) => ({ ...visit, startsAt: iso(visit.startsAt) })),
    },
  };
}

/** The same in sentences. */
export function onCallWarnings(
  house: House,
  crewDay: CrewDay,
  called: OnCallCrew,
  facts: OnCallFacts,
  told: ToldRoute,
  ofOtherCrews: readonly OnCallCrew[],
): Said[] {
  if (told.route.stops.length === 0) return [];
  return [
    ...tooFew(crewDay, called, facts, ofOtherCrews),
    ...overtime(house, crewDay, facts, told),
    ...rest(house, crewDay, facts),
  ];
}

function tooFew(
  { crewName }: CrewDay,
  { others }: OnCallCrew,
  { people, peopleNeeded }: OnCallFacts,
  ofOtherCrews: readonly OnCallCrew[],
): Said[] {
  if (people.length >= peopleNeeded) return [];
  const who = people
    .map((each) => `${phoneOf(each)} is ${each.calledOut ? 'called out' : 'on call'}`)
    .join(', ');
  const more = others.map(phoneOf).join(', ');
  const elsewhere = ofOtherCrews.flatMap(({ crew, people: them }) =>
    them.map((each) => `${phoneOf(each)} of ${String(crew['name'])}`),
  );
  const joins =
    elsewhere.length === 0
      ? ''
      : `; of other crews ${elsewhere.join(', ')} ${elsewhere.length === 1 ? 'is' : 'are'} on call or called out and may come along: one party of two crews is not planned, its call-out (POST /v1/call-outs) gives the rest and the right to write`;
  return [
    {
      code: 'too_few_on_call',
      facts: { onCall: people.length, people: peopleNeeded, ofOtherCrews: elsewhere.length },
      text: `${peopleNeeded} must go (setting people): ${who || `nobody of ${String(crewName)} is on call`}; phone ${
        more ? `a second person (of ${String(crewName)}: ${more})` : 'a second person'
      } before anybody leaves, and record the call-out${joins}`,
    },
  ];
}

const phoneOf = ({ name, phone }: Pick<AtHand, 'name' | 'phone'>): string =>
  `${name} (${phone ?? 'no phone on record'})`;

function overtime(house: House, crewDay: CrewDay, { backAt }: OnCallFacts, { route }: ToldRoute): Said[] {
  const costMinor = overtimePrice(route.overtimeSeconds, crewDay.overtimePerHour);
  return [
    {
      code: 'overtime',
      facts: { crewId: crewDay.crewId, overtimeSeconds: route.overtimeSeconds, overtimeCostMinor: costMinor },
      text: plain(
        `${String(crewDay.crewName)} goes out of its shift and is back at ${instantText(house, new Date(backAt))}: ${durationText(route.overtimeSeconds)} of overtime, ${moneyText(costMinor, currencyOf(house.currency), 2)}`,
      ),
    },
  ];
}

/** What of its rest is broken, and what its next shift becomes. */
function rest(house: House, { crewName, crewId }: CrewDay, { nextShift }: OnCallFacts): Said[] {
  if (!nextShift || nextShift.startsAt === nextShift.becomesAt) return [];
  const { day, restSeconds, wantedRestSeconds, startsAt, becomesAt, before } = nextShift;
  const when = `its next shift at ${instantText(house, new Date(startsAt))}`;
  const left =
    restSeconds < 0
      ? `${when} has begun before it is back`
      : `${durationText(restSeconds)} of rest before ${when}, ${durationText(wantedRestSeconds)} are wanted`;
  const becomes =
    becomesAt === null
      ? 'who goes does not work in it'
      : `it begins at ${instantText(house, new Date(becomesAt))} instead`;
  const stand =
    before.length === 0
      ? ''
      : `; ${before.length === 1 ? 'order' : 'orders'} ${before.map(({ number }) => number).join(', ')} ${before.length === 1 ? 'stands' : 'stand'} before then: plan that day anew (POST /v1/plans)`;
  return [
    {
      code: 'rest_too_short',
      facts: { crewId, nextDay: day, restSeconds, wantedSeconds: wantedRestSeconds, becomesAt },
      text: plain(`${String(crewName)}: ${left}: ${becomes}${stand}`),
    },
  ];
}

/** Sentences of an answer break anywhere. */
const plain = (text: string): string => text.replaceAll('\u00A0', ' ').replaceAll('\u202F', ' ');
