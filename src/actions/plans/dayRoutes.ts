import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Obstacle } from '../../domain/routing/ability.js';
import { driveAsTold, type ToldRoute } from '../../domain/routing/asTold.js';
import type { RoutingProblem } from '../../domain/routing/problem.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { Refused } from '../problems.js';
import { crewDayId } from './crewDays.js';
import type { Said, TravelTable } from './planTools.js';
import { askQuestion, liveStart, type Question, withTravel } from './problem.js';

/** What crews drive on some days, ready to be changed by hand. */
export interface DayBook {
  question: Question;
  problem: RoutingProblem;
  warnings: readonly Said[];
  /** Orders ahead on each live route, in sequence. */
  ahead: ReadonlyMap<string, readonly string[]>;
}

export async function openDays(
  house: House,
  stores: Stores,
  travel: TravelTable,
  ask: { fromDay: IsoDate; toDay: IsoDate; alsoOrder: string },
): Promise<DayBook> {
  const question = await askQuestion(house, stores, await ownerSettings(stores), ask);
  const { problem, warnings } = await withTravel(question, { travel });
  const ahead = new Map(liveStart(question).map(({ crewDayId: id, orderIds }) => [id, orderIds]));
  return { question, problem, warnings, ahead };
}

/** What a crew's day looks like with and without a change. */
export interface Consequence {
  crewId: string;
  crewName: string;
  day: IsoDate;
  before: DayFigures | null;
  after: DayFigures;
  /** Stops that start after their hours or promise ends. */
  late: { workOrderId: string; lateSeconds: number; promised: boolean }[];
}

export interface DayFigures {
  driveSeconds: number;
  driveMetres: number;
  overtimeSeconds: number;
  waitSeconds: number;
  endsAt: string;
  stops: number;
}

/**
 * Drives a crew's day as a person wants it.
 * @throws {Refused} `rule-broken` where kit, people, tanks or a season forbid it.
 */
export function toldRoute(
  book: DayBook,
  crewId: string,
  day: IsoDate,
  orderIds: readonly string[],
): ToldRoute {
  const told = driveAsTold(book.problem, crewDayId(crewId, day), orderIds);
  if (!('refused' in told)) return told;
  const { refused } = told;
  const broken = (pointer: string, detail: string, remedy: string) =>
    new Refused({ code: 'rule-broken', rule: 'placement', faults: [{ pointer, detail, remedy }] });
  switch (refused.code) {
    case 'unknown_crew_day':
      throw broken('#/crewId', `the crew does not work on ${day} (any more)`, 'a crew with a shift that day');
    case 'unknown_order':
      throw broken(
        '#/afterWorkOrderId',
        `order ${refused.id} cannot be placed`,
        'an order that is on the route',
      );
    case 'closed_day':
      throw broken(
        '#/day',
        `${nameOf(book, refused.orderId)} is not open on ${day} (its hours, or not before a later day)`,
        'another day',
      );
    case 'tanks':
      throw broken(
        '#/crewId',
        'its tanks do not suffice, and no depot fills or empties them',
        'another crew',
      );
    case 'obstacle':
      throw broken('#/crewId', hindrance(book, refused.orderId, refused.obstacle), 'another crew or day');
    default:
      return refused satisfies never;
  }
}

const nameOf = ({ problem }: DayBook, orderId: string): string =>
  problem.orders.find(({ id }) => id === orderId)?.name ?? orderId;

function hindrance(book: DayBook, orderId: string, obstacle: Obstacle): string {
  const name = nameOf(book, orderId);
  switch (obstacle.code) {
    case 'no_kit':
      return `${name} needs ${obstacle.kind.replaceAll('_', ' ')}, which the crew has not`;
    case 'no_people':
      return `${name} needs ${obstacle.people} people`;
    case 'tank_too_small':
      return `${name} takes ${obstacle.litres} L, more than the crew's tank holds`;
    case 'closed_season':
      return `${name} is not done that day from the crew's depot: closed season`;
    case 'crew_not_allowed':
      return `${name} is locked to another crew`;
    default:
      return obstacle satisfies never;
  }
}

/** A change's consequences for one crew and day. */
export function consequenceOf(
  house: House,
  book: DayBook,
  crewId: string,
  day: IsoDate,
  told: ToldRoute,
): Consequence {
  const promised = new Set(book.question.promises.map(({ workOrderId }) => workOrderId));
  const crew = book.question.books.crews.find((row) => row['id'] === crewId);
  const now = driveAsTold(book.problem, crewDayId(crewId, day), book.ahead.get(crewDayId(crewId, day)) ?? []);
  return {
    crewId,
    crewName: String(crew?.['name'] ?? ''),
    day,
    before: 'refused' in now ? null : figuresOf(house, day, now),
    after: figuresOf(house, day, told),
    late: told.late.map(({ orderId, lateSeconds }) => ({
      workOrderId: orderId,
      lateSeconds,
      promised: promised.has(orderId),
    })),
  };
}

const figuresOf = (house: House, day: IsoDate, { route }: ToldRoute): DayFigures => ({
  driveSeconds: route.travelSeconds,
  driveMetres: route.travelMetres,
  overtimeSeconds: route.overtimeSeconds,
  waitSeconds: route.stops.reduce((sum, stop) => sum + stop.waitSeconds, 0),
  endsAt: house.zone.instantOf(day, route.endSeconds).toISOString(),
  stops: route.stops.filter(({ kind }) => kind === 'visit').length,
});
