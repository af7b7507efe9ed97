import { type Draft, draftOf, type Ground, type Recipe } from './asks.js';
import type { Operation } from './document.js';
import { listOf } from './pool.js';
import { dayFrom } from './values.js';
import {
  ago,
  bareRoute,
  begunOrder,
  DONE,
  doneOrder,
  liveRoute,
  multipart,
  newAttachment,
  newLine,
  newOrder,
  placedByHand,
  proposedPlan,
  searchingPlan,
  smallPdf,
  today,
  todaysRoute,
} from './works.js';

type Body = Record<string, unknown>;

const body = (draft: Draft): Body => (draft.body ?? {}) as Body;
const without = (from: Body, ...names: string[]): Body =>
  Object.fromEntries(Object.entries(from).filter(([name]) => !names.includes(name)));

/** The body with these fields, and without those. */
const having =
  (fields: (ground: Ground, old: Body) => Body | Promise<Body>, ...left: string[]): Recipe =>
  async (ground, draft) => ({
    body: { ...without(body(draft), ...left), ...(await fields(ground, body(draft))) },
  });

/** On an order of its own, made as the work asks for. */
const onOrder =
  (
    make: (ground: Ground) => Promise<{ id: string }>,
    fields?: (ground: Ground, old: Body) => Body,
    ...left: string[]
  ): Recipe =>
  async (ground, draft) => ({
    path: { ...draft.path, id: (await make(ground)).id },
    ...(fields ? { body: { ...without(body(draft), ...left), ...fields(ground, body(draft)) } } : {}),
  });

const onId =
  (make: (ground: Ground) => Promise<string | undefined>): Recipe =>
  async (ground, draft) => ({ path: { ...draft.path, id: (await make(ground)) ?? draft.path['id'] ?? '' } });

/** A change of a plain record: from the version that is there. */
export const changeOf =
  (list: string): Recipe =>
  async ({ door }, draft) => {
    const read = await door.as('owner', 'GET', `/v1/${list}/${draft.path['id']}`);
    return { headers: { 'if-match': String(read.headers['etag'] ?? '"1"') } };
  };

/** A change that leaves out what ties a record to others. */
const changeWithout =
  (list: string, ...left: string[]): Recipe =>
  async (ground, draft) => ({
    ...(await changeOf(list)(ground, draft)),
    body: without(body(draft), ...left),
  });

/** A change of a record made for it. */
const changeOfNew =
  (
    list: string,
    make: (ground: Ground) => Promise<string>,
    fields: (old: Body) => Body,
    ...left: string[]
  ): Recipe =>
  async (ground, draft) => {
    const id = await make(ground);
    const path = { ...draft.path, id };
    return {
      path,
      ...(await changeOf(list)(ground, { ...draft, path })),
      body: { ...without(body(draft), ...left), ...fields(body(draft)) },
    };
  };

/** Items as the single operation takes them. */
export const batchOf =
  (single: Operation): Recipe =>
  async (ground) => {
    const items: unknown[] = [];
    for (let n = ground.chance.whole(1, 2); n > 0; n--) {
      const draft = draftOf(single, ground);
      items.push({ ...draft, ...(await RECIPES[single.id]?.(ground, draft)) }.body);
    }
    return { body: { items } };
  };

const DRAINS = ['drainsTo', 'drainsToPitId', 'drainsToLineId'];
/** A day of the coming weeks on which crews work. */
const soon = ({ known, chance }: Ground): string =>
  dayFrom(known.now, 7 * chance.whole(0, 2) + chance.of([1, 4, 5, 6]));
/** A question about the year to come that has its answer. */
async function answeredWhatIf({ door, t }: Ground): Promise<string | undefined> {
  const { body: list } = await door.as('owner', 'GET', '/v1/what-ifs?limit=200');
  const done = ((list?.items ?? []) as { id: string; state: string }[]).find(({ state }) => state === 'done');
  if (done) return done.id;
  const id = await door.make('what-ifs', { extraCrews: 1 });
  await t.work();
  return id;
}

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

