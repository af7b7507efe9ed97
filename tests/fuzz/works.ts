import type { Ground } from './asks.js';
import { dayFrom } from './values.js';

/** Minutes before now, as an instant. */
export const ago = ({ known }: Ground, minutes: number): string =>
  new Date(known.now.getTime() - minutes * 60_000).toISOString();

export const today = ({ known }: Ground): string => dayFrom(known.now, 0);

/** A line nobody has work on yet, on the place's own system. */
export const newLine = (ground: Ground): Promise<string> =>
  ground.door.make('lines', {
    siteId: ground.place.siteId,
    systemId: ground.place.systemId,
    name: 'Footing',
    kind: 'footing_drain',
    length: { value: 12, unit: 'm' },
    drainsTo: 'pit',
    drainsToPitId: ground.place.pitId,
  });

export interface NewOrder {
  id: string;
  taskId: string;
  lineId: string;
}

/** An order of one task on a line of its own. */
export async function newOrder(ground: Ground, kind = 'inspect', more: object = {}): Promise<NewOrder> {
  const lineId = await newLine(ground);
  const answer = await ground.door.as('owner', 'POST', '/v1/work-orders', {
    siteId: ground.place.siteId,
    because: 'asked by the client',
    tasks: [{ kind, lineId }],
    priceBasis: 'goodwill',
    ...more,
  });
  if (answer.status !== 201) throw new Error(`no order was made: ${answer.text}`);
  ground.pool.add('work-orders', answer.body.id);
  return { id: answer.body.id, taskId: answer.body.tasks[0].id, lineId };
}

async function must(ground: Ground, url: string, body: object, method = 'POST'): Promise<unknown> {
  const answer = await ground.door.as('owner', method, url, body);
  if (answer.status >= 300) throw new Error(`the ground could not be laid: ${url}: ${answer.text}`);
  return answer.body;
}

export async function begunOrder(ground: Ground, kind = 'inspect'): Promise<NewOrder> {
  const order = await newOrder(ground, kind);
  await must(ground, `/v1/work-orders/${order.id}/start`, { startedAt: ago(ground, 90), cautionsSeen: true });
  return order;
}

export const DONE = {
  result: 'done',
  flowProven: 'yes',
  pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
  water: { receiver: 'own_ground', place: 'lawn' },
};

export async function doneOrder(ground: Ground): Promise<NewOrder> {
  const order = await begunOrder(ground);
  await must(ground, `/v1/work-orders/${order.id}/finish`, { ...DONE, endedAt: ago(ground, 20) });
  return order;
}

/** A plan of the coming days, searched and proposed. */
export async function proposedPlan(ground: Ground): Promise<string> {
  const id = await searchingPlan(ground, 2);
  await ground.t.work();
  return id;
}

/** A plan whose search waits for its turn; where too many wait, they have it first. */
export async function searchingPlan(ground: Ground, workingDays = 1): Promise<string> {
  const asked = await ground.door.as('owner', 'POST', '/v1/plans', { workingDays });
  if (asked.status === 202) return asked.body.id;
  await ground.t.work();
  return ground.door.make('plans', { workingDays });
}

/** A live route of the coming days, by the day asked for or any. */
export async function liveRoute(
  ground: Ground,
): Promise<{ id: string; day: string; orderIds: string[] } | undefined> {
  const days = [0, 1, 2, 3, 4, 5, 6, 7].map((n) => dayFrom(ground.known.now, n));
  const start = ground.chance.whole(0, days.length - 1);
  for (let n = 0; n < days.length; n++) {
    const day = days[(start + n) % days.length] ?? '';
    const { body } = await ground.door.as('owner', 'GET', `/v1/routes?day=${day}`);
    const route =
      body?.items?.length > 0
        ? ground.chance.of(body.items as { id: string; stops: { workOrder?: { id: string } | null }[] }[])
        : undefined;
    if (route)
      return {
        id: route.id,
        day,
        orderIds: route.stops.flatMap((stop) => (stop.workOrder ? [stop.workOrder.id] : [])),
      };
  }
  await must(ground, `/v1/plans/${await proposedPlan(ground)}/acceptance`, {}).catch(() => undefined);
  return undefined;
}

/** An attachment on record, its bytes still to come. */
export const newAttachment = ({ door, place, chance, known }: Ground): Promise<string> =>
  door.make('attachments', {
    id: chance.id(),
    siteId: place.siteId,
    takenAt: new Date(known.now.getTime() - chance.whole(1, 10_000) * 1000).toISOString(),
  });

/** A one-page PDF, a few bytes different every time. */
export const smallPdf = (salt: string): Buffer =>
  Buffer.from(
    `%PDF-1.4\n% ${salt}\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 9 9]>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n`,
  );

export function multipart(bytes: Buffer): { type: string; bytes: Buffer } {
  const head =
    '--fuzz\r\nContent-Disposition: form-data; name="file"; filename="a.pdf"\r\nContent-Type: application/pdf\r\n\r\n';
  return {
    type: 'multipart/form-data; boundary=fuzz',
    bytes: Buffer.concat([Buffer.from(head), bytes, Buffer.from('\r\n--fuzz--\r\n')]),
  };
}

/** Puts an order on the best place there is. */
export async function placedByHand(
  { door }: Ground,
  id: string,
  days = 5,
): Promise<{ planId: string; crewId: string; day: string } | undefined> {
  const { body: offer } = await door.as('owner', 'GET', `/v1/work-orders/${id}/places?days=${days}`);
  const [first] = offer?.places ?? [];
  if (!first) return undefined;
  const { crewId, day, afterWorkOrderId } = first;
  const answer = await door.as(
    'owner',
    'POST',
    `/v1/work-orders/${id}/placement`,
    { crewId, day, afterWorkOrderId },
    { 'if-match': `"${offer.version}"` },
  );
  return answer.status === 200 ? { planId: answer.body.planId, crewId, day } : undefined;
}

/** A live route of today, made by hand with an order of its own. */
export async function todaysRoute(ground: Ground): Promise<string | undefined> {
  const placed = await placedByHand(ground, (await newOrder(ground)).id, 1);
  if (!placed) return undefined;
  const { crewId, day } = placed;
  const { body: routes } = await ground.door.as('owner', 'GET', `/v1/routes?day=${day}&crewId=${crewId}`);
  return routes?.items?.[0]?.id;
}

/** A live route of a day without a stop, of a crew of its own; of today unless said otherwise. */
export async function bareRoute(ground: Ground, day = today(ground)): Promise<string> {
  const { door, chance, t } = ground;
  const crewId = await door.make('crews', { name: `Crew ${chance.id()}`, depotId: t.firm.depotId });
  const id = chance.id();
  await t.house.transact({ name: 'fuzz' }, async ({ rows }) => {
    const [plan] = await rows.all('plan', []);
    await rows.insert('route', {
      id,
      plan_id: plan?.['id'],
      crew_id: crewId,
      day,
      state: 'live',
    });
  });
  return id;
}
