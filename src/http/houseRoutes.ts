import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { createKey, refuseUnfitKey } from '../actions/createKey.js';
import type { House } from '../actions/house.js';
import { Refused } from '../actions/problems.js';
import { CALLERS, ROLES } from '../domain/words.js';
import { id, instant, oneLine, refusals } from './shapes.js';
import { write } from './writes.js';

const me = z
  .object({ keyId: z.uuid(), name: z.string(), memberId: z.uuid().nullable(), roles: z.array(z.enum(ROLES)) })
  .meta({ id: 'Me', description: 'Who the key belongs to and what it may do.' });

const meta = z
  .object({
    version: z.string(),
    zone: z.string(),
    today: z.string(),
    currency: z.string(),
    units: z.enum(['metric', 'us']),
  })
  .meta({ id: 'Meta', description: 'Version, zone, business day, currency and units of this house.' });

const keyView = z
  .object({
    id: z.uuid(),
    name: z.string(),
    memberId: z.uuid().nullable(),
    roles: z.array(z.enum(ROLES)),
    expiresAt: instant.nullable(),
    revokedAt: instant.nullable(),
    lastUsedAt: instant.nullable(),
    createdAt: instant,
  })
  .meta({ id: 'AccessKey' });
const newKeyView = keyView
  .extend({
    key: z
      .string()
      .nullable()
      .describe(
        'The bearer text. Shown once, kept nowhere: null where a repeated request is answered again.',
      ),
  })
  .meta({ id: 'MintedAccessKey' });

const LISTED_IMPORTS = 100;
const importView = z
  .object({
    id: z.uuid(),
    source: z.string(),
    files: z.unknown(),
    counts: z.record(z.string(), z.number()),
    askedBy: z.string(),
    createdAt: instant,
  })
  .meta({ id: 'Import', description: 'A file set that came in whole, and what it brought.' });

const keyBody = z
  .strictObject({
    name: oneLine(200),
    roles: z
      .array(z.enum(ROLES))
      .min(1)
      .max(ROLES.length)
      .refine((roles) => new Set(roles).size === roles.length, 'is not each role once'),
    memberId: id
      .nullable()
      .optional()
      .describe("whose key it is; needed for a technician's. Archived, the key ends with the person"),
    expiresAt: instant.nullable().optional(),
  })
  .meta({ id: 'NewAccessKey' });

/** What concerns the house itself: who am I, where am I, who may come in. */
export function registerHouseRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/me',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getMe',
        summary: 'Who this key belongs to',
        tags: ['house'],
        response: { 200: me, ...refusals() },
      },
    },
    async (request) => request.actor,
  );

  app.get(
    '/v1/meta',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getMeta',
        summary: 'Version, zone, business day, currency, units',
        tags: ['house'],
        response: { 200: meta, ...refusals() },
      },
    },
    async () => ({
      version: house.version,
      zone: house.zone.name,
      today: house.zone.dayOf(house.clock.now()),
      currency: house.currency,
      units: house.units,
    }),
  );

  app.get(
    '/v1/keys',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'listKeys',
        summary: 'All access keys, without their text',
        tags: ['house'],
        response: { 200: z.object({ items: z.array(keyView) }).meta({ id: 'AccessKeyList' }), ...refusals() },
      },
    },
    async () => ({ items: await house.reads.accessKeys() }),
  );

  app.get(
    '/v1/imports',
    {
      config: { roles: ['dispatcher', 'owner', 'integration'] },
      schema: {
        operationId: 'listImports',
        summary: 'The last 100 imports of client bases, newest first',
        tags: ['house'],
        response: { 200: z.object({ items: z.array(importView) }).meta({ id: 'ImportList' }), ...refusals() },
      },
    },
    async () => ({ items: await house.reads.imports(LISTED_IMPORTS) }),
  );

  app.post(
    '/v1/keys',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'createKey',
        summary: 'Make an access key for a person; its text is shown once, and kept nowhere',
        tags: ['house'],
        body: keyBody,
        response: { 201: newKeyView, ...refusals(415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof keyBody>;
        const wanted = {
          name: body.name,
          roles: body.roles,
          memberId: body.memberId ?? null,
          expiresAt: body.expiresAt ?? null,
        };
        await refuseUnfitKey(house, stores, wanted);
        const { row, key } = await createKey(stores, wanted);
        const view = viewOf(row);
        return { status: 201, body: { ...view, key }, bodyAgain: { ...view, key: null } };
      }),
  );

  app.post(
    '/v1/keys/:id/revocation',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'revokeKey',
        summary: 'Revoke an access key; it stops working within five seconds',
        tags: ['house'],
        params: z.strictObject({ id }),
        response: { 200: keyView, ...refusals(404, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const row = await stores.rows.lock('access_key', id);
        if (!row) throw new Refused({ code: 'not-found', resource: 'access_key', id });
        const revoked = row['revoked_at']
          ? row
          : await stores.rows.update('access_key', id, { revoked_at: house.clock.now().toISOString() });
        return { status: 200, body: viewOf(revoked ?? row) };
      }),
  );
}

const viewOf = (row: Record<string, unknown>) => ({
  id: row['id'],
  name: row['name'],
  memberId: row['member_id'],
  roles: row['roles'],
  expiresAt: row['expires_at'],
  revokedAt: row['revoked_at'],
  lastUsedAt: row['last_used_at'],
  createdAt: row['created_at'],
});
