import type { OvertimeBought, Plan } from '../../domain/routing/plan.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { durationText, weekdayText } from '../../papers/printed.js';
import type { House } from '../house.js';
import type { Question } from './problem.js';

/** Each route's overtime with its cost, and what it bought. */
export function overtimeSaid(house: House, question: Question, plan: Pick<Plan, 'overtime'>) {
  return plan.overtime.map((bought) => {
    const { crewId, day } = question.crewDayOf.get(bought.crewDayId) ?? { crewId: '', day: '' };
    const without = bought.without.map(({ orderId, place }) => {
      const on = place && (question.days[place.day] ?? '');
      return {
        workOrderId: orderId,
        place:
          place && on !== null
            ? {
                crewId: place.crewId,
                day: on,
                startsAt: house.zone.instantOf(on, place.startSeconds).toISOString(),
              }
            : null,
      };
    });
    return {
      crewId,
      day,
      seconds: bought.overtimeSeconds,
      costMinor: bought.overtimeCost,
      without,
      extraCostMinor: bought.extraCost,
      text: wordsOf(house, question, bought, without, `${crewName(question, crewId)} on ${weekdayText(day)}`),
    };
  });
}

interface Leaves {
  workOrderId: string;
  place: { crewId: string; day: string } | null;
}

function wordsOf(
  house: House,
  question: Question,
  { overtimeSeconds, overtimeCost, extraCost }: OvertimeBought,
  without: readonly Leaves[],
  whoAndWhen: string,
): string {
  const money = (minor: number) => moneyText(minor, currencyOf(house.currency));
  const bought = without.map(
    ({ workOrderId, place }) =>
      `${numberOf(question, workOrderId)} would ${
        place ? `go to ${crewName(question, place.crewId)} on ${weekdayText(place.day)}` : 'be left out'
      }`,
  );
  const why =
    extraCost === null
      ? 'no order can leave the route for another'
      : `without it ${bought.join(', ')}, ${money(extraCost)} dearer in all`;
  return `${whoAndWhen}: ${durationText(overtimeSeconds)} of overtime, ${money(overtimeCost)}; ${why}`.replaceAll(
    /[\u00A0\u202F]/g,
    ' ',
  );
}

const numberOf = ({ problem }: Question, orderId: string): string =>
  problem.orders.find(({ id }) => id === orderId)?.name ?? orderId;

const crewName = ({ books }: Question, crewId: string): string =>
  String(books.crews.find((row) => row['id'] === crewId)?.['name']);
