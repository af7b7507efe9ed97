import { z } from 'zod';
import type { SentItem, SyncWork } from '../actions/sync/syncWork.js';
import { fingerprint } from '../actions/takeId.js';
import { INCIDENT_KINDS, SYNC_KINDS, SYNC_STATES } from '../domain/words.js';
import { byOurClock, type DeviceClock } from '../domain/work/deviceClock.js';
import { answerBody, answerOf } from './answerShapes.js';
import { onTheWayBody, runningLateBody } from './eventShapes.js';
import { cleanOf, inspectionOf, newClean, newInspection } from './findingShapes.js';
import { id, instant, problem } from './shapes.js';
import {
  attachmentOf,
  dangerOf,
  foundAccessPointOf,
  foundLineOf,
  newAttachment,
  newDanger,
  newFoundAccessPoint,
  newFoundLine,
  newNote,
  newPriceAcceptance,
  newTaskResult,
  noteOf,
  priceOf,
  taskResultOf,
} from './siteThingShapes.js';
import {
  foundBody,
  foundTask,
  foundWorkOf,
  incidentBody,
  incidentOf,
  newsOf,
  ticketNews,
  trenchBody,
  trenchCheckOf,
} from './workLifeShapes.js';
import { endOf, finishBody, waterBody, waterOf } from './workOrderShapes.js';

const MOST_ITEMS = 500;

const after = z.array(id).max(MOST_ITEMS);
/** What every item has. */
const each = <K extends string>(kind: K) => ({
  kind: z.literal(kind),
  id: id.describe('chosen by the app (UUIDv7), kept for ever: the same id and content is done once'),
  at: instant.describe("when it happened, by the device's clock"),
  deviceClockOffsetSeconds: z
    .number()
    .int()
    .min(-1e8)
    .max(1e8)
    .optional()
    .describe(
      "by how much the device's clock was ahead when this was written down (negative: behind), where it was set right before sending; none: as it stands at sending",
    ),
  after: after.optional().describe('ids of items that must be settled before this one'),
});
const ofOrder = { workOrderId: id };

const start = z.strictObject({
  ...each('start'),
  ...ofOrder,
  cautionsSeen: z.boolean().optional().describe('one tap: the cautions of this stop were seen'),
});
const finish = finishBody.omit({ endedAt: true }).extend({
  ...each('finish'),
  ...ofOrder,
  after: after.describe(
    'ids of all other items of this visit, none left out: the visit ends when they have come, whichever call they come in. Sent again under its id with fewer, it waits for those only',
  ),
});
const inspection = newInspection
  .omit({ id: true, observedAt: true, deviceClockOffsetSeconds: true })
  .extend(each('inspection'));
const clean = newClean.omit({ id: true, cleanedAt: true }).extend(each('clean'));
const taskResult = newTaskResult
  .omit({ id: true, saidAt: true })
  .extend({ ...each('task_result'), ...ofOrder, taskId: id });
const foundWork = foundBody.omit({ foundAt: true, tasks: true }).extend({
  ...each('found_work'),
  ...ofOrder,
  tasks: z.array(foundTask.extend({ id })).min(1).max(20),
});
const foundLine = newFoundLine
  .omit({ id: true, foundAt: true })
  .extend({ ...each('found_line'), ...ofOrder });
const foundAccessPoint = newFoundAccessPoint
  .omit({ id: true, foundAt: true })
  .extend({ ...each('found_access_point'), ...ofOrder });
const priceAcceptance = newPriceAcceptance
  .omit({ id: true, acceptedAt: true })
  .extend({ ...each('price_acceptance'), ...ofOrder });
const attachment = newAttachment.omit({ id: true, takenAt: true }).extend(each('attachment'));
const onTheWay = onTheWayBody.omit({ leftAt: true }).extend({ ...each('on_the_way'), ...ofOrder });
const runningLate = runningLateBody.extend({ ...each('running_late'), ...ofOrder });
const note = newNote.omit({ id: true, notedAt: true }).extend(each('note'));
const danger = newDanger.omit({ id: true, metAt: true }).extend({ ...each('danger'), ...ofOrder });
const answer = answerBody.extend({ ...each('answer'), ...ofOrder });
const dischargePlan = waterBody.extend({ ...each('discharge_plan'), ...ofOrder });
const news = ticketNews.extend({
  ...each('ticket_news'),
  ...ofOrder,
  ticketId: id.describe('as the stop has it under locateTicket'),
});
const trenchCheck = trenchBody
  .omit({ id: true, checkedAt: true })
  .extend({ ...each('trench_check'), ...ofOrder });
