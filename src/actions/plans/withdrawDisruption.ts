import type { House, Stores } from '../house.js';
import type { Actor, Row } from '../ports.js';
import { Refused } from '../problems.js';
import type { Said } from './planTools.js';
import { discardPlan } from './settlePlan.js';

const OPEN_PLANS = ['searching', 'proposed', 'stale'];

/**
 * The crew comes after all, the rain stays away: the absence or closed season no longer counts, and the plan asked
 * for it is discarded unless crews drive it.
 *
 * @throws {Refused} `not-found`; `wrong-state` once it was withdrawn or its days are over.
 */
export async function withdrawDisruption(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  id: string,
): Promise<{ disruption: Row; plan: Row; stays: Said | null }> {
  const disruption = await stores.rows.lock('disruption', id);
  if (!disruption) throw new Refused({ code: 'not-found', resource: 'disruption', id });
  const state = stateOf(house, disruption);
  if (state !== 'in_force')
    throw new Refused({
      code: 'wrong-state',
      resource: 'disruption',
      id,
      state,
      allowed: ['in_force'],
      detail: 'What was taken back, or is over, changes no day to come.',
    });
  const now = house.clock.now().toISOString();
  const [table, recordId] = recordOf(disruption);
  await stores.rows.update(table, recordId, { withdrawn_at: now });
  const withdrawn = await stores.rows.update('disruption', id, {
    withdrawn_at: now,
    withdrawn_by: actor.name,
  });
  const plan = await stores.rows.get('plan', String(disruption['plan_id']));
  if (!plan || !withdrawn) throw new RangeError(`disruption ${id} has no plan`);
  if (OPEN_PLANS.includes(String(plan['state'])))
    return { disruption: withdrawn, plan: await discardPlan(stores, String(plan['id'])), stays: null };
  return { disruption: withdrawn, plan, stays: plan['state'] === 'accepted' ? routesStay(plan) : null };
}

export type DisruptionState = 'in_force' | 'withdrawn' | 'over';

export function stateOf(house: House, disruption: Row): DisruptionState {
  if (disruption['withdrawn_at'] !== null) return 'withdrawn';
  return String(disruption['to_day']) < house.zone.dayOf(house.clock.now()) ? 'over' : 'in_force';
}

const recordOf = (disruption: Row): ['absence' | 'closed_season', string] =>
  disruption['absence_id'] === null
    ? ['closed_season', String(disruption['closed_season_id'])]
    : ['absence', String(disruption['absence_id'])];

const routesStay = (plan: Row): Said => ({
  code: 'routes_stay',
  facts: { planId: plan['id'] },
  text: `Crews drive the routes of the plan made for it (${String(plan['because'])}) until another is accepted: ask for one with POST /v1/plans.`,
});

/** What stays in force when the plan asked for it is discarded; null: nothing. */
export async function staysInForce(house: House, stores: Stores, planId: string): Promise<Said | null> {
  const [disruption] = await stores.rows.all('disruption', [{ column: 'plan_id', is: '=', value: planId }]);
  if (!disruption || stateOf(house, disruption) !== 'in_force') return null;
  const { day, to_day: toDay, name } = disruption;
  const days = day === toDay ? `on ${String(day)}` : `from ${String(day)} to ${String(toDay)}`;
  return {
    code: 'disruption_in_force',
    facts: { disruptionId: disruption['id'], kind: disruption['kind'], day, toDay },
    text: `What was reported stays in force ${days} (${String(name)}): every new plan goes by it. POST /v1/disruptions/${String(disruption['id'])}/withdrawal takes it back.`,
  };
}
