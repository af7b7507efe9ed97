import type { Ground, Recipe } from '../asks.js';
import { today } from '../works.js';
import { asItIs, changeOfNew, having, onId } from './shape.js';

/** A mail of which nobody knows whether it went. */
async function uncertainMail({ t, place, chance }: Ground): Promise<string> {
  const [id, event] = [chance.id(), chance.id()];
  await t.house.transact({ name: 'fuzz' }, async ({ rows }) => {
    await rows.insert('event', {
      id: event,
      kind: 'reminder_due',
      subject_id: place.siteId,
      site_id: place.siteId,
      once_key: event,
      facts: '{}',
    });
    await rows.insert('mail', {
      id,
      event_id: event,
      contact_id: place.contactId,
      kind: 'reminder',
      state: 'uncertain',
      next_try_at: null,
    });
  });
  return id;
}

/** Kept by the integration and by the owner. */
const endpoint = (ground: Ground): Promise<string> =>
  ground.door.make(
    'webhook-endpoints',
    { url: 'https://hooks.example.org/openbore', eventTypes: ['work_finished'] },
    'integration',
  );

/** Leaves the five youngest: a reading request may stand on one of them. */
const withoutEndpoints = async ({ door }: Ground): Promise<void> => {
  const { body: list } = await door.as('owner', 'GET', '/v1/webhook-endpoints');
  const items = (list.items ?? []) as { id: string; createdAt: string }[];
  items.sort((a, b) => (a.createdAt < b.createdAt ? 1 : -1));
  for (const { id } of items.slice(5)) await door.as('owner', 'DELETE', `/v1/webhook-endpoints/${id}`);
};

const lonelyClient = ({ door, chance }: Ground): Promise<string> =>
  door.make('clients', { name: `Client ${chance.id().slice(0, 8)}`, phone: '555 0177' });

/** The office: calls, keys, webhooks, erasures. */
export const DESK: Record<string, Recipe> = {
  search: (ground, draft) => ({
    query: { ...draft.query, q: ground.chance.of(['Marsh', 'Reed', '555 01', 'mrsh gate']) },
  }),
  takeCall: having(
    ({ place, chance }) =>
      chance.is(0.5)
        ? { siteId: place.siteId, newSite: undefined }
        : { newSite: { address: '9 Lantern Road', town: 'Brindle' }, siteId: undefined },
    'siteId',
    'newSite',
    'clientId',
    'receivedAt',
  ),
  mergeClients: async ({ door, chance }) => {
    const make = () => door.make('clients', { name: `Twin ${chance.id().slice(0, 6)}` });
    return { path: { id: await make() }, body: { doubleId: await make(), because: 'the same person' } };
  },
  sellHouse: async (ground) => {
    const { door, place } = ground;
    const siteId = await door.make('sites', { address: '1 Marsh Gate', town: 'Brindle' });
    await door.make('site-clients', { siteId, clientId: place.clientId, fromDay: '2020-01-01' });
    return { path: { id: siteId }, body: { soldOn: today(ground), buyer: { name: 'B. Alder' } } };
  },
  printClientSummary: (_ground, draft) => ({ query: { ...draft.query, year: '2026' } }),
  lookAtErasure: async (ground) => ({ body: { person: 'client', personId: await lonelyClient(ground) } }),
  erasePerson: async (ground) => ({ body: { person: 'client', personId: await lonelyClient(ground) } }),
  createWebhookEndpoint: async (ground) => {
    await withoutEndpoints(ground);
    return undefined;
  },
  changeWebhookEndpoint: changeOfNew(
    'webhook-endpoints',
    async (ground) => {
      await withoutEndpoints(ground);
      return endpoint(ground);
    },
    () => ({}),
    'url',
    'keyId',
  ),
  getWebhookEndpoint: onId(endpoint),
  removeWebhookEndpoint: onId(endpoint),
  rotateWebhookSecret: async (ground, draft) => {
    await withoutEndpoints(ground);
    return onId(endpoint)(ground, draft);
  },
  sendTestEvent: onId(endpoint),
  replayWebhookDelivery: onId(async (ground) => {
    const id = await endpoint(ground);
    await ground.door.as('owner', 'POST', `/v1/webhook-endpoints/${id}/test-event`);
    const { body: list } = await ground.door.as('owner', 'GET', `/v1/webhook-deliveries?endpointId=${id}`);
    return list.items?.[0]?.id;
  }),
  createFeed: having(
    ({ place, t, chance }) =>
      chance.is(0.5) ? { siteId: place.siteId } : { crewId: chance.of(t.firm.crewIds) },
    'siteId',
    'crewId',
  ),
  revokeFeed: onId((ground) => ground.door.make('feeds', { name: 'a phone', siteId: ground.place.siteId })),
  readFeed: async ({ door, place }) => {
    const made = await door.as('owner', 'POST', '/v1/feeds', { name: 'a phone', siteId: place.siteId });
    return { path: { token: /feeds\/([^/]+)\//.exec(String(made.body?.url))?.[1] ?? 'none' } };
  },
  changeSettings: async (ground) => ({
    headers: { 'if-match': await asItIs(ground, '/v1/settings') },
    body: { telling: { reminderDays: ground.chance.whole(1, 5) } },
  }),
  createKey: having(() => ({ memberId: null, roles: ['dispatcher'] }), 'expiresAt'),
  revokeKey: onId((ground) => ground.door.make('keys', { name: 'a phone', roles: ['dispatcher'] })),
  sendMailAgain: onId(uncertainMail),
};
