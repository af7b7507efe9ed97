import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { createFeed, readFeed, revokeFeed } from '../actions/telling/feeds.js';
import type { Role } from '../domain/words.js';
import { id, instant, oneLine, refusals } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];

const newFeed = z
  .strictObject({
    name: oneLine(200).describe('for whom it is, so that it can be revoked when they go'),
    crewId: id.nullable().optional(),
    siteId: id.nullable().optional(),
  })
  .meta({
    id: 'NewFeed',
    description: 'A calendar of one crew or of one site.',
    example: { name: "A. Reed's phone", siteId: '019abcde-0000-7000-8000-000000000001' },
  });

const feed = {
  id: z.uuid(),
  name: z.string(),
  crewId: z.uuid().nullable(),
  siteId: z.uuid().nullable(),
  revokedAt: instant.nullable(),
  lastUsedAt: instant.nullable().describe('to the hour'),
  createdAt: instant,
};
const feedView = z.object(feed).meta({ id: 'Feed' });
const feedWithUrl = z
  .object({
    ...feed,
    url: z
      .string()
      .nullable()
      .describe(
        'whoever knows it can read; from the first slash on where the service was not told PUBLIC_URL; shown once, null where a repeated request is answered again',
      ),
  })
  .meta({ id: 'FeedWithUrl' });

const viewFeed = (row: Row) => ({
  id: row['id'],
  name: row['name'],
  crewId: row['crew_id'],
  siteId: row['site_id'],
  revokedAt: row['revoked_at'],
  lastUsedAt: row['last_used_at'],
  createdAt: row['created_at'],
});

/**
 * Calendars that programs subscribe to: made and revoked by the office, read by whoever knows the address.
 *
 * @param publicUrl Where the service is reached from outside; absent: addresses are told from the first slash on, as what a
 *   caller says of the host is not to be handed on.
 */
export function registerFeedRoutes(app: FastifyInstance, house: House, publicUrl: string | undefined): void {
  const tags = ['feeds'];
  const urlOf = (token: string) => `${publicUrl ?? ''}/feeds/${token}/calendar.ics`;

  app.get(
    '/v1/feeds',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listFeeds',
        summary: 'Calendars that somebody may read, without their addresses',
        tags,
        response: { 200: z.object({ items: z.array(feedView) }).meta({ id: 'FeedList' }), ...refusals() },
      },
    },
    async () => ({ items: (await house.stores.rows.all('feed', [])).map(viewFeed) }),
  );

  app.post(
    '/v1/feeds',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'createFeed',
        summary: 'A calendar address of a crew or a site, shown once',
        tags,
        body: newFeed,
        response: { 201: feedWithUrl, ...refusals(415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { name, crewId = null, siteId = null } = request.body as z.infer<typeof newFeed>;
        const { row, token } = await createFeed(stores, { name, crewId, siteId });
        const view = viewFeed(row);
        return {
          status: 201,
          body: { ...view, url: urlOf(token) },
          bodyAgain: { ...view, url: null },
        };
      }),
  );

  app.post(
    '/v1/feeds/:id/revocation',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'revokeFeed',
        summary: 'The address stops working at once',
        tags,
        params: z.strictObject({ id }),
        response: { 200: feedView, ...refusals(404, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        return { status: 200, body: viewFeed(await revokeFeed(house, stores, id)) };
      }),
  );

  app.get(
    '/feeds/:token/calendar.ics',
    {
      config: { roles: 'public' },
      schema: {
        operationId: 'readFeed',
        summary: 'A calendar (RFC 5545), for who knows its address',
        tags,
        params: z.strictObject({ token: z.string().max(100) }),
        response: {
          200: z.string().describe('text/calendar'),
          304: z.null().describe('Not changed since the version you hold.'),
          ...refusals(404),
        },
      },
    },
    async (request, reply) => {
      const { token } = request.params as { token: string };
      const calendar = await readFeed(house, token);
      if (calendar === null)
        throw new Refused({ code: 'not-found', resource: 'feed', id: 'of that address' });
      const etag = `"${createHash('sha256').update(calendar).digest('base64url').slice(0, 22)}"`;
      reply.headers({ etag, 'cache-control': 'private, no-cache' });
      const held = (request.headers['if-none-match'] ?? '')
        .split(',')
        .map((tag) => tag.trim().replace(/^W\//, ''));
      if (held.includes(etag)) return reply.code(304).send();
      return reply.type('text/calendar; charset=utf-8').serializer(String).send(calendar);
    },
  );
}
