import { type Obstacle, obstacle } from './ability.js';
import { spansOn } from './orderTerms.js';
import type { UnplacedCode, UnplacedOrder } from './plan.js';
import type { CrewDay, Order, RoutingProblem } from './problem.js';

/** Why an order has no place: stable code, its numbers, one sentence for people. */
export type Reason = Pick<UnplacedOrder, 'code' | 'facts' | 'text'>;

export function reason(code: UnplacedCode, facts: Reason['facts'], text: string): Reason {
  return { code, facts, text };
}

/** Whom a sentence is about: every crew there is, or one. */
export interface Whom {
  /** Null: no crew at all can do it. */
  readonly crewName: string | null;
  /** As "on Thu 1 Oct 2026". */
  readonly when: string;
}

/**
 * What keeps an order from a crew, or from all of them, whatever the hour. The one place where these sentences
 * are written, for plans, for places offered and for placing by hand.
 */
function obstacleReason(order: Order, code: Obstacle['code'], { crewName, when }: Whom): Reason {
  const tanks = `${order.waterLitres} L of water and ${order.wasteLitres} L of waste`;
  const say = (facts: Reason['facts'], nobody: string, one: (name: string) => string) =>
    reason(code, facts, crewName === null ? `${nobody} ${when}` : `${one(crewName)} ${when}`);
  switch (code) {
    case 'crew_not_allowed':
      return say(
        {},
        'no crew that is allowed to works',
        (name) => `${name} is not allowed to: it is locked to another crew`,
      );
    case 'no_kit':
      return say(
        { needs: order.needs },
        `no ${crewWith(order.needs)}`,
        (name) => `${name} is no ${crewWith(order.needs)}`,
      );
    case 'no_people':
      return say(
        { people: order.people },
        `no ${crewWith(order.needs)} of ${order.people} people`,
        (name) => `${name} is fewer than ${order.people} people`,
      );
    case 'tank_too_small':
      return say(
        { waterLitres: order.waterLitres, wasteLitres: order.wasteLitres },
        `no able crew's tanks hold ${tanks}`,
        (name) => `the tanks of ${name} do not hold ${tanks}`,
      );
    case 'closed_season':
      return say(
        {},
        'rain or a closed season keeps it from the depot of every able crew',
        (name) => `rain or a closed season keeps it from the depot of ${name}`,
      );
    default:
      return code satisfies never;
  }
}

/** Farthest from done first: a crew that lacks kit is farther from it than one that rain keeps away. */
const NEARER = ['crew_not_allowed', 'no_kit', 'no_people', 'tank_too_small', 'closed_season'] as const;

/** As `noCrewReason` among the crews that are free before the order's hours end. */
export function noCrewInTime(
  order: Order,
  { crewDays, days, sharedKit }: Pick<RoutingProblem, 'crewDays' | 'days' | 'sharedKit'>,
): Reason | null {
  const inTime = crewDays.filter((crewDay) => {
    const freeAt = crewDay.underWay?.freeAtSeconds ?? crewDay.shiftStartSeconds;
    return spansOn(order, crewDay.day).some(({ to }) => freeAt <= to);
  });
  return noCrewReason(order, { crewDays: inTime, days, sharedKit });
}

/**
 * Why no crew-day fits whatever the hour: the obstacle of the one that comes nearest; null when one fits.
 *
 * @param when As "on Thu 1 Oct 2026": the days that the crew-days are of.
 */
export function noCrewReason(
  order: Order,
  { crewDays, days, sharedKit }: Pick<RoutingProblem, 'crewDays' | 'days' | 'sharedKit'>,
  when: string = onDays(order, days),
): Reason | null {
  const open = crewDays.filter((crewDay) => spansOn(order, crewDay.day).length > 0);
  if (open.length === 0)
    return reason('no_crew_that_day', { days: openDays(order, days) }, `no crew works ${when}`);
  const found = open.map((crewDay) => obstacle(order, crewDay, sharedKit));
  if (found.includes(null)) return null;
  const nearest = NEARER.findLast((code) => found.some((one) => one?.code === code));
  if (nearest === undefined) return null;
  const said = obstacleReason(order, nearest, { crewName: null, when });
  return { ...said, facts: { ...said.facts, days: openDays(order, days) } };
}

/** Why one crew-day does not fit whatever the hour. */
export function crewReason(order: Order, crewDay: CrewDay, found: Obstacle, days: readonly string[]): Reason {
  return obstacleReason(order, found.code, {
    crewName: crewDay.crewName ?? crewDay.crewId,
    when: `on ${days[crewDay.day] ?? crewDay.day}`,
  });
}

export function openDays(order: Order, days: readonly string[]): string[] {
  return days.filter((_, day) => spansOn(order, day).length > 0);
}

export function onDays(order: Order, days: readonly string[]): string {
  const [first, ...more] = openDays(order, days);
  if (first === undefined) return 'on the days it may be done';
  return more.length === 0 ? `on ${first}` : 'on any day';
}

/** "crew with a jetter and an excavator". */
export function crewWith(needs: readonly string[]): string {
  return needs.length === 0 ? 'crew' : `crew with ${listed(needs.map(withArticle))}`;
}

function withArticle(kind: string): string {
  const name = spoken(kind);
  if (name.endsWith('s')) return name;
  return /^[aeiou]/.test(name) ? `an ${name}` : `a ${name}`;
}

export function spoken(kind: string): string {
  return kind.replaceAll('_', ' ');
}

export function listed(names: readonly string[]): string {
  return names.length < 2 ? names.join('') : `${names.slice(0, -1).join(', ')} and ${names.at(-1)}`;
}