const incident = incidentBody
  .omit({ id: true, happenedAt: true, kind: true })
  .extend({ ...each('incident'), incident: z.enum(INCIDENT_KINDS) });

export const syncItem = z
  .discriminatedUnion('kind', [
    start,
    finish,
    inspection,
    clean,
    taskResult,
    foundWork,
    foundLine,
    foundAccessPoint,
    priceAcceptance,
    attachment,
    note,
    onTheWay,
    runningLate,
    danger,
    answer,
    dischargePlan,
    news,
    trenchCheck,
    incident,
  ])
  .meta({ id: 'SyncItem', description: 'One thing that happened on site.' });
export type SyncItemBody = z.infer<typeof syncItem>;

const EXAMPLE_ORDER = '019abcde-0000-7000-8000-000000000010';
export const syncBody = z
  .strictObject({
    sentAt: instant.describe("the device's own clock at sending: a wrong one is noticed by it"),
    items: z.array(syncItem).min(1).max(MOST_ITEMS),
  })
  .meta({
    id: 'Sync',
    description:
      'What happened on site since the last call, in any order, as often as wanted, split into as many calls as wanted.',
    example: {
      sentAt: '2026-10-01T15:05:00Z',
      items: [
        {
          kind: 'start',
          id: '019abcde-0000-7000-8000-000000000001',
          at: '2026-10-01T14:02:00Z',
          workOrderId: EXAMPLE_ORDER,
          cautionsSeen: true,
        },
        {
          kind: 'inspection',
          id: '019abcde-0000-7000-8000-000000000002',
          at: '2026-10-01T14:10:00Z',
          workOrderId: EXAMPLE_ORDER,
          lineId: '019abcde-0000-7000-8000-000000000020',
          phase: 'before_cleaning',
          reading: { method: 'by_word', word: 'half', cameBack: 'slugs' },
        },
        {
          kind: 'finish',
          id: '019abcde-0000-7000-8000-000000000003',
          at: '2026-10-01T15:00:00Z',
          after: ['019abcde-0000-7000-8000-000000000001', '019abcde-0000-7000-8000-000000000002'],
          workOrderId: EXAMPLE_ORDER,
          result: 'done',
          flowProven: 'yes',
          pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
          water: { receiver: 'own_ground', place: 'lawn behind the house' },
        },
      ],
    },
  });

/** What the door itself looks at: each item is judged on its own, so that one bad one keeps nobody waiting. */
export const syncEnvelope = z.strictObject({
  sentAt: instant,
  items: z.array(z.unknown()).min(1).max(MOST_ITEMS),
});

const OUTCOMES = ['accepted', 'same', 'waiting', 'refused', 'conflict', 'withdrawn'] as const;

const itemAnswer = z
  .object({
    id: z.string().nullable().describe('null: it had none that could be read'),
    kind: z.enum(SYNC_KINDS).nullable(),
    outcome: z
      .enum(OUTCOMES)
      .describe(
        'accepted: done; same: done before; waiting: kept until what it waits for has come; refused: nothing was done, see problem; what names it in after waits until it is sent right under its id, left out of after, or withdrawn; conflict: kept for a person; withdrawn: taken out by the office or by who sent it',
      ),
    waitsFor: z
      .array(z.string())
      .describe(
        'as start:ID of an order, line:ID, task:ID, price:ID of a task, item:ID; of a start plan:ID, quote:ID, ticket:ID, trench:ID of its order',
      ),
    text: z.string().nullable().describe('what must come before it is done, in a sentence; null: nothing'),
    problem: problem.nullable(),
    href: z.string().nullable().describe('where what came of it is read'),
  })
  .meta({ id: 'SyncItemAnswer' });

