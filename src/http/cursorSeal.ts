import { createHmac, timingSafeEqual } from 'node:crypto';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { House } from '../actions/house.js';
import { Refused } from '../actions/problems.js';

declare module 'fastify' {
  interface FastifyRequest {
    /** What cursors are sealed with, where the operation takes one. */
    cursorSecret: Buffer | null;
  }
}

const SEAL_BYTES = 16;

const sealOf = (secret: Buffer, place: Buffer): Buffer =>
  createHmac('sha256', secret).update(place).digest().subarray(0, SEAL_BYTES);

/** Lets in a cursor that this house gave out, opened; any other is refused before anything is asked of the database. */
export function openCursors(app: FastifyInstance, house: House): void {
  let kept: Buffer | null = null;
  const secret = async (): Promise<Buffer> => {
    kept ??= await house.stores.keys.secretOf('cursor');
    return kept;
  };
  app.decorateRequest('cursorSecret', null);
  app.addHook('preValidation', async (request) => {
    if (!takesCursor(request)) return;
    request.cursorSecret = await secret();
    const query = request.query as { cursor?: unknown };
    if (typeof query.cursor === 'string') query.cursor = opened(request.cursorSecret, query.cursor);
  });
}

/** A query whose fields cannot be seen may have one. */
function takesCursor({ routeOptions }: FastifyRequest): boolean {
  const query = (routeOptions.schema as { querystring?: { shape?: object } } | undefined)?.querystring;
  return query !== undefined && (query.shape === undefined || 'cursor' in query.shape);
}

function opened(secret: Buffer, cursor: string): string {
  const bytes = Buffer.from(cursor, 'base64url');
  const place = bytes.subarray(SEAL_BYTES);
  const isOurs =
    bytes.length > SEAL_BYTES && timingSafeEqual(bytes.subarray(0, SEAL_BYTES), sealOf(secret, place));
  if (!isOurs) throw badCursor('is none that this service gave out, or was changed');
  return place.toString();
}

/** A place in a list as callers pass it on. */
export function sealed({ cursorSecret }: FastifyRequest, place: string): string {
  if (cursorSecret === null) throw new Error('this operation takes no cursor');
  const bytes = Buffer.from(place);
  return Buffer.concat([sealOf(cursorSecret, bytes), bytes]).toString('base64url');
}

export const badCursor = (detail: string): Refused =>
  new Refused({
    code: 'bad-cursor',
    faults: [
      {
        pointer: '#/querystring:cursor',
        detail,
        remedy: 'pass on `next` of the page before, to the same list with the same filters and sort',
      },
    ],
  });
