import { MOST_BYTES_OF_ANY } from '../../src/domain/work/fileLimits.js';
import type { Draft, Ground } from './asks.js';
import { dayFrom } from './values.js';
import {
  ago,
  bareRoute,
  begunOrder,
  doneOrder,
  multipart,
  newAttachment,
  newLine,
  newOrder,
  placedByHand,
  proposedPlan,
  smallPdf,
  today,
} from './works.js';

type Seek = (ground: Ground, draft: Draft) => Promise<Partial<Draft> | undefined>;

const onId =
  (make: (ground: Ground) => Promise<string | undefined>): Seek =>
  async (ground, { path }) => ({ path: { ...path, id: (await make(ground)) ?? '' } });
const body =
  (wrong: object): Seek =>
  (_, draft) =>
    Promise.resolve({ body: { ...(draft.body as object), ...wrong } });
const query =
  (wrong: Record<string, string>): Seek =>
  () =>
    Promise.resolve({ query: wrong });
const done = onId(async (ground) => (await doneOrder(ground)).id);
const stranger = (ground: Ground): string => ground.chance.id();

/** A change that runs into another record: of the one made first, to what the second says. */
const runningInto =
  (make: (ground: Ground) => Promise<{ id: string; change: object }>): Seek =>
  async (ground) => {
    const { id, change } = await make(ground);
    return { path: { id }, headers: { 'if-match': '*' }, body: change, query: {} };
  };

/** Two records of the list, one after the other in time; the first is changed so as to have no end. */
const oneAfterAnother = (list: string, of: (ground: Ground) => Promise<object>): Seek =>
  runningInto(async (ground) => {
    const same = await of(ground);
    const id = await ground.door.make(list, { ...same, fromDay: '2030-01-01', toDay: '2031-01-01' });
    await ground.door.make(list, { ...same, fromDay: '2031-01-01' });
    return { id, change: { toDay: null } };
  });

/** A pit of a system of its own, without a discharge. */
async function barePit({ door, place: { siteId } }: Ground): Promise<string> {
  const systemId = await door.make('systems', { siteId, name: 'Third', kind: 'pit' });
  return door.make('pits', { siteId, systemId });
}

const newMember = ({ door }: Ground): Promise<string> => door.make('members', { name: 'Wren' });

/** Questions that wait for their turn, so many; those that waited before are over. */
async function waitingWhatIfs({ t, chance }: Ground, count: number): Promise<string[]> {
  const ids = Array.from({ length: count }, () => chance.id());
  await t.house.transact({ name: 'fuzz' }, async ({ rows }) => {
    const waiting = await rows.all('what_if', [{ column: 'state', is: '=', value: 'waiting' }]);
    for (const { id } of waiting)
      await rows.update('what_if', String(id), { state: 'failed', failed_because: 'not needed' });
    for (const id of ids)
      await rows.insert('what_if', { id, asked: '{}', seed: 1, runs: 4, weeks: 1, asked_by: 'fuzz' });
  });
  return ids;
}
const waitingWhatIf = async (ground: Ground) => (await waitingWhatIfs(ground, 1))[0];

async function closedRoute(ground: Ground): Promise<string> {
  const id = await bareRoute(ground);
  await ground.door.as('owner', 'POST', `/v1/routes/${id}/closing`, { restBecause: 'out_of_time' });
  return id;
}

async function switchedOff({ door }: Ground): Promise<string> {
  const wanted = { url: 'https://hooks.example.org/openbore', eventTypes: ['work_finished'] };
  const id = await door.make('webhook-endpoints', wanted, 'integration');
  await door.as('owner', 'POST', `/v1/webhook-endpoints/${id}/test-event`);
  await door.as('owner', 'PATCH', `/v1/webhook-endpoints/${id}`, { enabled: false }, { 'if-match': '*' });
  return id;
}

