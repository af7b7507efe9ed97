import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import type { FoundWork } from '../actions/workLife/foundWork.js';
import type { NewIncident, Told } from '../actions/workLife/incidents.js';
import type { TicketNews } from '../actions/workLife/locateTickets.js';
import type { NewTrenchCheck } from '../actions/workLife/trenchChecks.js';
import { fromStored, type Quantity, toStored, type UnitSystem } from '../domain/units/quantity.js';
import {
  CONSEQUENCES,
  INCIDENT_KINDS,
  TASK_KINDS,
  TRENCH_PROTECTIONS,
  UTILITY_ANSWERS,
  WATER_PHASES,
  WATER_RECEIVERS,
} from '../domain/words.js';
import { PRIVATE_LINES_CAUTION, type UtilityOnTicket } from '../domain/work/locateTicket.js';
import { hinderedVisit } from './desk/hinderedShapes.js';
import { measured, quantitySchema } from './fields.js';
import { day, id, instant, oneLine, text } from './shapes.js';

export const ticketBody = z
  .strictObject({
    id: id.optional(),
    ruleId: id,
    number: oneLine(120).nullable().optional(),
    calledAt: instant,
    emergencyBecause: text(500)
      .nullable()
      .optional()
      .describe(
        'what is in danger: life, health, property, or a service that is out. Such a dig begins at once, by hand where a utility is silent, on a ticket for it alone that lives until the day after',
      ),
    utilities: z.array(oneLine(120)).min(1).max(40).describe('everybody the centre named'),
  })
  .meta({ id: 'NewLocateTicket' });

export const ticketNews = z
  .strictObject({
    answers: z
      .array(z.strictObject({ utility: oneLine(120), answer: z.enum(UTILITY_ANSWERS), at: instant }))
      .max(40)
      .optional(),
    marksSeenAt: instant.nullable().optional(),
    privateLinesLocatedAt: instant.nullable().optional(),
  })
  .meta({ id: 'LocateTicketNews' });

/** @param utc A moment as we keep it, UTC by our clock. */
export const newsOf = (body: z.infer<typeof ticketNews>, utc: (at: string) => string): TicketNews => ({
  answers: (body.answers ?? []).map((answer) => ({ ...answer, at: utc(answer.at) })),
  marksSeenAt: body.marksSeenAt ? utc(body.marksSeenAt) : null,
  privateLocatedAt: body.privateLinesLocatedAt ? utc(body.privateLinesLocatedAt) : null,
});

export const ticketView = z
  .object({
    id: z.uuid(),
    workOrderId: z.uuid(),
    ruleId: z.uuid(),
    number: z.string().nullable(),
    calledAt: instant,
    emergencyBecause: z.string().nullable(),
    digFrom: instant,
    firstDay: day,
    lastDay: day.nullable(),
    beginBy: day.nullable().describe('last day on which work may begin, or the ticket is void'),
    utilities: z.array(
      z.object({ name: z.string(), answer: z.enum(UTILITY_ANSWERS), answeredAt: z.string().nullable() }),
    ),
    marksSeenAt: instant.nullable(),
    privateLinesLocatedAt: instant.nullable(),
    replacedById: z.uuid().nullable(),
    digs: z
      .array(z.object({ kind: z.enum(TASK_KINDS), lineId: z.uuid().nullable(), pitId: z.uuid().nullable() }))
      .describe('what it was called for; it covers no other dig'),
    open: z.array(z.string()).describe('what still keeps a crew from digging'),
    caution: z.string(),
    version: z.number().int(),
  })
  .meta({
    id: 'LocateTicket',
    description: 'A call to the one-call centre: from and until when one may dig.',
  });

export const settledTicketView = ticketView
  .extend({
    hinderedVisits: z
      .array(hinderedVisit)
      .describe('its order and the parts of its dig, where they stand on a route and cannot be dug'),
  })
  .meta({ id: 'LocateTicketWithHindered' });

/** @param r With `open`, what still keeps a crew from digging. */
export const viewTicket = (r: Row) => ({
  id: r['id'],
  workOrderId: r['work_order_id'],
  ruleId: r['rule_id'],
  number: r['number'],
  calledAt: r['called_at'],
  emergencyBecause: r['emergency_because'],
  digFrom: r['dig_from'],
  firstDay: r['first_day'],
  lastDay: r['last_day'],
  beginBy: r['begin_by'],
  utilities: r['utilities'] as UtilityOnTicket[],
  marksSeenAt: r['marks_seen_at'],
  privateLinesLocatedAt: r['private_located_at'],
  replacedById: r['replaced_by_id'],
  digs: r['digs'],
  open: r['open'],
  caution: PRIVATE_LINES_CAUTION,
  version: r['version'],
});

