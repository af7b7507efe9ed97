import type { Draft, Ground, Recipe } from '../asks.js';
import { dayFrom } from '../values.js';
import { newLine } from '../works.js';
import { changeOfNew, changeWithout, having, onId } from './shape.js';

/** What says where a line goes. */
export const DRAINS = ['drainsTo', 'drainsToPitId', 'drainsToLineId'];

async function versionOfPipe({ door }: Ground, draft: Draft): Promise<string> {
  const { body: list } = await door.as('owner', 'GET', '/v1/pipes');
  const pipe = (list.items as { product: string; version: number }[]).find(
    ({ product }) => product === draft.path['product'],
  );
  return `"${pipe?.version ?? 0}"`;
}

/** Sites, clients and what lies in the ground. */
export const BOOKS: Record<string, Recipe> = {
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
  createRegimeChange: having(({ place, chance, known }) => ({
    lineId: place.lineId,
    changedOn: dayFrom(known.now, -chance.whole(1, 3000)),
  })),
  changePipe: async (ground, draft) => ({
    headers: { 'if-match': await versionOfPipe(ground, draft) },
    body: { manningN: 0.012, source: 'measured on ten cut ends' },
  }),
  resetPipe: async (ground, draft) => ({ headers: { 'if-match': await versionOfPipe(ground, draft) } }),
  drawPitPump: onId(async ({ place }) => place.pitId),
  drawLineCapacity: onId(async ({ place }) => place.lineId),
};