const oneLine: Recipe = having(
  ({ place, chance, known }) => ({
    lineId: place.lineId,
    ...(chance.is(0.3) ? { crewId: undefined } : {}),
    observedAt: new Date(known.now.getTime() - chance.whole(1, 500_000) * 60_000).toISOString(),
  }),
  'pitId',
  'pitTest',
  'replacesId',
  'distance',
  'place',
  'workOrderId',
  'crewId',
  'deviceClockOffsetSeconds',
);
const READING = { method: 'camera', share: 0.3 };
const rule = async (ground: Ground): Promise<string> => {
  const ruleId = await ground.door.make('locate-rules', {
    name: `Rule ${ground.chance.id()}`,
    notice: 0,
    noticeUnit: 'hour',
    source: 'test',
    confirmedBy: 'the owner',
    confirmedOn: '2026-09-01',
  });
  return ruleId;
};
const ticket = async (ground: Ground): Promise<string> => {
  const order = await newOrder(ground, 'dig_and_replace');
  return ground.door.make(`work-orders/${order.id}/locate-tickets`, {
    ruleId: await rule(ground),
    calledAt: ago(ground, 600),
    utilities: ['gas'],
  });
};
const proposal = async (ground: Ground): Promise<string> =>
  ground.door.make('proposals', {
    siteId: ground.place.siteId,
    kind: 'smooth_pipe',
    lineId: await newLine(ground),
  });
const endpoint = (ground: Ground): Promise<string> =>
  ground.door.make('webhook-endpoints', {
    url: 'https://hooks.example.org/openbore',
    eventTypes: ['work_finished'],
  });
const withoutEndpoints = async ({ door }: Ground): Promise<void> => {
  const { body: list } = await door.as('owner', 'GET', '/v1/webhook-endpoints');
  const items = (list.items ?? []) as { id: string }[];
  for (const { id } of items.slice(0, Math.max(0, items.length - 5)))
    await door.as('owner', 'DELETE', `/v1/webhook-endpoints/${id}`);
};
const freshCrew = (ground: Ground): Promise<string> =>
  ground.door.make('crews', {
    name: `Crew ${ground.chance.id().slice(0, 6)}`,
    depotId: ground.t.firm.depotId,
  });
const incident = (ground: Ground): Promise<string> =>
  ground.door.make('incidents', {
    kind: 'discharge',
    happenedAt: ago(ground, 60),
    what: 'sludge in a ditch',
  });
const asItIs = async (ground: Ground, url: string): Promise<string> =>
  String((await ground.door.as('owner', 'GET', url)).headers['etag'] ?? '"0"');

