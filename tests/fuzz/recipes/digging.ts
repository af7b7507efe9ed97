import type { Ground, Recipe } from '../asks.js';
import { ago, newOrder } from '../works.js';
import { changeWithout, having, onId, onOrder } from './shape.js';

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

const incident = (ground: Ground): Promise<string> =>
  ground.door.make('incidents', {
    kind: 'discharge',
    happenedAt: ago(ground, 60),
    what: 'sludge in a ditch',
  });

/** Digging, rain and where water goes. */
export const DIGGING: Record<string, Recipe> = {
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
  listWaterRecords: (_ground, draft) => ({ query: { ...draft.query, from: '2026-09-01', to: '2026-10-01' } }),
  printDischargeLog: (_ground, draft) => ({
    query: { ...draft.query, from: '2026-09-01', to: '2026-10-01' },
  }),
  recordIncident: having(
    (ground) => ({ happenedAt: ago(ground, 60), siteId: ground.place.siteId }),
    'workOrderId',
  ),
  withdrawIncident: onId(incident),
  tellOfIncident: async (ground) => ({
    path: { id: await incident(ground) },
    body: { who: 'owner of the business', toldAt: ago(ground, 5) },
  }),
};
