import createClient, { type Client } from 'openapi-fetch';
import type { components, paths } from 'openbore-api';

/** The service as a front end sees it: nothing but what `openapi.json` says. */
export type Openbore = Client<paths, 'application/json'>;
export const openbore = (baseUrl: string, key: string): Openbore =>
  createClient<paths, 'application/json'>({ baseUrl, headers: { authorization: `Bearer ${key}` } });

type Schemas = components['schemas'];

/** The answer, or an error with the problem document in it. */
function must<T>({ data, error }: { data?: T; error?: unknown }): NonNullable<T> {
  if (data === undefined || data === null) throw new Error(JSON.stringify(error));
  return data;
}

/** The owner takes somebody on: a member, in a crew, with a key. */
export async function takeOn(owner: Openbore, name: string, crewName: string, fromDay: string) {
  const crews = must(await owner.GET('/v1/crews', { params: { query: { limit: 200 } } })).items;
  const crew = crews.find((each) => each.name === crewName);
  if (!crew) throw new Error(`no crew ${crewName}`);
  const member = must(await owner.POST('/v1/members', { body: { name } }));
  must(await owner.POST('/v1/crew-memberships', { body: { crewId: crew.id, memberId: member.id, fromDay } }));
  const key = must(
    await owner.POST('/v1/keys', { body: { name, roles: ['technician'], memberId: member.id } }),
  );
  if (key.key === null) throw new Error('the key was not shown');
  return key.key;
}

/** The dispatcher, the day before: an order for every line on the books, a plan, accepted. */
export async function planTheDay(office: Openbore, day: string, letSearch: () => Promise<void>) {
  const lines = must(
    await office.GET('/v1/lines', { params: { query: { kind: 'footing_drain', limit: 200 } } }),
  ).items;
  const orders: string[] = [];
  for (const line of lines) {
    const order = must(
      await office.POST('/v1/work-orders', {
        body: {
          siteId: line.siteId,
          because: 'the owner asked',
          tasks: [{ kind: 'jet', lineId: line.id }],
          wantedBy: day,
        },
      }),
    );
    orders.push(order.id);
  }
  const asked = must(
    await office.POST('/v1/plans', { body: { fromDay: day, workingDays: 1, searchSeconds: 1, seed: 1 } }),
  );
  await letSearch();
  const path = { params: { path: { id: asked.id } } };
  const proposed = must(await office.GET('/v1/plans/{id}', path));
  if (proposed.state !== 'proposed') throw new Error(`the plan is ${proposed.state}`);
  const accepted = must(await office.POST('/v1/plans/{id}/acceptance', path));
  return { orders, unplaced: proposed.unplaced.length, state: accepted.state };
}

/** The dispatcher, in the morning: crews are told. */
export const publishTheDay = async (office: Openbore, day: string) =>
  must(await office.POST('/v1/days/{day}/publication', { params: { path: { day } } })).published;

/** The technician: own route, the first visit by single calls, the second by sync; later ones are left. */
export async function liveTheDay(phone: Openbore, day: string, newId: () => string) {
  const route = must(await phone.GET('/v1/routes', { params: { query: { day } } })).items[0];
  const visits = (route?.stops ?? []).flatMap(({ workOrder, site }) =>
    workOrder && site ? [{ workOrder, site }] : [],
  );
  const [first, second] = visits;
  if (!first || !second) throw new Error('fewer than two visits on the route');
  await visitInReach(phone, first.workOrder.id, lineOf(first.workOrder.tasks), day);
  const synced = await visitOutOfReach(
    phone,
    second.workOrder.id,
    lineOf(second.workOrder.tasks),
    day,
    newId,
  );
  return { visits: visits.map(({ workOrder }) => workOrder.id), synced };
}

function lineOf(tasks: readonly { lineId: string | null }[]): string {
  const line = tasks.find(({ lineId }) => lineId !== null)?.lineId;
  if (!line) throw new Error('a visit without a line');
  return line;
}

const ENDED = {
  result: 'done',
  flowProven: 'yes',
  water: { receiver: 'caught', sludgeTo: 'depot' },
  pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
} as const;

async function visitInReach(phone: Openbore, workOrderId: string, lineId: string, day: string) {
  const path = { params: { path: { id: workOrderId } } };
  must(
    await phone.POST('/v1/work-orders/{id}/start', {
      ...path,
      body: { startedAt: `${day}T14:00:00Z`, cautionsSeen: true },
    }),
  );
  must(
    await phone.POST('/v1/inspections', {
      body: {
        workOrderId,
        lineId,
        observedAt: `${day}T14:05:00Z`,
        phase: 'before_cleaning',
        reading: { method: 'camera', share: 0.4 },
      },
    }),
  );
  must(
    await phone.POST('/v1/cleans', {
      body: { workOrderId, lineId, cleanedAt: `${day}T14:30:00Z`, task: 'jet', passes: 2, flowProven: 'yes' },
    }),
  );
  must(
    await phone.POST('/v1/work-orders/{id}/finish', {
      ...path,
      body: { ...ENDED, endedAt: `${day}T15:00:00Z` },
    }),
  );
}

async function visitOutOfReach(
  phone: Openbore,
  workOrderId: string,
  lineId: string,
  day: string,
  newId: () => string,
) {
  const [start, look, clean, finish] = [newId(), newId(), newId(), newId()];
  const items: Schemas['SyncItem'][] = [
    {
      kind: 'finish',
      id: finish,
      at: `${day}T17:00:00Z`,
      workOrderId,
      after: [start, look, clean],
      ...ENDED,
    },
    { kind: 'clean', id: clean, at: `${day}T16:30:00Z`, workOrderId, lineId, task: 'jet', flowProven: 'yes' },
    {
      kind: 'inspection',
      id: look,
      at: `${day}T16:10:00Z`,
      workOrderId,
      lineId,
      phase: 'before_cleaning',
      reading: { method: 'by_word', word: 'light' },
    },
    { kind: 'start', id: start, at: `${day}T16:00:00Z`, workOrderId, cautionsSeen: true },
  ];
  const answer = must(await phone.POST('/v1/sync', { body: { sentAt: `${day}T20:00:00Z`, items } }));
  return answer.items.map(({ outcome }) => outcome);
}

/** The dispatcher, in the evening: the day closed, and how each order stands. */
export async function closeTheDay(office: Openbore, day: string, orders: readonly string[]) {
  const closed = must(
    await office.POST('/v1/days/{day}/closing', {
      params: { path: { day } },
      body: { restBecause: 'out_of_time' },
    }),
  ).items;
  const standing = new Map<string, Schemas['WorkOrder']['state']>();
  for (const id of orders)
    standing.set(id, must(await office.GET('/v1/work-orders/{id}', { params: { path: { id } } })).state);
  const book = must(await office.GET('/v1/days/{day}', { params: { path: { day } } }));
  return { closed, standing, book };
}