/** How operations are asked that need more than a body of the right shape. */
export const RECIPES: Record<string, Recipe> = {
  createSite: having(() => ({ latitude: 44.5, longitude: -90.3 }), 'externalRef', 'source'),
  changeSite: changeWithout('sites', 'latitude', 'longitude', 'externalRef', 'source', 'archivedOn'),
  createSiteClient: having(async ({ door }) => ({
    siteId: await door.make('sites', { address: '1 Marsh Gate', town: 'Brindle' }),
  })),
  changeSiteClient: changeOfNew(
    'site-clients',
    async ({ door, place }) =>
      door.make('site-clients', {
        siteId: await door.make('sites', { address: '1 Marsh Gate', town: 'Brindle' }),
        clientId: place.clientId,
        fromDay: '2020-01-01',
      }),
    () => ({}),
    'clientId',
  ),
  createContact: having(({ place }) => ({
    siteId: place.siteId,
    clientId: null,
    mayConsentTo: ['extra_work'],
  })),
  changeContact: changeWithout('contacts', 'siteId', 'clientId', 'mayConsentTo'),
  changeClient: changeWithout('clients', 'externalRef', 'source', 'archivedOn'),
  createCareTerms: having(({ place, chance }) => ({
    lineIds: [place.lineId],
    fromDay: chance.of(['2026-01-01', '2026-09-01']),
    toDay: null,
  })),
  changeCareTerms: changeWithout('care-terms', 'lineIds', 'fromDay', 'toDay'),
  createPit: having(
    async ({ door, place }) => ({
      siteId: place.siteId,
      systemId: await door.make('systems', { siteId: place.siteId, name: 'Second', kind: 'pit' }),
    }),
    'dischargeLineId',
  ),
  changePit: changeWithout('pits', 'systemId', 'dischargeLineId', 'archivedOn'),
  createPump: having(
    () => ({
      curve: [{ flow: { value: 1, unit: 'L/s' }, head: { value: 3, unit: 'm' } }],
      installedOn: '2020-01-01',
    }),
    'floatOn',
    'floatOff',
    'removedOn',
  ),
  changePump: changeWithout('pumps', 'curve', 'floatOn', 'floatOff', 'installedOn', 'removedOn'),
  createLine: having(
    ({ place }) => ({ siteId: place.siteId, systemId: place.systemId, actionLimit: 0.3, plugLimit: 0.8 }),
    ...DRAINS,
    'externalRef',
    'source',
  ),
  changeLine: changeWithout(
    'lines',
    'systemId',
    ...DRAINS,
    'externalRef',
    'source',
    'actionLimit',
    'plugLimit',
    'archivedOn',
  ),
  createLineSection: having(
    async (ground) => ({ lineId: await newLine(ground) }),
    'from',
    'to',
    'product',
    'nominal',
    'removedOn',
  ),
  changeLineSection: changeWithout(
    'line-sections',
    'from',
    'to',
    'product',
    'nominal',
    'installedOn',
    'removedOn',
  ),
  createAccessPoint: having(({ place }) => ({ siteId: place.siteId }), 'lineId', 'pitId'),
  changeAccessPoint: changeWithout('access-points', 'lineId', 'pitId'),
  createEpoch: having(async (ground) => ({
    lineId: await newLine(ground),
    startedOn: dayFrom(ground.known.now, -5),
  })),
  createCrew: having(() => ({}), 'externalRef', 'source', 'archivedOn'),
  changeCrew: changeWithout(
    'crews',
    'externalRef',
    'source',
    'archivedOn',
    'depotId',
    'endDepotId',
    'people',
  ),
  changeDepot: changeWithout('depots', 'archivedOn', 'latitude', 'longitude'),
  createCrewMembership: having(async ({ door }) => ({
    memberId: await door.make('members', { name: 'Wren' }),
  })),
  changeCrewMembership: changeOfNew(
    'crew-memberships',
    async ({ door, t }) =>
      door.make('crew-memberships', {
        crewId: t.firm.crewIds[1],
        memberId: await door.make('members', { name: 'Wren' }),
        fromDay: '2025-01-01',
      }),
    () => ({}),
    'fromDay',
  ),
  createKitItem: having(() => ({}), 'externalRef', 'source', 'boreMin', 'boreMax'),
  changeKitItem: changeWithout(
    'kit-items',
    'externalRef',
    'source',
    'boreMin',
    'boreMax',
    'archivedOn',
    'kind',
  ),
  createCrewKit: having(async ({ door }) => ({
    kitItemId: await door.make('kit-items', { name: 'Reel', kind: 'hose' }),
  })),
  changeCrewKit: changeOfNew(
    'crew-kit',
    async ({ door, t }) =>
      door.make('crew-kit', {
        crewId: t.firm.crewIds[1],
        kitItemId: await door.make('kit-items', { name: 'Reel', kind: 'hose' }),
        fromDay: '2025-01-01',
      }),
    () => ({}),
    'fromDay',
  ),
  createShift: having(async (ground) => ({
    crewId: await freshCrew(ground),
    startsAt: '07:00',
    endsAt: '16:00',
    breakAfter: '12:00',
  })),
  changeShift: changeWithout('shifts', 'startsAt', 'endsAt', 'breakAfter', 'fromDay', 'toDay', 'weekday'),
  createAbsence: having(
    async (ground) => ({ crewId: await freshCrew(ground), fromDay: '2027-01-01', toDay: '2027-01-02' }),
    'memberId',
    'kitItemId',
    'people',
    'fromAt',
    'backAt',
  ),
  changeAbsence: changeOfNew(
    'absences',
    async (ground) =>
      ground.door.make('absences', {
        crewId: await freshCrew(ground),
        fromDay: '2027-01-01',
        toDay: '2027-01-02',
        reason: 'ill',
      }),
    () => ({}),
    'people',
    'fromAt',
    'backAt',
    'fromDay',
    'toDay',
  ),
  createOnCallTurn: having(({ chance }) => {
    const from = Date.UTC(2027, 0, 1) + chance.whole(0, 400_000) * 3_600_000;
    return { fromAt: new Date(from).toISOString(), toAt: new Date(from + 1_800_000).toISOString() };
  }),
  changeOnCallTurn: changeWithout('on-call-turns', 'fromAt', 'toAt'),
  createCallOut: having(
    async (ground) => ({
      memberId: await ground.door.make('members', { name: 'Wren' }),
      calledAt: ago(ground, 500),
      backAt: ago(ground, 400),
    }),
    'workOrderId',
  ),
  changeCallOut: changeWithout('call-outs', 'calledAt', 'backAt', 'workOrderId'),
  createClosedSeason: having(() => ({ fromDay: '2027-02-01', toDay: '2027-02-10' })),
  createHoliday: having(({ chance, known }) => ({ day: dayFrom(known.now, chance.whole(100, 30_000)) })),
  changeHoliday: changeWithout('holidays', 'day'),
  createDecision: having(({ place }) => ({
    lineIds: [place.lineId],
    decidedOn: '2026-09-01',
    untilDay: '2026-12-01',
    endedOn: null,
  })),
  changeDecision: changeWithout('decisions', 'lineIds', 'decidedOn', 'untilDay', 'endedOn', 'kind'),
  createLocateRule: having(() => ({}), 'life', 'lifeUnit', 'startWithinDays', 'confirmedBy', 'confirmedOn'),
  changeLocateRule: changeWithout(
    'locate-rules',
    'notice',
    'noticeUnit',
    'life',
    'lifeUnit',
    'startWithinDays',
    'confirmedBy',
    'confirmedOn',
  ),
  createPrecondition: having(
    async (ground) => ({
      workOrderId: (await newOrder(ground)).id,
      kind: ground.chance.of(['someone_home', 'parts']),
      state: 'open',
      facts: {},
    }),
    'metAt',
    'metBy',
    'validFrom',
    'validTo',
  ),
  changePrecondition: async (ground, draft) => ({
    ...(await changeOfNew(
      'preconditions',
      async () =>
        ground.door.make('preconditions', { workOrderId: (await newOrder(ground)).id, kind: 'parts' }),
      () => ({ state: 'waived', facts: { because: 'came another way', waivedBy: 'the owner' } }),
      'metAt',
      'metBy',
      'validFrom',
      'validTo',
    )(ground, draft)),
    role: 'owner' as const,
  }),
  createPromise: having(
    async (ground) => ({
      workOrderId: (await newOrder(ground)).id,
      day: soon(ground),
      toldAt: ago(ground, 30),
    }),
    'fromTime',
    'toTime',
    'endedAt',
    'endedBecause',
  ),
  changePromise: changeOfNew(
    'promises',
    async (ground) =>
      ground.door.make('promises', { workOrderId: (await newOrder(ground)).id, day: soon(ground) }),
    () => ({}),
    'day',
    'fromTime',
    'toTime',
    'toldAt',
    'endedAt',
    'endedBecause',
  ),
  createInspection: async (ground, draft) => {
    const made = (await oneLine(ground, draft)) as { body: Body };
    const { plugged } = made.body;
    return {
      body: {
        ...without(made.body, 'plugged', 'reading'),
        ...(plugged ? { plugged } : { reading: READING }),
      },
    };
  },
  createClean: having(
    ({ place, chance, known }) => ({
      lineId: place.lineId,
      task: chance.of(['jet', 'hose_flush', 'cable']),
      cleanedAt: new Date(known.now.getTime() - chance.whole(1, 500_000) * 60_000).toISOString(),
    }),
    'pitId',
    'crewId',
    'workOrderId',
    'nozzleStopped',
    'flowProven',
  ),
  withdrawInspection: onId(async ({ door, place, chance, known }) =>
    door.make('inspections', {
      lineId: place.lineId,
      phase: 'no_cleaning',
      reading: READING,
      observedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    }),
  ),
  withdrawClean: onId(async ({ door, place, chance, known }) =>
    door.make('cleans', {
      lineId: place.lineId,
      task: 'jet',
      cleanedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    }),
  ),
  draftProposal: having(
    async (ground) => ({ siteId: ground.place.siteId, kind: 'smooth_pipe', lineId: await newLine(ground) }),
    'pitId',
  ),
  changeProposal: changeOfNew('proposals', proposal, () => ({})),
  offerProposal: async (ground, draft) => ({
    ...(await onId(proposal)(ground, draft)),
    body: { offeredOn: today(ground) },
  }),
  answerProposal: async (ground) => {
    const id = await proposal(ground);
    await ground.door.as('owner', 'POST', `/v1/proposals/${id}/offer`, {});
    return {
      path: { id },
      body: {
        answer: ground.chance.of(['accepted', 'declined']),
        answeredBy: 'A. Reed',
        because: 'as offered',
      },
    };
  },
  withdrawProposal: onId(proposal),
  createWorkOrder: having(
    async (ground) => ({
      siteId: ground.place.siteId,
      because: 'asked',
      tasks: [{ kind: ground.chance.of(['inspect', 'jet', 'hose_flush']), lineId: await newLine(ground) }],
      notBefore: null,
      wantedBy: soon(ground),
    }),
    'followsId',
    'followsAfterDays',
    'returnsForId',
    'respondBy',
    'cause',
  ),
  changeWorkOrder: changeOfNew(
    'work-orders',
    async (ground) => (await newOrder(ground)).id,
    () => ({}),
    'notBefore',
    'wantedBy',
    'respondBy',
    'tasks',
    'followsId',
    'followsAfterDays',
    'priceBasis',
  ),
  withdrawWorkOrder: onOrder(newOrder),
  joinWorkOrders: async (ground) => {
    const [into, one] = [await newOrder(ground), await newOrder(ground)];
    return { path: { id: one.id }, body: { into: into.id } };
  },
  startWorkOrder: onOrder(newOrder, (ground) => ({ startedAt: ago(ground, 30), cautionsSeen: true })),
  finishWorkOrder: async (ground) => ({
    path: { id: (await begunOrder(ground)).id },
    body: { ...DONE, endedAt: ago(ground, 10), ...(ground.chance.is(0.3) ? { note: 'gate left open' } : {}) },
  }),
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
  printVisitReport: onOrder(doneOrder),
  printClientSummary: (_ground, draft) => ({ query: { ...draft.query, year: '2026' } }),
  printDischargeLog: (_ground, draft) => ({
    query: { ...draft.query, from: '2026-09-01', to: '2026-10-01' },
  }),
  listWaterRecords: (_ground, draft) => ({ query: { ...draft.query, from: '2026-09-01', to: '2026-10-01' } }),
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
  answerQuestion: async (ground) => {
    const { id, lineId } = await newOrder(ground);
    await ground.t.house.transact({ name: 'fuzz' }, ({ rows }) =>
      rows.update('work_order', id, {
        question: {
          fact: 'material',
          siteId: ground.place.siteId,
          lineId,
          text: 'What is the line made of?',
          spreadDays: 30,
          why: 'how rough it is follows from it',
        },
      }),
    );
    return { path: { id }, body: { material: 'clay' } };
  },
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
  lookAtErasure: async (ground) => ({ body: { person: 'client', personId: await lonelyClient(ground) } }),
  erasePerson: async (ground) => ({ body: { person: 'client', personId: await lonelyClient(ground) } }),
  getWhatIf: onId(answeredWhatIf),
  drawPitPump: onId(async ({ place }) => place.pitId),
  drawLineCapacity: onId(async ({ place }) => place.lineId),
  judgeReading: onId(async ({ door, t, chance, place, known }) => {
    const id = await door.make('inspections', {
      lineId: place.lineId,
      phase: 'no_cleaning',
      reading: READING,
      observedAt: new Date(known.now.getTime() - chance.whole(1, 900_000) * 60_000).toISOString(),
    });
    await t.house.transact({ name: 'fuzz' }, ({ rows }) =>
      rows.insert('reading_review', {
        inspection_id: id,
        line_id: place.lineId,
        weight: 0.2,
        suspicion: 'free_bore',
      }),
    );
    return id;
  }),
  tellOnTheWay: onOrder(newOrder, (ground) => ({ leftAt: ago(ground, 10) }), 'expectedAt'),
  tellRunningLate: onOrder(newOrder, (ground) => ({ expectedAt: ago(ground, -60) })),
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
  createKey: having(() => ({ memberId: null }), 'expiresAt'),
  revokeKey: onId((ground) => ground.door.make('keys', { name: 'a phone', roles: ['dispatcher'] })),
  changePipe: async (ground, draft) => ({
    headers: { 'if-match': await versionOfPipe(ground, draft) },
    body: { manningN: 0.012, source: 'measured on ten cut ends' },
  }),
  resetPipe: async (ground, draft) => ({ headers: { 'if-match': await versionOfPipe(ground, draft) } }),
  recordLocateTicket: async (ground) => ({
    path: { id: (await newOrder(ground, 'dig_and_replace')).id },
    body: {
      ruleId: await rule(ground),
      calledAt: ago(ground, ground.chance.whole(60, 3000)),
      utilities: ['gas', 'water'],
    },
  }),
  updateLocateTicket: async (ground) => ({
    path: { id: await ticket(ground) },
    body: { answers: [{ utility: 'gas', answer: 'clear', at: ago(ground, 60) }] },
  }),
  recordTrenchCheck: onOrder(
    (ground) => newOrder(ground, 'dig_and_replace'),
    (ground) => ({ checkedAt: ago(ground, 5), checkedBy: 'Wren', protection: 'shored' }),
    'checkedAt',
  ),
  reportRain: having((ground) => ({
    endedAt: ago(ground, ground.chance.whole(1, 500)),
    area: ground.chance.of(['Brindle', 'Alder Quay', null]),
  })),
  withdrawRain: onId((ground) => ground.door.make('rain-reports', { endedAt: ago(ground, 5) })),
  planDischarge: onOrder(newOrder, () => ({ receiver: 'caught', sludgeTo: 'depot' }), 'permitRef'),
  addFoundWork: async (ground) => ({
    path: { id: (await begunOrder(ground)).id },
    body: {
      foundAt: ago(ground, 15),
      tasks: [{ id: ground.chance.id(), kind: 'hose_flush', lineId: await newLine(ground) }],
    },
  }),
  confirmFoundWork: async (ground) => {
    const order = await begunOrder(ground);
    const taskId = ground.chance.id();
    await ground.door.as('owner', 'POST', `/v1/work-orders/${order.id}/found-work`, {
      foundAt: ago(ground, 15),
      tasks: [{ id: taskId, kind: 'hose_flush', lineId: await newLine(ground) }],
    });
    return { path: { id: taskId }, body: { priceMinor: 9500 } };
  },
  recordIncident: having(
    (ground) => ({ happenedAt: ago(ground, 60), siteId: ground.place.siteId }),
    'workOrderId',
  ),
  tellOfIncident: async (ground) => ({
    path: { id: await incident(ground) },
    body: { who: 'owner of the business', toldAt: ago(ground, 5) },
  }),
  drawWhatIf: onId(answeredWhatIf),
  sendMailAgain: onId(uncertainMail),
  sync: async (ground) => {
    const order = await newOrder(ground);
    const start = {
      kind: 'start',
      id: ground.chance.id(),
      at: ago(ground, 40),
      workOrderId: order.id,
      cautionsSeen: true,
    };
    const note = {
      kind: 'note',
      id: ground.chance.id(),
      at: ago(ground, 20),
      siteId: ground.place.siteId,
      text: 'key under the pot',
    };
    return { body: { sentAt: ago(ground, 0), items: ground.chance.is(0.5) ? [start, note] : [note] } };
  },
  withdrawSyncItem: async (ground) => {
    const id = ground.chance.id();
    const finish = {
      kind: 'finish',
      id,
      at: ago(ground, 20),
      workOrderId: (await newOrder(ground)).id,
      ...DONE,
    };
    await ground.door.as('owner', 'POST', '/v1/sync', { sentAt: ago(ground, 0), items: [finish] });
    return { path: { id }, body: { because: 'sent by mistake' } };
  },
  addFoundLine: onOrder(
    begunOrder,
    (ground) => ({ foundAt: ago(ground, 20), systemId: ground.place.systemId }),
    ...DRAINS,
  ),
  addFoundAccessPoint: onOrder(
    begunOrder,
    (ground) => ({ foundAt: ago(ground, 20), lineId: ground.place.lineId }),
    'pitId',
  ),
  acceptPrice: async (ground) => ({
    path: { id: (await newOrder(ground)).id },
    body: { by: 'A. Reed', amountMinor: ground.chance.whole(1, 90_000), acceptedAt: ago(ground, 30) },
  }),
  recordTaskResult: async (ground) => {
    const { taskId } = await begunOrder(ground);
    return { path: { id: taskId }, body: { saidAt: ago(ground, 20), result: 'done' } };
  },
  createRegimeChange: having(({ place, chance, known }) => ({
    lineId: place.lineId,
    changedOn: dayFrom(known.now, -chance.whole(1, 3000)),
  })),
  addNote: having((ground) => ({ notedAt: ago(ground, 30) }), 'lineId', 'pitId', 'workOrderId'),
  recordAttachment: having(
    (ground) => ({ takenAt: ago(ground, 30) }),
    'lineId',
    'pitId',
    'workOrderId',
    'inspectionId',
  ),
  putAttachmentFile: async (ground) => ({
    path: { id: await newAttachment(ground) },
    raw: multipart(ground.chance.is(0.9) ? smallPdf(ground.chance.id()) : Buffer.from('no file of ours')),
  }),
  getAttachmentFile: async (ground) => {
    const id = await newAttachment(ground);
    const { type, bytes } = multipart(smallPdf(ground.chance.id()));
    await ground.door.send({
      method: 'PUT',
      url: `/v1/attachments/${id}/file`,
      headers: { authorization: `Bearer ${ground.door.keys.owner}`, 'content-type': type },
      payload: bytes,
    });
    return {
      path: { id },
      query: { copy: 'original' },
      headers: ground.chance.is(0.3)
        ? { range: ground.chance.of(['bytes=0-9', 'bytes=-5', 'bytes=99999-']) }
        : {},
    };
  },
  startNightlyRun: (ground) => ({
    body: ground.chance.is(0.5) ? { businessDay: today(ground), again: true } : {},
  }),
  askWhatIf: (ground) => ({ body: { extraCrews: ground.chance.of([-1, 0, 1]) } }),
  settleConflict: async (ground, draft) => {
    const id = await ground.door.make('clients', { id: ground.chance.id(), name: 'Alder' });
    await ground.door.as('owner', 'POST', '/v1/clients', { id, name: 'Other content' });
    const { body: list } = await ground.door.as('owner', 'GET', `/v1/conflicts?resourceId=${id}`);
    return { path: { id: list.items?.[0]?.id ?? draft.path['id'] } };
  },
};

const lonelyClient = ({ door, chance }: Ground): Promise<string> =>
  door.make('clients', { name: `Client ${chance.id().slice(0, 8)}`, phone: '555 0177' });

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

/** A day of the coming months on which crews work. */
const weekday = ({ known, chance }: Ground): string =>
  dayFrom(known.now, 7 * chance.whole(1, 50) + chance.whole(-1, 1));

async function versionOfPipe({ door }: Ground, draft: Draft): Promise<string> {
  const { body: list } = await door.as('owner', 'GET', '/v1/pipes');
  const pipe = (list.items as { product: string; version: number }[]).find(
    ({ product }) => product === draft.path['product'],
  );
  return `"${pipe?.version ?? 0}"`;
}

/** The recipe of an operation: its own, or that of its kind. */
export function recipeOf(operation: Operation, all: readonly Operation[]): Recipe | undefined {
  const own = RECIPES[operation.id];
  if (own) return own;
  const list = listOf(operation.path);
  if (operation.method === 'PATCH') return changeOf(list);
  if (!operation.path.endsWith('/batch')) return undefined;
  const single = all.find(({ method, path }) => method === 'POST' && path === `/v1/${list}`);
  return single && batchOf(single);
}