export const syncAnswer = z
  .object({
    receivedAt: instant,
    clock: z.object({
      offsetSeconds: z.number().int().describe("device's time less ours; 0: it counts as right"),
      right: z.boolean(),
      text: z.string().nullable().describe('one sentence for who holds the device'),
    }),
    items: z.array(itemAnswer).describe('one for each item sent, in their order'),
  })
  .meta({ id: 'SyncAnswer' });

export const keptItem = z
  .object({
    id: z.uuid(),
    kind: z.enum(SYNC_KINDS),
    state: z.enum(SYNC_STATES),
    author: z.string(),
    happenedAt: instant,
    clockOffsetSeconds: z.number().int(),
    workOrderId: z.uuid().nullable(),
    waitsFor: z.array(z.string()),
    text: z.string().nullable().describe('what it waits for, in a sentence'),
    problem: problem.nullable(),
    content: z.unknown().describe('as it was sent'),
    settledAt: instant.nullable(),
    settledBy: z.string().nullable(),
    createdAt: instant,
    version: z.number().int(),
  })
  .meta({ id: 'KeptSyncItem', description: 'An item that an app sent, and what became of it.' });

/** An item as the actions take it: its times set right by our clock, as the device's stood when it was written down. */
export function sentItem(body: SyncItemBody, content: object, clock: DeviceClock): SentItem {
  const { deviceClockOffsetSeconds: ownOffsetS, ...said } = body;
  const then = ownOffsetS === undefined ? clock : { offsetS: ownOffsetS, isRight: ownOffsetS === 0 };
  const { resource, asSent, work } = readItem(said as SyncItemBody, then);
  return {
    id: body.id,
    at: byOurClock(body.at, then),
    clockOffsetS: then.offsetS,
    afterIds: body.after ?? [],
    content,
    fingerprint:
      ownOffsetS === undefined ? fingerprint(resource, asSent) : fingerprint(resource, asSent, ownOffsetS),
    work,
  };
}

