import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { ChangePlace, House } from '../actions/house.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import { CALLERS, ROLES, type Role } from '../domain/words.js';
import { pathOf } from './resourcePaths.js';
import { RESOURCES } from './resources/all.js';
import { instant, queryNumber, refusals } from './shapes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const change = z
  .object({
    resource: z.string(),
    id: z.uuid(),
    op: z.enum(['created', 'changed', 'removed']),
    version: z.number().int().nullable(),
    at: instant,
    href: z.string().nullable().describe('where it is read now; null: as part of something else, or gone'),
  })
  .meta({ id: 'Change' });

const page = z
  .object({ items: z.array(change), next: z.string(), more: z.boolean() })
  .meta({ id: 'ChangePage', description: '`next` is the `since` of the next call, also when nothing came.' });

/** Records that not every role reads by themselves: a technician reads a system with its stop. */
const READ_BY = new Map<unknown, readonly Role[]>(RESOURCES.map(({ table, read }) => [table, read]));

const viewChange = (row: Row, roles: readonly Role[]) => {
  const isRead =
    row['op'] !== 'removed' && (READ_BY.get(row['resource']) ?? ROLES).some((role) => roles.includes(role));
  return {
    resource: row['resource'],
    id: row['row_id'],
    op: row['op'],
    version: row['version'],
    at: row['at'],
    href: isRead ? pathOf(String(row['resource']), String(row['row_id'])) : null,
  };
};

const written = ({ life, xact, seq }: ChangePlace) =>
  Buffer.from(`${life}.${xact}.${seq}`).toString('base64url');

const SINCE = '#/querystring:since';
const gone = (detail: string) =>
  new Refused({
    code: 'changes-gone',
    faults: [{ pointer: SINCE, detail, remedy: 'leave it out for a new place, then read everything again' }],
  });

/**
 * @param kept The present log and the last place in it that is not kept.
 * @throws {Refused} When the text is no place, or one from before what is kept.
 */
function readPlace(text: string, kept: ChangePlace): ChangePlace {
  const match = /^([0-9a-f-]{36})\.(\d{1,18})\.(\d{1,18})$/.exec(Buffer.from(text, 'base64url').toString());
  if (!match)
    throw new Refused({
      code: 'bad-cursor',
      faults: [
        {
          pointer: SINCE,
          detail: 'is not a place in the list of changes',
          remedy: 'the `next` of an earlier call; leave it out to begin now',
        },
      ],
    });
  if (match[1] !== kept.life)
    throw gone('is a place in the list of changes as it was before a backup was restored');
  const place = { life: kept.life, xact: match[2] ?? '0', seq: match[3] ?? '0' };
  if (isBefore(place, kept)) throw gone('is older than the changes that are kept');
  return place;
}

const isBefore = (a: ChangePlace, b: ChangePlace): boolean =>
  a.xact === b.xact ? BigInt(a.seq) < BigInt(b.seq) : BigInt(a.xact) < BigInt(b.xact);

/** What changed since a place in time, removals included: how an app keeps its copy. */
export function registerChangeRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/changes',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listChanges',
        summary: "What changed since a place; a technician hears of the own crew's work",
        description:
          'Call without `since` before a first full read: it answers the place to go on from. Each change names the record, not its content; a `stored_file` is the bytes of the attachment of that id. When a technician changes crew, or a visit another crew, what is no longer theirs comes as `removed` and what now is as `changed`, beside that change and beyond `limit`. 410 `changes-gone`: the place is older than what is kept (setting `keeping.changeDays`) or from before a backup was restored; read everything again.',
        tags: ['changes'],
        querystring: z.strictObject({
          since: z.string().max(100).optional(),
          limit: queryNumber(z.number().int().min(1).max(1000)).default(200),
        }),
        response: { 200: page, ...refusals(410) },
      },
    },
    async (request) => {
      const { since, limit } = request.query as { since?: string; limit: number };
      const { actor } = request;
      if (since === undefined)
        return { items: [], next: written(await house.stores.changes.now()), more: false };
      const inOffice = actor.roles.some((role) => OFFICE.includes(role));
      if (!inOffice && actor.memberId === null) return { items: [], next: since, more: false };
      const after = readPlace(since, await house.stores.changes.life());
      const memberId = inOffice ? null : actor.memberId;
      const { rows, more, next } = await house.stores.changes.since(after, limit, memberId);
      return { items: rows.map((row) => viewChange(row, actor.roles)), next: written(next), more };
    },
  );
}
