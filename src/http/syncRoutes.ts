import type { FastifyInstance, FastifyRequest } from 'fastify';
import { validatorCompiler } from 'fastify-type-provider-zod';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { authorId } from '../actions/mayWorkOn.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { type Problem, Refused, ruleBroken } from '../actions/problems.js';
import { applyForOthers } from '../actions/sync/applySync.js';
import { type Need, need } from '../actions/sync/needs.js';
import { type ItemAnswer, receiveSync } from '../actions/sync/receiveSync.js';
import type { SentItem, UnreadItem } from '../actions/sync/syncWork.js';
import { fingerprint } from '../actions/takeId.js';
import { type Role, SYNC_KINDS, SYNC_STATES, type SyncKind } from '../domain/words.js';
import { byOurClock, clockInWords, deviceClock, IF_CLOCK_WAS_WRONG } from '../domain/work/deviceClock.js';
import { waitsInWords } from '../domain/work/waitsInWords.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { type ProblemBody, problemBody, shapeProblem } from './problemAnswers.js';
import { snake } from './resource.js';
import { pathOf } from './resourcePaths.js';
import { id, instant, refusals, text } from './shapes.js';
import { keptItem, sentItem, syncAnswer, syncBody, syncEnvelope, syncItem } from './syncShapes.js';
import { write } from './writes.js';

const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];
const OFFICE: readonly Role[] = ['dispatcher', 'owner'];

/** What happened on site, brought in by apps that were out of reach. */
export function registerSyncRoutes(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/sync',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'sync',
        summary: 'Bring in what happened on site: any mixture of items, an answer for each',
        description:
          'Items are put in order by their times and by what rests on what. The same items in any order, doubled, or split into several calls end in the same state. What came before its ground is kept and done when that comes; what somebody else said otherwise is kept as a conflict for a person.',
        tags: ['sync'],
        body: syncBody,
        response: { 200: syncAnswer, ...refusals(413, 415, 422) },
      },
      // Items are judged one by one below: the published schema is for people, the envelope for the door.
      validatorCompiler: (asked) =>
        validatorCompiler(asked.httpPart === 'body' ? { ...asked, schema: syncEnvelope } : (asked as never)),
    },
    (request, reply) => {
      const body = request.body as z.infer<typeof syncEnvelope>;
      const now = house.clock.now();
      const clock = deviceClock(Date.parse(body.sentAt), now.getTime());
      const read = body.items.map((content) => readItem(content, clock));
      const sent = read.flatMap((item) => (item.sent ? [item.sent] : []));
      const unread = read.flatMap((item) => (item.malformed?.kept ? [item.malformed.kept] : []));
      return write(house, request, reply, async (stores) => {
        const { answers, brought } = await receiveSync(house, stores, request.actor, { sent, unread });
        let next = 0;
        const items = read.map((item) =>
          item.sent
            ? viewAnswer(answers[next++] as ItemAnswer, item.sent)
            : { ...item.malformed.answer, ...NOTHING },
        );
        return {
          status: 200,
          body: {
            receivedAt: now.toISOString(),
            clock: { offsetSeconds: clock.offsetS, right: clock.isRight, text: clockInWords(clock) },
            items,
          },
          afterwards: () => settleForOthers(house, request, brought),
        };
      });
    },
  );

  app.get(
    '/v1/sync-items',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'listSyncItems',
        summary:
          'What apps sent and what became of it; a technician: the own ones (Accept: text/csv: as CSV)',
        tags: ['sync'],
        querystring: listQuery({
          filters: {
            state: z.enum(SYNC_STATES).optional(),
            kind: z.enum(SYNC_KINDS).optional(),
            workOrderId: id.optional(),
          },
          sorts: ['createdAt', 'happenedAt'],
        }),
        response: { 200: pageAnswer(keptItem, 'KeptSyncItemPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['state', 'kind', 'workOrderId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (!isOffice(request.actor))
        where.push({ column: 'author_id', is: '=', value: authorId(request.actor) });
      const ask = pageAskOf(asked, where, {
        list: 'sync-items',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'sync_item',
        item: keptItem,
        views: (rows) => rows.map(viewKept),
      });
    },
  );

  app.post(
    '/v1/sync-items/:id/withdrawal',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'withdrawSyncItem',
        summary:
          'Give up an item that waits or was refused: nothing waits for it any more; its content stays on record for keeping.syncDays',
        description: 'The office any item, a technician the own ones.',
        tags: ['sync'],
        params: z.strictObject({ id }),
        body: z.strictObject({ because: text(500) }).meta({ id: 'SyncItemWithdrawal' }),
        response: { 200: keptItem, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const row = await stores.rows.lock('sync_item', id);
        if (!row || !mayGiveUp(request.actor, row))
          throw new Refused({ code: 'not-found', resource: 'sync_item', id });
        if (!OPEN.includes(String(row['state'])))
          throw new Refused({
            code: 'wrong-state',
            resource: 'sync_item',
            id,
            state: String(row['state']),
            allowed: OPEN,
            detail: 'Only what waits or was refused can be taken out.',
          });
        const { because } = request.body as { because: string };
        const withdrawn = await stores.rows.update('sync_item', id, {
          state: 'withdrawn',
          waits_for: [],
          settled_at: house.clock.now().toISOString(),
          settled_by: `${request.actor.name}: ${because}`,
        });
        return {
          status: 200,
          body: viewKept(withdrawn ?? row),
          afterwards: () => settleForOthers(house, request, [need('item', id)]),
        };
      }),
  );
}

