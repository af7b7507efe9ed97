import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import {
  ATTEMPT_RESULTS,
  BILLED,
  FLOW_PROVEN,
  KIT_KINDS,
  NOT_DONE_REASONS,
  PRECONDITION_KINDS,
  PRECONDITION_STATES,
  PRICE_BASES,
  TASK_KINDS,
  WORK_ORDER_CAUSES,
  WORK_ORDER_STATES,
} from '../domain/words.js';
import { day, id, instant, reason, text, timeOfDay } from './shapes.js';

const maybeDay = day.nullable();

export const taskView = z
  .object({
    id: z.uuid(),
    position: z.number().int(),
    kind: z.enum(TASK_KINDS),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    minutes: z.number().int(),
    plan: z.record(z.string(), z.unknown()),
    result: z.enum(ATTEMPT_RESULTS).nullable(),
  })
  .meta({ id: 'Task', description: 'One task of an order, on a line or a pit.' });

export const orderView = z
  .object({
    id: z.uuid(),
    number: z.number().int(),
    siteId: z.uuid(),
    state: z.enum(WORK_ORDER_STATES),
    cause: z.enum(WORK_ORDER_CAUSES),
    notBefore: maybeDay,
    wantedBy: maybeDay,
    kit: z.array(z.string()),
    people: z.number().int(),
    minutes: z.number().int(),
    waterL: z.number(),
    sludgeL: z.number(),
    becauseOf: z.array(reason),
    priceBasis: z.string(),
    priceMinor: z.number().int().nullable(),
    respondBy: instant.nullable(),
    followsId: z.uuid().nullable(),
    followsAfterDays: z.number().int(),
    returnsForId: z.uuid().nullable(),
    startedAt: instant.nullable(),
    doneAt: instant.nullable(),
    withdrawnBecause: z.string().nullable(),
    note: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'WorkOrder', description: 'One visit to one site.' });
export const viewOrder = (r: Row) => ({
  id: r['id'],
  number: r['number'],
  siteId: r['site_id'],
  state: r['state'],
  cause: r['cause'],
  notBefore: r['not_before'],
  wantedBy: r['wanted_by'],
  kit: r['kit'],
  people: r['people'],
  minutes: r['minutes'],
  waterL: r['water_l'],
  sludgeL: r['sludge_l'],
  becauseOf: r['because_of'],
  priceBasis: r['price_basis'],
  priceMinor: r['price_minor'],
  respondBy: r['respond_by'],
  followsId: r['follows_id'],
  followsAfterDays: r['follows_after_days'],
  returnsForId: r['returns_for_id'],
  startedAt: r['started_at'],
  doneAt: r['done_at'],
  withdrawnBecause: r['withdrawn_because'],
  note: r['note'],
  version: r['version'],
});

const pumpRestored = z.strictObject({
  powerOn: z.boolean(),
  valveOpen: z.boolean(),
  floatCycled: z.boolean(),
  lidBack: z.boolean(),
});
export const finishBody = z
  .strictObject({
    endedAt: instant,
    result: z.enum(ATTEMPT_RESULTS),
    reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
    pumpRestored: pumpRestored.nullable().optional(),
    flowProven: z.enum(FLOW_PROVEN).nullable().optional(),
    waterWentTo: text(300).nullable().optional(),
    note: text(4000).nullable().optional(),
    tasks: z
      .array(
        z.strictObject({
          id,
          result: z.enum(ATTEMPT_RESULTS),
          reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
        }),
      )
      .max(100)
      .optional(),
  })
  .meta({
    id: 'AttemptEnd',
    description: 'Done needs three things: pump restored, flow proven answered, where the water went.',
  });

