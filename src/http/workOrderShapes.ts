import { z } from 'zod';
import type { AttemptEnd } from '../actions/attempts.js';
import type { Row } from '../actions/ports.js';
import type { WaterGone } from '../actions/workLife/water.js';
import { type DimensionName, type Quantity, toStored } from '../domain/units/quantity.js';
import {
  ATTEMPT_RESULTS,
  BILLED,
  FLOW_PROVEN,
  KIT_KINDS,
  MATERIALS,
  NOT_DONE_REASONS,
  PRECONDITION_KINDS,
  PRECONDITION_STATES,
  PRICE_BASES,
  TASK_KINDS,
  TOLD_HOW,
  WATER_RECEIVERS,
  WORK_ORDER_CAUSES,
  WORK_ORDER_STATES,
} from '../domain/words.js';
import { DEPTHS_OF } from '../domain/work/tracedRun.js';
import { measured } from './fields.js';
import { day, id, instant, oneLine, reason, text, timeOfDay } from './shapes.js';

const maybeDay = day.nullable();

export const taskView = z
  .object({
    id: z.uuid(),
    position: z.number().int(),
    kind: z.enum(TASK_KINDS),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    minutes: z.number().int(),
    plan: z
      .record(z.string(), z.unknown())
      .describe(
        'how it is done; of a jet under `jet`: limits, pressure, flow, nozzle, speeds, reach, water, minutes until the pit runs over, what was assumed',
      ),
    result: z.enum(ATTEMPT_RESULTS).nullable(),
    part: z.number().int().optional().describe('of a dig in parts'),
    reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
    unconfirmed: z.boolean().optional().describe('found on site; the office has not looked yet'),
    priceMinor: z.number().int().nullable().optional(),
    acceptedBy: z.string().nullable().optional(),
    declinedBy: z.string().nullable().optional().describe('who did not take its price: it is not done'),
  })
  .meta({ id: 'Task', description: 'One task of an order, on a line or a pit.' });

export const orderLockView = z
  .object({
    day: maybeDay,
    crewId: z.uuid().nullable(),
    from: timeOfDay.nullable().describe('work starts not before'),
    to: timeOfDay.nullable().describe('work starts not after'),
    sequence: z.number().int().nullable().describe('its place on that route'),
    lockedBy: z.string().nullable().describe('null: locked before that was kept'),
    lockedAt: instant.nullable(),
    because: z.string().nullable(),
  })
  .meta({ id: 'HeldTo', description: 'What plans keep of an order’s place, who said so, when and why.' });

/** Null: it may move. */
export const viewOrderLock = (r: Row) => {
  const parts = {
    day: r['lock_day'],
    crewId: r['lock_crew_id'],
    from: r['lock_from'],
    to: r['lock_to'],
    sequence: r['lock_sequence'],
  };
  if (Object.values(parts).every((part) => part === null || part === undefined)) return null;
  return { ...parts, lockedBy: r['lock_by'], lockedAt: r['locked_at'], because: r['lock_because'] };
};

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
    lock: orderLockView.nullable().describe('null: plans may move it'),
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
  lock: viewOrderLock(r),
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
const quantity = (value: unknown, dimension: DimensionName): number | null =>
  value === undefined || value === null ? null : toStored(value as Quantity, dimension);

/** Where flushed water and sludge go. */
export const waterBody = z
  .strictObject({
    receiver: z.enum(WATER_RECEIVERS),
    place: text(300).nullable().optional(),
    permitRef: oneLine(120).nullable().optional(),
    water: measured('water').nullable().optional(),
    sludge: measured('water').nullable().optional(),
    sludgeTo: text(300).nullable().optional(),
  })
  .meta({ id: 'WaterGone', example: { receiver: 'caught', sludgeTo: 'depot' } });

export const waterOf = (body: z.infer<typeof waterBody>): WaterGone => ({
  receiver: body.receiver,
  place: body.place ?? null,
  permitRef: body.permitRef ?? null,
  waterL: quantity(body.water, 'volume'),
  sludgeL: quantity(body.sludge, 'volume'),
  sludgeTo: body.sludgeTo ?? null,
});

const replacedBody = z
  .strictObject({
    lineId: id,
    from: measured('alongLine').optional(),
    to: measured('alongLine').optional(),
    whole: z.boolean().optional().describe('the line is new from end to end; without from and to'),
    material: z.enum(MATERIALS).optional(),
    bore: measured('bore').optional(),
    product: oneLine(120).nullable().optional(),
    nominal: oneLine(60).nullable().optional(),
    slope: measured('slope').nullable().optional(),
  })
  .meta({
    id: 'ReplacedRun',
    description: 'A run dug up and replaced, from upstream; what is left out is as its dig was planned.',
    example: {
      lineId: '019abcde-0000-7000-8000-000000000001',
      from: { value: 4, unit: 'm' },
      to: { value: 6, unit: 'm' },
      material: 'pvc',
      bore: { value: 4, unit: 'in' },
    },
  });

/** What a trace found. */
export const tracedRun = z
  .strictObject({
    from: measured('alongLine').optional(),
    to: measured('alongLine').optional(),
    depth: measured('alongLine').optional(),
    depthOf: z
      .enum(DEPTHS_OF)
      .optional()
      .describe(
        'to what the depth was measured: most locators read the middle of the pipe (centre), a rod finds its crown; not said: crown is taken, which digs deepest',
      ),
  })
  .describe('what a trace found: from and to along the line from upstream, and how deep');