export const trenchBody = z
  .strictObject({
    id: id.optional(),
    checkedAt: instant,
    checkedBy: oneLine(200).describe('the competent person'),
    depth: measured('trench')
      .nullable()
      .optional()
      .describe('null: not opened yet; such a check does for the opening only'),
    protection: z.enum(TRENCH_PROTECTIONS),
    exitWithin: measured('trench').nullable().optional(),
    spoilBack: measured('trench').nullable().optional(),
    oxygenPercent: z.number().min(0).max(100).nullable().optional(),
    waterGathers: z.boolean().optional(),
    signsOfCaveIn: z.boolean().optional(),
    slopeRatio: z
      .number()
      .min(0)
      .max(10)
      .nullable()
      .optional()
      .describe('of a sloped trench, horizontal over vertical'),
    ladderAbove: measured('trench').nullable().optional().describe('above the lip'),
    note: text(2000).nullable().optional(),
  })
  .meta({ id: 'NewTrenchCheck' });

const metres = (value: unknown): number | null =>
  value === undefined || value === null ? null : toStored(value as Quantity, 'length');

export const trenchCheckOf = (
  body: z.infer<typeof trenchBody>,
  workOrderId: string,
  checkId: string,
): NewTrenchCheck => ({
  id: checkId,
  workOrderId,
  checkedAt: new Date(body.checkedAt).toISOString(),
  checkedBy: body.checkedBy,
  depthM: metres(body.depth),
  protection: body.protection,
  exitWithinM: metres(body.exitWithin),
  spoilBackM: metres(body.spoilBack),
  oxygenPercent: body.oxygenPercent ?? null,
  waterGathers: body.waterGathers ?? false,
  signsOfCaveIn: body.signsOfCaveIn ?? false,
  slopeRatio: body.slopeRatio ?? null,
  ladderAboveM: metres(body.ladderAbove),
  note: body.note ?? null,
});

export const trenchDepthBody = z
  .strictObject({ id: id.optional(), seenAt: instant, depth: measured('trench') })
  .meta({
    id: 'NewTrenchDepth',
    example: { seenAt: '2026-10-01T15:00:00Z', depth: { value: 4.5, unit: 'ft' } },
  });

const fault = z
  .object({ code: z.string(), text: z.string(), source: z.string() })
  .meta({ id: 'TrenchFault' });