export const wholeOrderView = orderView
  .extend({
    tasks: z.array(taskView),
    waitsFor: z.array(
      z.object({
        id: z.uuid(),
        kind: z.enum(PRECONDITION_KINDS),
        state: z.enum(PRECONDITION_STATES),
        validTo: maybeDay,
      }),
    ),
    promises: z.array(
      z.object({
        id: z.uuid(),
        day,
        fromTime: timeOfDay.nullable(),
        toTime: timeOfDay.nullable(),
        toldTo: z.string().nullable(),
        endedAt: instant.nullable(),
      }),
    ),
    attempts: z.array(
      z.object({
        id: z.uuid(),
        crewId: z.uuid().nullable(),
        author: z.string(),
        startedAt: instant,
        endedAt: instant.nullable(),
        result: z.enum(ATTEMPT_RESULTS).nullable(),
        reason: z.enum(NOT_DONE_REASONS).nullable(),
        flowProven: z.enum(FLOW_PROVEN).nullable(),
        waterWentTo: z.string().nullable(),
        billed: z.enum(BILLED).nullable(),
        note: z.string().nullable(),
      }),
    ),
  })
  .meta({
    id: 'WholeWorkOrder',
    description: 'One visit with its tasks, what it waits for, promises and attempts.',
  });

/** The parts of a whole order, as the tables have them. */
export interface OrderParts {
  order: Row;
  tasks: Row[];
  preconditions: Row[];
  promises: Row[];
  attempts: Row[];
}

export const viewWholeOrder = ({ order, tasks, preconditions, promises, attempts }: OrderParts) => ({
  ...viewOrder(order),
  tasks: tasks.map((r) => ({
    id: r['id'],
    position: r['position'],
    kind: r['kind'],
    lineId: r['line_id'],
    pitId: r['pit_id'],
    minutes: r['minutes'],
    plan: r['plan'],
    result: r['result'],
  })),
  waitsFor: preconditions.map((r) => ({
    id: r['id'],
    kind: r['kind'],
    state: r['state'],
    validTo: r['valid_to'],
  })),
  promises: promises.map((r) => ({
    id: r['id'],
    day: r['day'],
    fromTime: r['from_time'],
    toTime: r['to_time'],
    toldTo: r['told_to'],
    endedAt: r['ended_at'],
  })),
  attempts: attempts.map((r) => ({
    id: r['id'],
    crewId: r['crew_id'],
    author: r['author'],
    startedAt: r['started_at'],
    endedAt: r['ended_at'],
    result: r['result'],
    reason: r['reason'],
    flowProven: r['flow_proven'],
    waterWentTo: r['water_went_to'],
    billed: r['billed'],
    note: r['note'],
  })),
});

export const askedBody = z
  .strictObject({
    id: id.optional(),
    siteId: id,
    cause: z.enum(['asked', 'call', 'plugged', 'return_work', 'follow_up', 'due']).optional(),
    because: text(500).describe('why, in words'),
    tasks: z
      .array(
        z.strictObject({
          kind: z.enum(TASK_KINDS),
          lineId: id.nullable().optional(),
          pitId: id.nullable().optional(),
          minutes: z.number().int().min(1).max(2880).nullable().optional(),
        }),
      )
      .min(1)
      .max(50),
    notBefore: maybeDay.optional(),
    wantedBy: maybeDay.optional(),
    respondBy: instant.nullable().optional(),
    people: z.number().int().min(1).max(12).nullable().optional(),
    kit: z.array(z.enum(KIT_KINDS)).max(20).nullable().optional(),
    priceBasis: z.enum(PRICE_BASES).optional(),
    priceMinor: z.number().int().min(0).max(2_000_000_000).nullable().optional(),
    followsId: id.nullable().optional(),
    followsAfterDays: z.number().int().min(0).max(365).optional(),
    returnsForId: id.nullable().optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({
    id: 'NewWorkOrder',
    description: 'A visit that a person asks for; minutes, kit and people follow from the tasks.',
  });

export const orderPatch = z
  .strictObject({
    notBefore: maybeDay.optional(),
    wantedBy: maybeDay.optional(),
    respondBy: instant.nullable().optional(),
    people: z.number().int().min(1).max(12).optional(),
    kit: z.array(z.enum(KIT_KINDS)).max(20).optional(),
    minutes: z.number().int().min(1).max(2880).optional(),
    priceBasis: z.enum(PRICE_BASES).optional(),
    priceMinor: z.number().int().min(0).max(2_000_000_000).nullable().optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({ id: 'WorkOrderPatch' });
