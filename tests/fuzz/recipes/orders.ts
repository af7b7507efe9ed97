import type { Ground, Recipe } from '../asks.js';
import { ago, begunOrder, DONE, doneOrder, newLine, newOrder, today } from '../works.js';
import { DRAINS } from './books.js';
import { changeOfNew, changeWithout, having, onId, onOrder, soon } from './shape.js';

const proposal = async (ground: Ground): Promise<string> =>
  ground.door.make('proposals', {
    siteId: ground.place.siteId,
    kind: 'smooth_pipe',
    lineId: await newLine(ground),
  });

/** Work orders, from the proposal to the report. */
export const ORDERS: Record<string, Recipe> = {
  createDecision: having(({ place }) => ({
    lineIds: [place.lineId],
    decidedOn: '2026-09-01',
    untilDay: '2026-12-01',
    endedOn: null,
  })),
  changeDecision: changeWithout('decisions', 'lineIds', 'decidedOn', 'untilDay', 'endedOn', 'kind'),
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
  tellOnTheWay: onOrder(newOrder, (ground) => ({ leftAt: ago(ground, 10) }), 'expectedAt'),
  tellRunningLate: onOrder(newOrder, (ground) => ({ expectedAt: ago(ground, -60) })),
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
  printVisitReport: onOrder(doneOrder),
};
