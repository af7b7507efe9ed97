import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import type { NewAttachment, NewNote } from '../actions/siteThings.js';
import type { NewDanger } from '../actions/workLife/dangers.js';
import type { FoundAccessPoint, FoundLine } from '../actions/workLife/foundThings.js';
import type { PriceAcceptance } from '../actions/workLife/priceAcceptance.js';
import type { NewTaskResult } from '../actions/workLife/taskResults.js';
import { fromStored, type Quantity, toStored, type UnitSystem } from '../domain/units/quantity.js';
import {
  ACCESS_POINT_KINDS,
  ATTEMPT_RESULTS,
  DANGER_KINDS,
  type DangerKind,
  DIRECTIONS,
  DRAINS_TO,
  KIT_KINDS,
  LINE_KINDS,
  NOT_DONE_REASONS,
  OUTLETS,
  WORK_ORDER_STATES,
} from '../domain/words.js';
import { doNow } from '../domain/work/dangers.js';
import { measured, quantitySchema } from './fields.js';
import { id, instant, oneLine, text } from './shapes.js';
import { tracedRun, tracedRunOf } from './workOrderShapes.js';

const money = z.number().int().min(0).max(2_000_000_000);
const utc = (at: string): string => new Date(at).toISOString();
const lengthOf = (value: unknown): number | null =>
  value === undefined || value === null ? null : toStored(value as Quantity, 'length');

const subject = {
  siteId: id,
  lineId: id.nullable().optional(),
  pitId: id.nullable().optional(),
  workOrderId: id.nullable().optional(),
};
const subjectOf = (body: {
  siteId: string;
  lineId?: string | null | undefined;
  pitId?: string | null | undefined;
  workOrderId?: string | null | undefined;
}) => ({
  siteId: body.siteId,
  lineId: body.lineId ?? null,
  pitId: body.pitId ?? null,
  workOrderId: body.workOrderId ?? null,
});

export const newNote = z
  .strictObject({ id: id.optional(), ...subject, text: text(4000), notedAt: instant })
  .meta({ id: 'NewNote', description: 'What somebody wrote down about a site, or a line or pit of it.' });

export const noteOf = (body: z.infer<typeof newNote>, noteId: string, offsetS: number | null): NewNote => ({
  id: noteId,
  ...subjectOf(body),
  text: body.text,
  notedAt: utc(body.notedAt),
  deviceClockOffsetS: offsetS,
});