const uploaded = async (ground: Ground): Promise<string> => {
  const id = await newAttachment(ground);
  const { type, bytes } = multipart(smallPdf(ground.chance.id()));
  await ground.door.send({
    method: 'PUT',
    url: `/v1/attachments/${id}/file`,
    headers: { authorization: `Bearer ${ground.door.keys.owner}`, 'content-type': type },
    payload: bytes,
  });
  return id;
};

/** How refusals are come by that need a state of their own, by operation and status. */
export const SOUGHT: Record<string, readonly Seek[]> = {
  'changeWorkOrder 409': [done],
  'withdrawWorkOrder 409': [done],
  'offerPlaces 409': [done],
  'offerDays 409': [done],
  'placeWorkOrder 409': [done],
  'lockWorkOrder 409': [done],
  'unlockWorkOrder 409': [done],
  'tellOnTheWay 409': [done],
  'tellRunningLate 409': [done],
  'printVisitReport 422': [onId(async (ground) => (await newOrder(ground)).id)],
  'recordTaskResult 409': [onId(async (ground) => (await doneOrder(ground)).taskId)],
  'tellOfIncident 409': [
    async (ground) => {
      const id = await ground.door.make('incidents', {
        kind: 'damage',
        what: 'a lid cracked',
        happenedAt: ago(ground, 5),
      });
      await ground.door.as('owner', 'POST', `/v1/incidents/${id}/withdrawal`, {
        because: 'it was cracked before',
      });
      return { path: { id }, body: { who: 'client', toldAt: null } };
    },
  ],
  'getWhatIf 409': [
    async (ground) => ({
      path: { id: (await waitingWhatIf(ground)) ?? '' },
      headers: { accept: 'text/csv' },
    }),
  ],
  'drawWhatIf 409': [onId(waitingWhatIf)],
  'askWhatIf 409': [
    async (ground) => {
      await waitingWhatIfs(ground, 5);
      return {};
    },
  ],
  'askWhatIf 422': [
    async (ground) => {
      await waitingWhatIfs(ground, 0);
      const [fromDay, toDay] = [today(ground), dayFrom(ground.known.now, 9)];
      return { body: { lostCrews: [{ crewId: stranger(ground), fromDay, toDay }] } };
    },
  ],
  'askForPlan 409': [
    async ({ door }) => {
      for (let n = 0; n < 11; n++) await door.as('owner', 'POST', '/v1/plans', { workingDays: 1 });
      return {};
    },
  ],
  'askForPlan 422': [async ({ known }) => ({ body: { fromDay: dayFrom(known.now, -3) } })],
  'endPlanSearch 409': [onId(proposedPlan)],
  'publishRoute 409': [onId(closedRoute)],
  'publishRoute 422': [
    async (ground) => {
      const key = { 'idempotency-key': ground.chance.id() };
      const told = await bareRoute(ground);
      await ground.door.as('owner', 'POST', `/v1/routes/${told}/publication`, undefined, key);
      return { path: { id: await bareRoute(ground) }, headers: key };
    },
  ],
  'publishDay 409': [
    async (ground) => {
      const day = dayFrom(ground.known.now, -1);
      await bareRoute(ground, day);
      return { path: { day } };
    },
  ],
  'closeDay 409': [
    async (ground) => {
      const { id } = await newOrder(ground);
      const placed = await placedByHand(ground, id, 1);
      await ground.door.as('owner', 'POST', `/v1/work-orders/${id}/start`, {
        startedAt: ago(ground, 5),
        cautionsSeen: true,
      });
      return placed && { path: { day: placed.day }, body: { restBecause: 'out_of_time' } };
    },
  ],
  'closeRoute 422': [body({ restBecause: 'refused' })],
  'closeDay 422': [body({ restBecause: 'refused' })],
  'sellHouse 409': [
    async ({ door, place }, draft) => {
      const { clientId } = place;
      const siteId = await door.make('sites', { address: '1 Marsh Gate', town: 'Brindle' });
      await door.make('site-clients', { siteId, clientId, fromDay: '2030-01-01', toDay: '2031-01-01' });
      return { path: { ...draft.path, id: siteId } };
    },
  ],
  'startNightlyRun 409': [
    async ({ t }) => {
      const soon = new Date(Date.now() + 5_000).toISOString();
      await t.house.transact({ name: 'fuzz' }, ({ rows }) =>
        rows.insert('nightly_run', {
          id: crypto.randomUUID(),
          business_day: '2020-01-02',
          asked_by: 'fuzz',
          state: 'running',
          holder: 'fuzz',
          lease_until: soon,
        }),
      );
      return {};
    },
  ],
  'startNightlyRun 422': [
    async ({ t, known }) => {
      await t.house.transact({ name: 'fuzz' }, async ({ rows }) => {
        for (const { id } of await rows.all('nightly_run', [{ column: 'state', is: '=', value: 'running' }]))
          await rows.update('nightly_run', String(id), { state: 'failed' });
      });
      return { body: { businessDay: dayFrom(known.now, 30) } };
    },
  ],
  'lookAtErasure 422': [async (ground, draft) => body({ attachmentIds: [stranger(ground)] })(ground, draft)],
  'mapRoutes 403': [async (ground) => ofAPlan(ground, 'technician')],
  'drawRoutes 403': [async (ground) => ofAPlan(ground, 'technician')],
  'mapRoutes 404': [async (ground) => ofAPlan(ground, 'owner')],
  'drawRoutes 404': [async (ground) => ofAPlan(ground, 'owner')],
  'listNotes 404': [async (ground) => ({ role: 'technician', query: { siteId: stranger(ground) } })],
  'listAttachments 404': [async (ground) => ({ role: 'technician', query: { siteId: stranger(ground) } })],
  'getRota 422': [query({ from: '2026-10-10', to: '2026-10-01' })],
  'search 422': [query({})],
  'changeWebhookEndpoint 422': [
    async () => ({ headers: { 'if-match': '*' }, body: { url: 'http://hooks.example.org/openbore' } }),
  ],
  'sendTestEvent 409': [onId(switchedOff)],
  'replayWebhookDelivery 409': [
    onId(async (ground) => {
      const id = await switchedOff(ground);
      const { body: list } = await ground.door.as('owner', 'GET', `/v1/webhook-deliveries?endpointId=${id}`);
      return list.items?.[0]?.id;
    }),
  ],
  'changeSettings 422': [
    async () => ({ headers: { 'if-match': '*' }, body: { intervals: { minDays: 300, maxDays: 200 } } }),
  ],
  'changePipe 422': [
    async () => ({
      headers: { 'if-match': '*' },
      body: { source: 'a rule', bores: { '99': { value: 3.95, unit: 'in' } } },
    }),
  ],
  'putAttachmentFile 409': [onId(uploaded)],
  'putAttachmentFile 413': [
    async () => ({ raw: multipart(Buffer.alloc(MOST_BYTES_OF_ANY + 200_000, 0x25)) }),
  ],
  'putAttachmentFile 422': [async () => ({ raw: multipart(Buffer.from('no file of ours')) })],
  'listChanges 410': [
    async ({ door }) => {
      const { body: page } = await door.as('owner', 'GET', '/v1/changes');
      const place = Buffer.from(String(page.next), 'base64url').toString();
      const before = place.replace(/^./, (c) => (c === '0' ? '1' : '0'));
      return { query: { since: Buffer.from(before).toString('base64url') } };
    },
  ],
  'changeSiteClient 409': [
    oneAfterAnother('site-clients', async ({ door, place }) => ({
      siteId: await door.make('sites', { address: '1 Marsh Gate', town: 'Brindle' }),
      clientId: place.clientId,
    })),
  ],
  'changeCrewMembership 409': [
    oneAfterAnother('crew-memberships', async (ground) => ({
      crewId: ground.t.firm.crewIds[0],
      memberId: await newMember(ground),
    })),
  ],
  'changeCrewKit 409': [
    oneAfterAnother('crew-kit', async ({ door, t }) => ({
      crewId: t.firm.crewIds[0],
      kitItemId: await door.make('kit-items', { name: 'Reel', kind: 'hose' }),
    })),
  ],
  'changeShift 409': [
    oneAfterAnother('shifts', async ({ door, t, chance }) => ({
      crewId: await door.make('crews', { name: `Crew ${chance.id()}`, depotId: t.firm.depotId }),
      weekday: 'mon',
      startsAt: '07:00',
      endsAt: '16:00',
    })),
  ],
  'changeOnCallTurn 409': [
    runningInto(async (ground) => {
      const memberId = await newMember(ground);
      const turn = (fromAt: string, toAt: string) =>
        ground.door.make('on-call-turns', { memberId, fromAt, toAt });
      const id = await turn('2030-01-01T00:00:00Z', '2030-01-02T00:00:00Z');
      await turn('2030-01-02T00:00:00Z', '2030-01-03T00:00:00Z');
      return { id, change: { toAt: '2030-01-02T12:00:00Z' } };
    }),
  ],
  'changeCallOut 409': [
    runningInto(async (ground) => {
      const memberId = await newMember(ground);
      const id = await ground.door.make('call-outs', {
        memberId,
        calledAt: ago(ground, 500),
        backAt: ago(ground, 400),
      });
      await ground.door.make('call-outs', { memberId, calledAt: ago(ground, 300) });
      return { id, change: { backAt: null } };
    }),
  ],
  'changeHoliday 409': [
    runningInto(async ({ door, chance, known }) => {
      const [one, other] = [chance.whole(40_000, 60_000), chance.whole(60_001, 80_000)].map((n) =>
        dayFrom(known.now, n),
      );
      const id = await door.make('holidays', { day: one, name: 'Quay day' });
      await door.make('holidays', { day: other, name: 'Quay day' });
      return { id, change: { day: other } };
    }),
  ],
  'changePit 409': [
    runningInto(async (ground) => ({
      id: await barePit(ground),
      change: { dischargeLineId: ground.place.lineId },
    })),
  ],
  'changeLineSection 409': [
    runningInto(async ({ door, place }) => {
      const { siteId, systemId } = place;
      const lineId = await door.make('lines', { siteId, systemId, name: 'Old', kind: 'footing_drain' });
      const section = { lineId, product: 'schedule_40', nominal: '4' };
      const id = await door.make('line-sections', {
        ...section,
        installedOn: '2001-05-01',
        removedOn: '2012-05-01',
      });
      await door.make('line-sections', { ...section, installedOn: '2012-05-01' });
      return { id, change: { removedOn: null } };
    }),
  ],
  'changeClient 422': [
    runningInto(async ({ door }) => {
      const [kept, doubleId] = [
        await door.make('clients', { name: 'Twin' }),
        await door.make('clients', { name: 'Twin' }),
      ];
      await door.as('owner', 'POST', `/v1/clients/${kept}/merger`, { doubleId, because: 'the same person' });
      return { id: doubleId, change: { note: 'phones late' } };
    }),
  ],
  'calculateGravityFlow 422': [
    async () => ({
      body: { pipe: { product: 'sdr_35', nominal: '2' }, slope: { value: 1, unit: '%' } },
    }),
  ],
  'printClientSummary 422': [query({ year: '2199' })],
  'drawPitPump 422': [onId(barePit)],
  'drawLineCapacity 422': [onId(newLine)],
  'joinWorkOrders 409': [onId(async (ground) => (await begunOrder(ground)).id)],
};

async function ofAPlan(ground: Ground, role: 'owner' | 'technician'): Promise<Partial<Draft>> {
  return { role, query: { day: today(ground), planId: stranger(ground) } };
}
