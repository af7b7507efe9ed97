import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { recordingChanges } from '../desk/publishing.js';
import { askWhatIsMissing } from '../desk/questions.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import { type Basis, changedSince } from './basis.js';
import type { Said } from './planTools.js';
import { askQuestion } from './problem.js';
import { faultsNow } from './routesNow.js';

/** What has changed since the plan was searched of the things it touches; empty: it still holds. */
export async function changesUnder(house: House, stores: Stores, plan: Row): Promise<Said[]> {
  if (plan['basis'] === null) return [];
  const today = house.zone.dayOf(house.clock.now());
  if (String(plan['from_day']) < today)
    return [
      { code: 'day_over', facts: { day: plan['from_day'] }, text: `${String(plan['from_day'])} is over` },
    ];
  const question = await askQuestion(house, stores, await ownerSettings(stores), {
    fromDay: String(plan['from_day']),
    toDay: String(plan['to_day']),
  });
  const basis = plan['basis'] as Basis;
  const changed = changedSince(basis, question);
  if (changed.length > 0) return changed;
  const routes = await stores.plans.planRoutes(String(plan['id']));
  return faultsNow(house, question, routes, basis);
}

const daysOf = (plan: Row): IsoDate[] => {
  const days: IsoDate[] = [];
  for (let day = String(plan['from_day']); day <= String(plan['to_day']); day = addDays(day, 1))
    days.push(day);
  return days;
};

async function lockedPlan(stores: Stores, planId: string, allowed: string[], detail: string): Promise<Row> {
  const plan = await stores.rows.lock('plan', planId);
  if (!plan) throw new Refused({ code: 'not-found', resource: 'plan', id: planId });
  const state = String(plan['state']);
  if (!allowed.includes(state))
    throw new Refused({ code: 'wrong-state', resource: 'plan', id: planId, state, allowed, detail });
  return plan;
}

/**
 * The plan's routes become what crews drive. Who changes the routes of a day takes turns; a plan that rests on
 * what has changed is refused.
 *
 * @throws {Refused} `plan-stale` with what changed; `wrong-state`.
 */
export async function acceptPlan(
  house: House,
  stores: Stores,
  planId: string,
  acceptedBy: string,
): Promise<Row> {
  const asked = await stores.rows.get('plan', planId);
  if (!asked) throw new Refused({ code: 'not-found', resource: 'plan', id: planId });
  // Days before the plan: whoever holds them may be making this plan stale.
  await stores.plans.acquireDays(daysOf(asked));
  const plan = await lockedPlan(stores, planId, ['proposed'], 'Only a proposal can be accepted.');
  const changed = await changesUnder(house, stores, plan);
  if (changed.length > 0)
    throw new Refused({ code: 'plan-stale', planId, changed: changed.map(({ text }) => text) });
  return makePlanLive(house, stores, planId, acceptedBy);
}

/** The last step of every plan, whoever made it; the caller holds its days. */
export async function makePlanLive(
  house: House,
  stores: Stores,
  planId: string,
  acceptedBy: string,
): Promise<Row> {
  const because = String((await stores.rows.get('plan', planId))?.['because']);
  await recordingChanges(house, stores, { by: acceptedBy, because }, () => stores.plans.makeLive(planId));
  await askWhatIsMissing(stores, planId);
  const plan = await stores.rows.update('plan', planId, {
    state: 'accepted',
    basis: null,
    accepted_at: house.clock.now().toISOString(),
    accepted_by: acceptedBy,
  });
  if (!plan) throw new RangeError(`there is no plan ${planId}`);
  await stores.plans.markOthersStale(planId, {
    code: 'other_plan_accepted',
    facts: { planId },
    text: `another plan for the same days was accepted (${String(plan['because'])})`,
  });
  return plan;
}

/** Keeps on record that a proposal has gone stale, and why. */
export async function markStale(house: House, planId: string): Promise<void> {
  await house.transact({ name: 'planner' }, async (stores) => {
    const plan = await stores.rows.lock('plan', planId);
    if (plan?.['state'] !== 'proposed') return;
    const changed = await changesUnder(house, stores, plan);
    if (changed.length > 0)
      await stores.rows.update('plan', planId, {
        state: 'stale',
        basis: null,
        stale_because: JSON.stringify(changed),
      });
  });
}

/** Nobody wants the plan: a search under way ends, a proposal is history. */
export async function discardPlan(stores: Stores, planId: string): Promise<Row> {
  const plan = await lockedPlan(
    stores,
    planId,
    ['searching', 'proposed', 'stale'],
    'What crews drive is replaced by accepting another plan.',
  );
  return (await stores.rows.update('plan', planId, { state: 'discarded', basis: null })) ?? plan;
}

/** The search stops at its next beat and proposes the best it has. */
export async function endSearch(stores: Stores, planId: string): Promise<Row> {
  const plan = await lockedPlan(stores, planId, ['searching'], 'Only a search under way can be ended.');
  return (await stores.rows.update('plan', planId, { search_seconds: 0 })) ?? plan;
}