export const tracedRunOf = (found: z.infer<typeof tracedRun> | null | undefined) =>
  found
    ? {
        fromM: quantity(found.from, 'length'),
        toM: quantity(found.to, 'length'),
        depthM: quantity(found.depth, 'length'),
        depthOf: found.depthOf ?? null,
      }
    : null;

/** An attempt's end out of its body. */
export const endOf = (body: z.infer<typeof finishBody>): AttemptEnd => ({
  endedAt: new Date(body.endedAt).toISOString(),
  result: body.result,
  reason: body.reason ?? null,
  refusal: body.refusal
    ? { by: body.refusal.by, riskTold: body.refusal.riskTold, untilDay: body.refusal.untilDay ?? null }
    : null,
  pumpRestored: body.pumpRestored ?? null,
  flowProven: body.flowProven ?? null,
  waterWentTo: body.waterWentTo ?? null,
  water: body.water ? waterOf(body.water) : null,
  note: body.note ?? null,
  tasks: (body.tasks ?? []).map((task) => ({
    id: task.id,
    result: task.result,
    reason: task.reason ?? null,
    takenMinutes: task.takenMinutes ?? null,
    found: tracedRunOf(task.found),
    flowProven: task.flowProven ?? null,
    dugToM: quantity(task.dugTo, 'length'),
  })),
  replaced:
    body.replaced?.map((run) => ({
      lineId: run.lineId,
      fromM: quantity(run.from, 'length'),
      toM: quantity(run.to, 'length'),
      whole: run.whole ?? false,
      material: run.material ?? null,
      boreMm: quantity(run.bore, 'bore'),
      product: run.product ?? null,
      nominal: run.nominal ?? null,
      slope: quantity(run.slope, 'slope'),
    })) ?? null,
});

export const finishBody = z
  .strictObject({
    endedAt: instant,
    result: z.enum(ATTEMPT_RESULTS),
    reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
    pumpRestored: pumpRestored.nullable().optional(),
    flowProven: z.enum(FLOW_PROVEN).nullable().optional(),
    waterWentTo: text(300).nullable().optional().describe('a note; where the water went is said by water'),
    water: waterBody
      .nullable()
      .optional()
      .describe('where water and sludge went; nothing that flushed ends without it, done or in part'),
    refusal: z
      .strictObject({ by: oneLine(200), riskTold: text(2000), untilDay: maybeDay.optional() })
      .nullable()
      .optional()
      .describe('with the reason refused: who, which risk was told, until when'),
    note: text(4000).nullable().optional(),
    tasks: z
      .array(
        z.strictObject({
          id,
          result: z.enum(ATTEMPT_RESULTS),
          reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
          takenMinutes: z.number().int().min(1).max(2880).nullable().optional(),
          found: tracedRun.nullable().optional(),
          flowProven: z
            .enum(FLOW_PROVEN)
            .nullable()
            .optional()
            .describe('of this line; a no of a visit to several lines says here which'),
          dugTo: measured('trench').nullable().optional().describe('how deep the trench was dug'),
        }),
      )
      .max(100)
      .optional(),
    replaced: z
      .array(replacedBody)
      .max(20)
      .optional()
      .describe('what went in where a dig is done; empty where nothing was replaced'),
  })
  .meta({
    id: 'AttemptEnd',
    description:
      'Done needs three things: pump restored where a pit is concerned, flow proven answered, where flushed water went.',
    example: {
      endedAt: '2026-10-01T15:00:00Z',
      result: 'done',
      flowProven: 'yes',
      pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
      water: { receiver: 'caught', sludgeTo: 'depot' },
    },
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
        facts: z.record(z.string(), z.unknown()).describe('what is to be decided, or what met it'),
      }),
    ),
    promises: z.array(
      z.object({
        id: z.uuid(),
        day,
        fromTime: timeOfDay.nullable(),
        toTime: timeOfDay.nullable(),
        toldTo: z.string().nullable(),
        toldAt: instant,
        toldBy: z.string(),
        toldHow: z.enum(TOLD_HOW),
        endedAt: instant.nullable(),
        endedBecause: z.string().nullable(),
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

/** A task as the tables have it. */
export const viewTask = (r: Row) => ({
  id: r['id'],
  position: r['position'],
  kind: r['kind'],
  lineId: r['line_id'],
  pitId: r['pit_id'],
  minutes: r['minutes'],
  plan: r['plan'],
  result: r['result'],
  part: r['part'],
  reason: r['reason'],
  unconfirmed: r['unconfirmed'],
  priceMinor: r['price_minor'],
  acceptedBy: r['accepted_by'],
  declinedBy: r['declined_by'],
});

export const viewWholeOrder = ({ order, tasks, preconditions, promises, attempts }: OrderParts) => ({
  ...viewOrder(order),
  tasks: tasks.map(viewTask),
  waitsFor: preconditions.map((r) => ({
    id: r['id'],
    kind: r['kind'],
    state: r['state'],
    validTo: r['valid_to'],
    facts: r['facts'],
  })),
  promises: promises.map((r) => ({
    id: r['id'],
    day: r['day'],
    fromTime: r['from_time'],
    toTime: r['to_time'],
    toldTo: r['told_to'],
    toldAt: r['told_at'],
    toldBy: r['told_by'],
    toldHow: r['told_how'],
    endedBecause: r['ended_because'],
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
