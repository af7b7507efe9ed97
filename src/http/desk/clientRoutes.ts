import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { findDoubles, mergeClients } from '../../actions/desk/mergeClients.js';
import { search } from '../../actions/desk/search.js';
import { sellHouse } from '../../actions/desk/sellHouse.js';
import type { House } from '../../actions/house.js';
import type { Row } from '../../actions/ports.js';
import type { Role } from '../../domain/words.js';
import { WORK_ORDER_STATES } from '../../domain/words.js';
import { toView, viewSchema } from '../resource.js';
import { clients } from '../resources/all.js';
import { day, id, oneLine, phoneLine, queryNumber, reason, refusals, share, text } from '../shapes.js';
import { orderView, viewOrder } from '../workOrderShapes.js';
import { write } from '../writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const MOST_HITS = 50;

const point = z
  .string()
  .regex(/^-?\d{1,2}(\.\d+)?,-?\d{1,3}(\.\d+)?$/, 'is not latitude,longitude')
  .refine((s) => {
    const [lat = 0, lon = 0] = s.split(',').map(Number);
    return Math.abs(lat) <= 90 && Math.abs(lon) <= 180;
  }, 'lies outside the globe')
  .meta({ example: '44.51,-90.31' });
const pointOf = (near: string | undefined) => {
  if (near === undefined) return null;
  const [latitude = 0, longitude = 0] = near.split(',').map(Number);
  return { latitude, longitude };
};

const hit = z
  .object({
    type: z.enum(['client', 'contact', 'site', 'order']),
    id: z.uuid(),
    title: z.string(),
    detail: z.string(),
    matched: z
      .enum(['name', 'phone', 'address', 'number', 'near', 'client', 'contact', 'site'])
      .describe('what of it fits, or through whom it was found'),
    score: share.describe('1: exactly; less the more was guessed'),
    clientId: z.uuid().nullable(),
    siteId: z.uuid().nullable(),
    distanceMetres: z.number().int().nullable(),
  })
  .meta({ id: 'Hit' });

const knownClient = z.object({
  id: z.uuid(),
  name: z.string(),
  phone: z.string().nullable(),
  email: z.string().nullable(),
  addresses: z.array(z.string()),
});
const doublesView = z
  .object({
    items: z.array(
      z.object({
        clients: z.array(knownClient).length(2),
        score: share,
        because: z.array(
          z.object({
            code: z.enum(['same_phone', 'same_email', 'same_name', 'like_name', 'same_house']),
            text: z.string(),
          }),
        ),
      }),
    ),
  })
  .meta({ id: 'LikelyDoubles', description: 'Pairs of clients that are likely one, likeliest first.' });

const mergedView = z
  .object({
    client: viewSchema(clients),
    moved: z.object({ sites: z.number().int(), contacts: z.number().int(), calls: z.number().int() }),
  })
  .meta({ id: 'MergedClients' });

const saleBody = z
  .strictObject({
    soldOn: day,
    buyer: z
      .union([
        z.strictObject({ clientId: id }),
        z.strictObject({
          name: oneLine(200),
          phone: phoneLine(40).nullable().optional(),
          email: oneLine(200).nullable().optional(),
        }),
      ])
      .nullable()
      .optional()
      .describe('a client that is there, a new one, or nobody known yet'),
    keepContactIds: z
      .array(id)
      .max(50)
      .optional()
      .describe('a tenant, a neighbour with the key; the other contacts of the site are archived'),
  })
  .meta({
    id: 'HouseSale',
    example: { soldOn: '2026-10-01', buyer: { name: 'B. Alder', phone: '555 0142' } },
  });
const saleView = z
  .object({
    siteId: z.uuid(),
    soldOn: day,
    sellerId: z.uuid().nullable(),
    buyerId: z.uuid().nullable(),
    endedTermIds: z.array(z.uuid()),
    endedDecisionIds: z.array(z.uuid()),
    archivedContactIds: z.array(z.uuid()),
    endedFeedIds: z.array(z.uuid()).describe('calendar addresses the seller may have: they answer no more'),
    withdrawnProposalIds: z.array(z.uuid()).describe('offered to the seller and not answered'),
    endedPromises: z
      .array(
        z.object({
          id: z.uuid(),
          workOrderId: z.uuid(),
          day,
          fromTime: z.string().nullable(),
          toTime: z.string().nullable(),
          toldTo: z.string().nullable(),
        }),
      )
      .describe('days told to the seller for work not begun'),
    toDecide: z
      .array(orderView)
      .describe(
        'not begun, on no route any more: each waits for the buyer’s consent; meet or waive that, or withdraw the order',
      ),
    toAsk: z.array(reason).describe('keys, access notes and hours from the seller’s time'),
  })
  .meta({ id: 'HouseSold' });