export const trenchView = z
  .object({
    id: z.uuid(),
    workOrderId: z.uuid(),
    checkedAt: instant,
    checkedBy: z.string(),
    depth: quantitySchema('length').nullable(),
    protection: z.enum(TRENCH_PROTECTIONS),
    passed: z.boolean(),
    faults: z.array(fault),
    note: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({
    id: 'TrenchCheck',
    description: 'What a competent person saw of a trench; good for its shift and until it rains.',
  });

export const viewTrench = (r: Row, units: UnitSystem) => ({
  id: r['id'],
  workOrderId: r['work_order_id'],
  checkedAt: r['checked_at'],
  checkedBy: r['checked_by'],
  depth: r['depth_m'] === null ? null : fromStored(Number(r['depth_m']), 'length', units),
  protection: r['protection'],
  passed: r['passed'],
  faults: r['faults'],
  note: r['note'],
  version: r['version'],
});

export const waterView = z
  .object({
    id: z.uuid(),
    workOrderId: z.uuid(),
    phase: z.enum(WATER_PHASES),
    assumed: z.boolean().describe("the firm's standing plan: nobody knows yet where the line ends"),
    receiver: z.enum(WATER_RECEIVERS),
    place: z.string().nullable(),
    permitRef: z.string().nullable(),
    water: quantitySchema('volume').nullable(),
    sludge: quantitySchema('volume').nullable(),
    asPlanned: z
      .array(z.enum(['water', 'sludge']))
      .describe('volumes nobody wrote down: what the order planned stands there'),
    sludgeTo: z.string().nullable(),
    at: instant,
    author: z.string(),
    orderNumber: z.number().int().optional(),
    address: z.string().optional(),
    town: z.string().optional(),
    plannedReceiver: z.enum(WATER_RECEIVERS).nullable().optional(),
  })
  .meta({ id: 'WaterRecord', description: 'Where flushed water and sludge go or went.' });

const volumeOf = (r: Row, what: 'water' | 'sludge', units: UnitSystem) => {
  const litres = r[`${what}_l`] ?? r[`planned_${what}_l`] ?? null;
  return litres === null ? null : fromStored(Number(litres), 'volume', units);
};
const isAsPlanned = (r: Row, what: 'water' | 'sludge'): boolean =>
  r[`${what}_l`] === null && r[`planned_${what}_l`] != null;

export const viewWater = (r: Row, units: UnitSystem) => ({
  id: r['id'],
  workOrderId: r['work_order_id'],
  phase: r['phase'],
  assumed: r['assumed'],
  receiver: r['receiver'],
  place: r['place'],
  permitRef: r['permit_ref'],
  water: volumeOf(r, 'water', units),
  sludge: volumeOf(r, 'sludge', units),
  asPlanned: (['water', 'sludge'] as const).filter((what) => isAsPlanned(r, what)),
  sludgeTo: r['sludge_to'],
  at: r['at'],
  author: r['author'],
  ...(r['number'] === undefined
    ? {}
    : {
        orderNumber: r['number'],
        address: r['address'],
        town: r['town'],
        plannedReceiver: r['planned_receiver'],
      }),
});

export const incidentBody = z
  .strictObject({
    id: id.optional(),
    kind: z.enum(INCIDENT_KINDS),
    siteId: id.nullable().optional(),
    workOrderId: id.nullable().optional(),
    happenedAt: instant,
    what: text(4000),
    consequence: z.enum(CONSEQUENCES).optional(),
  })
  .meta({ id: 'NewIncident' });

export const incidentOf = (body: z.infer<typeof incidentBody>, incidentId: string): NewIncident => ({
  id: incidentId,
  kind: body.kind,
  siteId: body.siteId ?? null,
  workOrderId: body.workOrderId ?? null,
  happenedAt: new Date(body.happenedAt).toISOString(),
  what: body.what,
  consequence: body.consequence ?? 'none',
});

export const incidentView = z
  .object({
    id: z.uuid(),
    kind: z.enum(INCIDENT_KINDS),
    siteId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    happenedAt: instant,
    what: z.string(),
    consequence: z.enum(CONSEQUENCES),
    tell: z.array(
      z.object({
        who: z.string(),
        by: instant,
        source: z.string(),
        toldAt: instant.nullable(),
        toldBy: z.string().nullable(),
        corrected: z
          .array(z.object({ toldAt: instant, toldBy: z.string(), correctedBy: z.string() }))
          .describe('what was said before and put right'),
      }),
    ),
    card: z.string().nullable().describe('goes along to hospital with a water-jet injury'),
    author: z.string(),
    closedAt: instant.nullable(),
    withdrawnAt: instant.nullable().describe('it was none: nobody has to be told'),
    withdrawnBy: z.string().nullable(),
    withdrawnBecause: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({ id: 'Incident', description: 'What went wrong, and who must be told by when.' });

export const viewIncident = (r: Row, card: string | null) => ({
  id: r['id'],
  kind: r['kind'],
  siteId: r['site_id'],
  workOrderId: r['work_order_id'],
  happenedAt: r['happened_at'],
  what: r['what'],
  consequence: r['consequence'],
  tell: (r['tell'] as Told[]).map((each) => ({ ...each, corrected: each.corrected ?? [] })),
  card,
  author: r['author'],
  closedAt: r['closed_at'],
  withdrawnAt: r['withdrawn_at'],
  withdrawnBy: r['withdrawn_by'],
  withdrawnBecause: r['withdrawn_because'],
  version: r['version'],
});

export const foundTask = z.strictObject({
  id: id.optional(),
  kind: z.enum(TASK_KINDS),
  lineId: id.nullable().optional(),
  pitId: id.nullable().optional(),
  minutes: z.number().int().min(1).max(2880).nullable().optional(),
  priceMinor: z.number().int().min(0).max(2_000_000_000).nullable().optional(),
});

export const foundBody = z
  .strictObject({
    foundAt: instant,
    tasks: z.array(foundTask).min(1).max(20),
    accepted: z
      .strictObject({ by: oneLine(200), at: instant })
      .nullable()
      .optional()
      .describe('who took the price on the spot, and when'),
    declined: z
      .strictObject({ by: oneLine(200), at: instant })
      .nullable()
      .optional()
      .describe('who did not take it, and when: what has a price is on record as not done, refused'),
  })
  .meta({
    id: 'FoundWork',
    description: 'Work a crew found while there, unconfirmed until the office looked at it.',
  });

/** Found work out of its body. */
export const foundWorkOf = (
  workOrderId: string,
  body: z.infer<typeof foundBody>,
  freshId: () => string,
): FoundWork => ({
  workOrderId,
  foundAt: new Date(body.foundAt).toISOString(),
  tasks: body.tasks.map((task) => ({
    id: task.id ?? freshId(),
    kind: task.kind,
    lineId: task.lineId ?? null,
    pitId: task.pitId ?? null,
    minutes: task.minutes ?? null,
    priceMinor: task.priceMinor ?? null,
  })),
  accepted: saidOf(body.accepted),
  declined: saidOf(body.declined),
});

const saidOf = (said: { by: string; at: string } | null | undefined): { by: string; at: string } | null =>
  said ? { by: said.by, at: new Date(said.at).toISOString() } : null;