export const noteView = z
  .object({
    id: z.uuid(),
    siteId: z.uuid(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    text: z.string(),
    notedAt: instant,
    author: z.string(),
    version: z.number().int(),
  })
  .meta({ id: 'Note', description: 'What somebody wrote down on site.' });

export const viewNote = (r: Row) => ({
  id: r['id'],
  siteId: r['site_id'],
  lineId: r['line_id'],
  pitId: r['pit_id'],
  workOrderId: r['work_order_id'],
  text: r['text'],
  notedAt: r['noted_at'],
  author: r['author'],
  version: r['version'],
});

export const newAttachment = z
  .strictObject({
    id: id.optional(),
    ...subject,
    inspectionId: id.nullable().optional(),
    caption: text(500).nullable().optional(),
    takenAt: instant,
    forClient: z.boolean().optional().describe('may go on papers a client sees, without its place'),
  })
  .meta({
    id: 'NewAttachment',
    description:
      'What a photograph, clip or document shows. Its bytes are sent on their own under the same id, before or after.',
  });

export const attachmentOf = (
  body: z.infer<typeof newAttachment>,
  attachmentId: string,
  offsetS: number | null,
): NewAttachment => ({
  id: attachmentId,
  ...subjectOf(body),
  inspectionId: body.inspectionId ?? null,
  caption: body.caption ?? null,
  takenAt: utc(body.takenAt),
  forClient: body.forClient ?? false,
  deviceClockOffsetS: offsetS,
});

export const newTaskResult = z
  .strictObject({
    id: id.optional(),
    saidAt: instant,
    result: z.enum(ATTEMPT_RESULTS),
    reason: z.enum(NOT_DONE_REASONS).nullable().optional(),
    takenMinutes: z.number().int().min(1).max(2880).nullable().optional(),
    found: tracedRun.nullable().optional(),
  })
  .meta({
    id: 'NewTaskResult',
    description: 'What somebody on site says of a task while the visit goes on.',
  });

export const taskResultOf = (
  body: z.infer<typeof newTaskResult>,
  taskId: string,
  resultId: string,
): NewTaskResult => ({
  id: resultId,
  taskId,
  saidAt: utc(body.saidAt),
  result: body.result,
  reason: body.reason ?? null,
  takenMinutes: body.takenMinutes ?? null,
  found: tracedRunOf(body.found),
});

export const newDanger = z
  .strictObject({
    id: id.optional(),
    danger: z.enum(DANGER_KINDS),
    metAt: instant,
    lineId: id.nullable().optional().describe('the line it was met on; a hard stop has one'),
    stopped: measured('alongLine').nullable().optional().describe('how far in it stopped'),
    note: text(2000).nullable().optional(),
  })
  .meta({
    id: 'NewDanger',
    description: 'What stops the work: one tap.',
    example: { danger: 'gas_smell', metAt: '2026-10-01T14:20:00Z' },
  });

export const dangerOf = (
  body: z.infer<typeof newDanger>,
  workOrderId: string,
  dangerId: string,
): NewDanger => ({
  id: dangerId,
  workOrderId,
  kind: body.danger,
  metAt: utc(body.metAt),
  lineId: body.lineId ?? null,
  stoppedM: lengthOf(body.stopped),
  note: body.note ?? null,
});

export const dangerView = z
  .object({
    id: z.uuid(),
    workOrderId: z.uuid(),
    lineId: z.uuid().nullable(),
    danger: z.enum(DANGER_KINDS),
    metAt: instant,
    stopped: quantitySchema('length').nullable(),
    note: z.string().nullable(),
    orderState: z
      .enum(WORK_ORDER_STATES)
      .describe('gas ends the visit: it waits until the place was made safe'),
    doNow: z
      .array(z.object({ text: z.string(), source: z.string() }))
      .describe('in this order; local codes, the utility and the fire service come first'),
  })
  .meta({ id: 'Danger', description: 'What a crew met that stops the work, and what to do at once.' });

export const viewDanger = (r: Row, orderState: unknown, units: UnitSystem) => ({
  id: r['id'],
  workOrderId: r['work_order_id'],
  lineId: r['line_id'],
  danger: r['kind'],
  metAt: r['met_at'],
  stopped: r['stopped_m'] === null ? null : fromStored(Number(r['stopped_m']), 'length', units),
  note: r['note'],
  orderState,
  doNow: doNow(r['kind'] as DangerKind),
});

export const newPriceAcceptance = z
  .strictObject({
    id: id.optional(),
    taskId: id.nullable().optional().describe('none: the price of the whole order, the quote it waited for'),
    by: oneLine(200).describe('who said yes, or no'),
    amountMinor: money,
    acceptedAt: instant.describe('when it was said'),
    declined: z
      .boolean()
      .optional()
      .describe(
        'true: the client said no. The task is not done, refused; of the whole order: it waits for its quote',
      ),
  })
  .meta({
    id: 'NewPriceAcceptance',
    description: 'Who took which price and when, or did not take it.',
    example: { by: 'Ines Calder', amountMinor: 18_500, acceptedAt: '2026-10-01T15:20:00Z' },
  });

export const priceOf = (
  body: z.infer<typeof newPriceAcceptance>,
  workOrderId: string,
  priceId: string,
): PriceAcceptance => ({
  id: priceId,
  workOrderId,
  taskId: body.taskId ?? null,
  by: body.by,
  amountMinor: body.amountMinor,
  acceptedAt: utc(body.acceptedAt),
  declined: body.declined ?? false,
});

export const newFoundLine = z
  .strictObject({
    id: id.optional(),
    foundAt: instant,
    systemId: id.nullable().optional().describe('none: it has an outlet of its own'),
    name: oneLine(200),
    lineKind: z.enum(LINE_KINDS),
    drainsTo: z.enum(DRAINS_TO).optional(),
    drainsToPitId: id.nullable().optional(),
    drainsToLineId: id.nullable().optional(),
    outlet: z.enum(OUTLETS).optional(),
    length: measured('lineLength').nullable().optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({
    id: 'NewFoundLine',
    description: 'A line nobody knew of, unconfirmed until the office looked at it.',
  });

export const foundLineOf = (
  body: z.infer<typeof newFoundLine>,
  workOrderId: string,
  lineId: string,
): FoundLine => ({
  id: lineId,
  workOrderId,
  foundAt: utc(body.foundAt),
  systemId: body.systemId ?? null,
  name: body.name,
  kind: body.lineKind,
  drainsTo:
    body.drainsTo ?? (body.drainsToPitId ? 'pit' : body.drainsToLineId ? 'line' : ('unknown' as const)),
  drainsToPitId: body.drainsToPitId ?? null,
  drainsToLineId: body.drainsToLineId ?? null,
  outlet: body.outlet ?? 'unknown',
  lengthM: lengthOf(body.length),
  note: body.note ?? null,
});

export const newFoundAccessPoint = z
  .strictObject({
    id: id.optional(),
    foundAt: instant,
    lineId: id.nullable().optional(),
    pitId: id.nullable().optional(),
    pointKind: z.enum(ACCESS_POINT_KINDS),
    place: text(500).describe('how to find it again'),
    distance: measured('alongLine').nullable().optional(),
    distanceFrom: oneLine(200).nullable().optional(),
    kitCanEnter: z.array(z.enum(KIT_KINDS)).max(20).optional(),
    direction: z.enum(DIRECTIONS).optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({
    id: 'NewFoundAccessPoint',
    description: 'Where one can get in or look, unconfirmed until the office looked at it.',
  });

export const foundAccessPointOf = (
  body: z.infer<typeof newFoundAccessPoint>,
  workOrderId: string,
  pointId: string,
): FoundAccessPoint => ({
  id: pointId,
  workOrderId,
  foundAt: utc(body.foundAt),
  lineId: body.lineId ?? null,
  pitId: body.pitId ?? null,
  kind: body.pointKind,
  place: body.place,
  distanceM: lengthOf(body.distance),
  distanceFrom: body.distanceFrom ?? null,
  kitCanEnter: body.kitCanEnter ?? [],
  direction: body.direction ?? 'both',
  note: body.note ?? null,
});