const viewEnded = (promise: Row) => ({
  id: promise['id'],
  workOrderId: promise['work_order_id'],
  day: promise['day'],
  fromTime: promise['from_time'],
  toTime: promise['to_time'],
  toldTo: promise['told_to'],
});

const offMapView = z
  .object({
    items: z.array(
      z.object({
        id: z.uuid(),
        address: z.string(),
        town: z.string(),
        postalCode: z.string().nullable(),
        version: z.number().int(),
        plannedAt: z
          .object({ latitude: z.number(), longitude: z.number(), middleOf: z.string() })
          .nullable()
          .describe('where planning takes it to be; null: its orders are not placed'),
        orders: z.array(
          z.object({
            id: z.uuid(),
            number: z.number().int(),
            state: z.enum(WORK_ORDER_STATES),
            wantedBy: day.nullable(),
          }),
        ),
        text: z.string(),
      }),
    ),
  })
  .meta({
    id: 'SitesOffMap',
    description:
      'Sites without coordinates. PATCH /v1/sites/{id} with latitude and longitude puts one on the map.',
  });

/** Finding clients and houses, and putting the books right. */
export function registerClientRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/search',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'search',
        summary:
          'Clients, contacts, sites and orders by name, street, phone in any writing or number; sites near a point',
        tags: ['search'],
        querystring: z.strictObject({
          q: text(200).optional().meta({ example: 'causeway road' }),
          near: point.optional().describe('latitude,longitude'),
          limit: queryNumber(z.number().int().min(1).max(MOST_HITS)).default(20),
        }),
        response: {
          200: z.object({ items: z.array(hit) }).meta({ id: 'Hits', description: 'Best first.' }),
          ...refusals(422),
        },
      },
    },
    async (request) => {
      const { q, near, limit } = request.query as { q?: string; near?: string; limit: number };
      return { items: await search(house, { text: q ?? null, near: pointOf(near), limit }) };
    },
  );

  app.get(
    '/v1/client-doubles',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listClientDoubles',
        summary: 'Pairs of clients that are likely one, and why',
        tags: ['clients'],
        response: { 200: doublesView, ...refusals() },
      },
    },
    async () => ({ items: await findDoubles(house.stores) }),
  );

  app.post(
    '/v1/clients/:id/merger',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'mergeClients',
        summary:
          'Make a doubled client part of this one: its sites, contacts and calls move, its id points here from then on',
        tags: ['clients'],
        params: z.strictObject({ id }),
        body: z.strictObject({ doubleId: id, because: text(500) }).meta({
          id: 'ClientMerger',
          example: { doubleId: '019abcde-0000-7000-8000-000000000002', because: 'the same person' },
        }),
        response: { 200: mergedView, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { doubleId, because } = request.body as { doubleId: string; because: string };
        const { kept, moved } = await mergeClients(
          house,
          stores,
          request.actor,
          (request.params as { id: string }).id,
          doubleId,
          because,
        );
        return { status: 200, body: { client: toView(clients, kept, house.units), moved } };
      }),
  );

  app.post(
    '/v1/sites/:id/sale',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'sellHouse',
        summary:
          'A house was sold: its client changes, what the seller agreed to ends, open orders leave their routes and wait for the buyer',
        tags: ['sites'],
        params: z.strictObject({ id }),
        body: saleBody,
        response: { 200: saleView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { soldOn, buyer, keepContactIds } = request.body as z.infer<typeof saleBody>;
        const sale = await sellHouse(house, stores, request.actor, (request.params as { id: string }).id, {
          soldOn,
          buyer:
            buyer && 'name' in buyer
              ? { name: buyer.name, phone: buyer.phone ?? null, email: buyer.email ?? null }
              : (buyer ?? null),
          keepContactIds: keepContactIds ?? [],
        });
        return {
          status: 200,
          body: {
            ...sale,
            endedPromises: sale.endedPromises.map(viewEnded),
            toDecide: sale.toDecide.map(viewOrder),
          },
        };
      }),
  );

  app.get(
    '/v1/sites-off-map',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listSitesOffMap',
        summary: 'Sites without coordinates, with their open orders and what planning makes of them',
        tags: ['sites'],
        response: { 200: offMapView, ...refusals() },
      },
    },
    async () => ({
      items: (await house.stores.search.offMap()).map((row) => ({
        id: row['id'],
        address: row['address'],
        town: row['town'],
        postalCode: row['postal_code'],
        version: row['version'],
        plannedAt:
          row['latitude'] === null
            ? null
            : { latitude: row['latitude'], longitude: row['longitude'], middleOf: row['place'] },
        orders: row['orders'],
        text:
          row['latitude'] === null
            ? 'Not on the map, and nothing near it is: its orders are not placed. Put it on the map by hand.'
            : `Not on the map: planned as if in the middle of ${String(row['place'])}. Put it on the map by hand.`,
      })),
    }),
  );
}
