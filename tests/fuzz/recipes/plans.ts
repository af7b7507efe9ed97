import type { Ground, Recipe } from '../asks.js';
import { dayFrom } from '../values.js';
import {
  bareRoute,
  liveRoute,
  newOrder,
  placedByHand,
  proposedPlan,
  searchingPlan,
  today,
  todaysRoute,
} from '../works.js';
import { having, onId, onOrder, soon, weekday } from './shape.js';

/** A question about the year to come that has its answer. */
async function answeredWhatIf({ door, t }: Ground): Promise<string | undefined> {
  const { body: list } = await door.as('owner', 'GET', '/v1/what-ifs?limit=200');
  const done = ((list?.items ?? []) as { id: string; state: string }[]).find(({ state }) => state === 'done');
  if (done) return done.id;
  const id = await door.make('what-ifs', { extraCrews: 1 });
  await t.work();
  return id;
}

/** One short in a crew, taken back where that day's crew is short already. */
async function disruption(ground: Ground): Promise<string> {
  const answer = await ground.door.as('owner', 'POST', '/v1/disruptions', {
    kind: 'crew_short',
    crewId: ground.chance.of(ground.t.firm.crewIds),
    people: 1,
    day: weekday(ground),
    searchSeconds: 1,
  });
  if (answer.status !== 202) throw new Error(`nothing was upset: ${answer.text}`);
  return answer.body.disruption.id;
}

/** Plans, routes, nights and what-ifs. */
export const PLANS: Record<string, Recipe> = {
  getRoute: onId(async (ground) => (await liveRoute(ground))?.id),
  printRouteSheet: async (ground, draft) => ({
    ...(await onId(async () => (await liveRoute(ground))?.id)(ground, draft)),
    headers: ground.chance.is(0.1) ? { accept: 'application/pdf' } : {},
  }),
  listRoutes: (ground, draft) => ({
    query: { ...draft.query, day: dayFrom(ground.known.now, ground.chance.whole(0, 5)) },
  }),
  publishRoute: onId(async (ground) => (await liveRoute(ground))?.id),
  listRouteChanges: onId(async (ground) => (await liveRoute(ground))?.id),
  closeRoute: async (ground, draft) => {
    const route = ground.chance.is(0.3) ? await todaysRoute(ground) : undefined;
    return {
      path: { ...draft.path, id: route ?? (await bareRoute(ground)) },
      body: { restBecause: 'out_of_time', leaveRunning: true },
    };
  },
  closeDay: async (ground) => ({
    path: { day: ground.chance.is(0.8) ? today(ground) : soon(ground) },
    body: { restBecause: 'out_of_time', leaveRunning: true },
  }),
  publishDay: async (ground, draft) => ({
    path: { day: (await liveRoute(ground))?.day ?? draft.path['day'] ?? '' },
  }),
  askForPlan: having(() => ({}), 'fromDay'),
  acceptPlan: onId(proposedPlan),
  undoPlacement: onId(async (ground) => {
    const { id } = await newOrder(ground);
    return (await placedByHand(ground, id))?.planId;
  }),
  discardPlan: onId((ground) => searchingPlan(ground)),
  endPlanSearch: onId((ground) => searchingPlan(ground)),
  offerPlaces: onOrder(newOrder),
  offerDays: onOrder(newOrder),
  placeWorkOrder: async (ground) => {
    const { id } = await newOrder(ground);
    const { body: offer } = await ground.door.as('owner', 'GET', `/v1/work-orders/${id}/places`);
    const [first] = offer?.places ?? [];
    return {
      path: { id },
      headers: { 'if-match': `"${offer?.version ?? 1}"` },
      body: {
        crewId: first?.crewId ?? ground.t.firm.crewIds[0],
        day: first?.day ?? today(ground),
        afterWorkOrderId: first?.afterWorkOrderId ?? null,
        ...(ground.chance.is(0.4) ? { tryOnly: true } : {}),
      },
    };
  },
  lockWorkOrder: onOrder(
    newOrder,
    (ground) => ({ day: soon(ground), crewId: ground.chance.of(ground.t.firm.crewIds) }),
    'from',
    'to',
    'sequence',
  ),
  unlockWorkOrder: onOrder(newOrder),
  reportDisruption: (ground) => ({
    body: {
      kind: 'crew_short',
      crewId: ground.chance.of(ground.t.firm.crewIds),
      people: 1,
      day: weekday(ground),
      searchSeconds: 1,
    },
  }),
  withdrawDisruption: onId(disruption),
  startNightlyRun: (ground) => ({
    body: ground.chance.is(0.5) ? { businessDay: today(ground), again: true } : {},
  }),
  askWhatIf: (ground) => ({ body: { extraCrews: ground.chance.of([-1, 0, 1]) } }),
  getWhatIf: onId(answeredWhatIf),
  drawWhatIf: onId(answeredWhatIf),
};