/** @returns `asSent`: the body that the endpoint of its own would take, so that an id is one id at either door. */
function readItem(
  body: SyncItemBody,
  clock: DeviceClock,
): { resource: string; asSent: unknown; work: SyncWork } {
  const at = byOurClock(body.at, clock);
  const { kind: _, at: __, after: ___, ...rest } = body;
  switch (body.kind) {
    case 'start':
      return {
        resource: 'start',
        asSent: body,
        work: {
          kind: 'start',
          workOrderId: body.workOrderId,
          startedAt: at,
          cautionsSeen: body.cautionsSeen === true,
        },
      };
    case 'finish': {
      const { kind: _kind, id: _id, at: _at, after: _after, workOrderId, ...end } = body;
      return {
        resource: 'finish',
        asSent: body,
        work: { kind: 'finish', workOrderId, end: endOf({ ...end, endedAt: at }) },
      };
    }
    case 'inspection': {
      const asSent = newInspection.parse({ ...rest, observedAt: body.at });
      const found = {
        ...inspectionOf({ ...asSent, observedAt: at }, body.id),
        deviceClockOffsetS: clock.offsetS,
      };
      return { resource: 'inspection', asSent, work: { kind: 'inspection', found } };
    }
    case 'clean': {
      const asSent = newClean.parse({ ...rest, cleanedAt: body.at });
      return {
        resource: 'clean',
        asSent,
        work: { kind: 'clean', clean: cleanOf({ ...asSent, cleanedAt: at }, body.id) },
      };
    }
    case 'task_result': {
      const { taskId, workOrderId, ...said } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = newTaskResult.parse({ ...said, saidAt: body.at });
      return {
        resource: 'task_result',
        asSent: { taskId, body: asSent },
        work: {
          kind: 'task_result',
          workOrderId,
          said: taskResultOf({ ...asSent, saidAt: at }, taskId, body.id),
        },
      };
    }
    case 'found_work': {
      const ours = (said: { by: string; at: string } | null | undefined) =>
        said ? { ...said, at: byOurClock(said.at, clock) } : null;
      const [accepted, declined] = [ours(body.accepted), ours(body.declined)];
      return {
        resource: 'found_work',
        asSent: body,
        work: {
          kind: 'found_work',
          found: foundWorkOf(
            body.workOrderId,
            { foundAt: at, tasks: body.tasks, accepted, declined },
            () => body.id,
          ),
        },
      };
    }
    case 'found_line': {
      const { workOrderId, ...found } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = newFoundLine.parse({ ...found, foundAt: body.at });
      return {
        resource: 'line',
        asSent: { workOrderId, body: asSent },
        work: { kind: 'found_line', found: foundLineOf({ ...asSent, foundAt: at }, workOrderId, body.id) },
      };
    }
    case 'found_access_point': {
      const { workOrderId, ...found } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = newFoundAccessPoint.parse({ ...found, foundAt: body.at });
      return {
        resource: 'access_point',
        asSent: { workOrderId, body: asSent },
        work: {
          kind: 'found_access_point',
          found: foundAccessPointOf({ ...asSent, foundAt: at }, workOrderId, body.id),
        },
      };
    }
    case 'price_acceptance': {
      const { workOrderId, ...price } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = newPriceAcceptance.parse({ ...price, acceptedAt: body.at });
      return {
        resource: 'price_acceptance',
        asSent: { workOrderId, body: asSent },
        work: {
          kind: 'price_acceptance',
          price: priceOf({ ...asSent, acceptedAt: at }, workOrderId, body.id),
        },
      };
    }
    case 'attachment': {
      const asSent = newAttachment.parse({ ...rest, takenAt: body.at });
      return {
        resource: 'attachment',
        asSent,
        work: {
          kind: 'attachment',
          attachment: attachmentOf({ ...asSent, takenAt: at }, body.id, clock.offsetS),
        },
      };
    }
    case 'note': {
      const asSent = newNote.parse({ ...rest, notedAt: body.at });
      return {
        resource: 'note',
        asSent,
        work: { kind: 'note', note: noteOf({ ...asSent, notedAt: at }, body.id, clock.offsetS) },
      };
    }
    case 'on_the_way':
      return {
        resource: 'on_the_way',
        asSent: body,
        work: {
          kind: 'on_the_way',
          workOrderId: body.workOrderId,
          said: {
            leftAt: at,
            expectedAt: body.expectedAt ? byOurClock(body.expectedAt, clock) : null,
          },
        },
      };
    case 'running_late':
      return {
        resource: 'running_late',
        asSent: body,
        work: {
          kind: 'running_late',
          workOrderId: body.workOrderId,
          said: {
            saidAt: at,
            expectedAt: byOurClock(body.expectedAt, clock),
            because: body.because ?? null,
          },
        },
      };
    case 'danger': {
      const { workOrderId, ...met } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = newDanger.parse({ ...met, metAt: body.at });
      return {
        resource: 'danger',
        asSent: { workOrderId, body: asSent },
        work: { kind: 'danger', danger: dangerOf({ ...asSent, metAt: at }, workOrderId, body.id) },
      };
    }
    case 'answer':
      return {
        resource: 'answer',
        asSent: body,
        work: { kind: 'answer', answer: answerOf(body, body.workOrderId, body.id, at) },
      };
    case 'discharge_plan':
      return {
        resource: 'discharge_plan',
        asSent: body,
        work: {
          kind: 'discharge_plan',
          plan: { id: body.id, workOrderId: body.workOrderId, water: waterOf(body), at },
        },
      };
    case 'ticket_news':
      return {
        resource: 'ticket_news',
        asSent: body,
        work: {
          kind: 'ticket_news',
          workOrderId: body.workOrderId,
          ticketId: body.ticketId,
          news: newsOf(body, (moment) => byOurClock(moment, clock)),
          saidAt: at,
        },
      };
    case 'trench_check': {
      const { workOrderId, ...seen } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = trenchBody.parse({ ...seen, checkedAt: body.at });
      return {
        resource: 'trench_check',
        asSent: { workOrderId, body: asSent },
        work: {
          kind: 'trench_check',
          check: trenchCheckOf({ ...asSent, checkedAt: at }, workOrderId, body.id),
        },
      };
    }
    case 'incident': {
      const { incident: what, ...told } = rest as Omit<typeof body, 'kind' | 'at' | 'after'>;
      const asSent = incidentBody.parse({ ...told, kind: what, happenedAt: body.at });
      return {
        resource: 'incident',
        asSent,
        work: { kind: 'incident', incident: incidentOf({ ...asSent, happenedAt: at }, body.id) },
      };
    }
    default:
      return body satisfies never;
  }
}