const isOffice = (actor: Actor): boolean => actor.roles.some((role) => OFFICE.includes(role));

/** Items of which something may still become. */
const OPEN = ['waiting', 'refused'];

const mayGiveUp = (actor: Actor, item: Row): boolean =>
  isOffice(actor) || item['author_id'] === authorId(actor);

/** What this brought is on record already: that others' items were not settled by it yet is no fault of the caller. */
export async function settleForOthers(
  house: House,
  request: FastifyRequest,
  brought: readonly Need[],
): Promise<void> {
  try {
    await applyForOthers(house, brought);
  } catch (error) {
    request.log.warn({ err: error }, 'items that waited were not settled; the next sync tries again');
  }
}

interface Malformed {
  answer: { id: string | null; kind: SyncKind | null; outcome: 'refused'; problem: ProblemBody };
  /** Null: without an id and a kind nothing can be kept by them. */
  kept: UnreadItem | null;
}
const NOTHING = { waitsFor: [], text: null, href: null };

/** Longer than any right item: one with the most of everything has some 60,000 characters. Such a one is refused unread, and not kept. */
const LONGEST_ITEM = 65_536;
/** A call has 500 items, and what is wrong with each is kept. */
const MOST_FAULTS_OF_ITEM = 5;

function tooLong(content: unknown, length: number): Malformed['answer'] {
  const { id, kind } = readable.safeParse(content).data ?? NOTHING_READ;
  const { problem } = ruleBroken(
    'sync-item',
    '#',
    `has ${length} characters`,
    `at most ${LONGEST_ITEM}: one thing that happened an item`,
  );
  return { id, kind, outcome: 'refused', problem: problemBody(problem) };
}

function readItem(
  content: unknown,
  clock: ReturnType<typeof deviceClock>,
): { sent: SentItem; malformed?: never } | { sent?: never; malformed: Malformed } {
  const bytes = JSON.stringify(content).length;
  if (bytes > LONGEST_ITEM) return { malformed: { answer: tooLong(content, bytes), kept: null } };
  const parsed = syncItem.safeParse(content);
  if (parsed.success) return { sent: sentItem(parsed.data, content as object, clock) };
  const known = readable.safeParse(content).data ?? NOTHING_READ;
  const problem = shapeProblem(parsed.error.issues, content, MOST_FAULTS_OF_ITEM);
  const { id: itemId, kind, at, workOrderId } = known;
  return {
    malformed: {
      answer: { id: itemId, kind, outcome: 'refused', problem },
      kept:
        itemId === null || kind === null
          ? null
          : {
              id: itemId,
              kind,
              at: at === null ? null : byOurClock(at, clock),
              workOrderId,
              clockOffsetS: clock.offsetS,
              content: content as object,
              fingerprint: fingerprint('unread', content),
              problem: { code: 'bad-body', faults: problem.errors ?? [] },
            },
    },
  };
}

/** What can be read of an item that is not right. */
const readable = z.object({
  id: id.nullable().catch(null),
  kind: z.enum(SYNC_KINDS).nullable().catch(null),
  at: instant.nullable().catch(null),
  workOrderId: id.nullable().catch(null),
});
const NOTHING_READ = { id: null, kind: null, at: null, workOrderId: null };

/** The one `at` of an item has a name of its own in each action. */
const TIMES =
  /^#\/(observedAt|cleanedAt|startedAt|endedAt|saidAt|foundAt|acceptedAt|takenAt|notedAt|leftAt|metAt|answeredAt|plannedAt|checkedAt|happenedAt)$/;

/** A problem of one item: its pointers are those of the item; where its time is at fault, the clock may have been. */
function itemProblem(problem: Problem): ProblemBody {
  const body = problemBody(problem);
  const detail = problem.code === 'not-yours' ? `${body.detail} ${IF_CLOCK_WAS_WRONG}` : body.detail;
  if (body.errors === undefined) return { ...body, detail };
  return {
    ...body,
    detail,
    errors: body.errors.map((fault) =>
      TIMES.test(fault.pointer)
        ? { ...fault, pointer: '#/at', remedy: `${fault.remedy}. ${IF_CLOCK_WAS_WRONG}` }
        : fault,
    ),
  };
}

const viewAnswer = (answer: ItemAnswer, { work }: SentItem) => ({
  id: answer.id,
  kind: work.kind,
  outcome: answer.state === 'accepted' && answer.again ? 'same' : answer.state,
  waitsFor: answer.waitsFor,
  text: waitsInWords(answer.waitsFor),
  problem: answer.problem === null ? null : itemProblem(answer.problem),
  href: answer.state === 'accepted' ? pathOf(answer.resource, answer.recordId) : null,
});

const viewKept = (r: Row) => ({
  id: r['id'],
  kind: r['kind'],
  state: r['state'],
  author: r['author'],
  happenedAt: r['happened_at'],
  clockOffsetSeconds: r['clock_offset_s'],
  workOrderId: r['work_order_id'],
  waitsFor: r['waits_for'],
  text: waitsInWords(r['waits_for'] as string[]),
  problem: r['problem'] === null ? null : itemProblem(r['problem'] as Problem),
  content: r['content'],
  settledAt: r['settled_at'],
  settledBy: r['settled_by'],
  createdAt: r['created_at'],
  version: r['version'],
});
