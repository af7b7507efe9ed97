import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import type { NewClean } from '../actions/recordClean.js';
import type { NewInspection } from '../actions/recordInspection.js';
import { OCCLUSION_WORDS, type Reading } from '../domain/readings/occlusionOf.js';
import { fromStored, type Quantity, toStored, type UnitSystem } from '../domain/units/quantity.js';
import {
  CAME_BACK,
  DEPOSITS,
  FLOW_PROVEN,
  METHODS,
  OUTLET_STATES,
  PHASES,
  PLUG_CAUSES,
  TASK_KINDS,
} from '../domain/words.js';
import { measured, quantitySchema } from './fields.js';
import { id, instant, reason, share, text } from './shapes.js';

const given = share;

/** A reading by one method; `share` is taken for every method whose book holds only an occlusion. */
export const readingSchema = z
  .discriminatedUnion('method', [
    z.strictObject({ method: z.literal('camera'), share: given }),
    z.strictObject({ method: z.literal('outlet_look'), share: given }),
    z.strictObject({
      method: z.literal('outlet_depth'),
      share: given.optional(),
      depth: measured('depositDepth').optional(),
    }),
    z.strictObject({
      method: z.literal('timed_fill'),
      share: given.optional(),
      volume: measured('vessel').optional(),
      seconds: z.number().positive().max(86_400).optional().describe('mean of the timings'),
      timings: z.number().int().min(1).max(20).optional(),
    }),
    z.strictObject({
      method: z.literal('poured_flow'),
      share: given.optional(),
      flow: measured('flow').optional(),
      backsUp: z.boolean().optional(),
    }),
    z.strictObject({
      method: z.literal('pit_drawdown'),
      share: given.optional(),
      rise: measured('levelChange').optional().describe('rise of the pit in a minute, pump off'),
      fall: measured('levelChange').optional().describe('fall of the pit in a minute, pump on'),
    }),
    z.strictObject({
      method: z.literal('passes_to_clear'),
      share: given.optional(),
      passes: z.number().int().min(1).max(50).optional(),
      cameBack: z.enum(CAME_BACK).optional(),
      nozzleStopped: measured('alongLine').optional().describe('from the entry, where it went no further'),
    }),
    z.strictObject({
      method: z.literal('by_word'),
      share: given.optional(),
      word: z.enum(OCCLUSION_WORDS).optional(),
      cameBack: z.enum(CAME_BACK).optional(),
    }),
  ])
  .meta({
    id: 'Reading',
    description: 'What was read, by method.',
    example: { method: 'camera', share: 0.35 },
  });

export const newInspection = z
  .strictObject({
    id: id.optional(),
    lineId: id.nullable().optional(),
    pitId: id.nullable().optional(),
    observedAt: instant,
    phase: z.enum(PHASES),
    reading: readingSchema.nullable().optional(),
    plugged: z
      .strictObject({
        cause: z.enum(PLUG_CAUSES),
        seenBy: z
          .enum(METHODS)
          .nullable()
          .optional()
          .describe('how the plug itself was looked at; camera counts as a look in after a hard stop'),
      })
      .nullable()
      .optional(),
    pitTest: z
      .strictObject({
        floatCycled: z.boolean().optional(),
        checkValveHolds: z.boolean().optional(),
        backupWorks: z.boolean().optional(),
        alarmWorks: z.boolean().optional(),
        sludgeShare: share.optional().describe('sludge over the depth below the intake'),
      })
      .nullable()
      .optional()
      .describe('a look at a pit and its pump; what was not tried is left out'),
    deposit: z.enum(DEPOSITS).optional(),
    outletState: z.enum(OUTLET_STATES).nullable().optional(),
    place: text(300).nullable().optional(),
    distance: measured('alongLine').nullable().optional(),
    crewId: id.nullable().optional(),
    workOrderId: id.nullable().optional(),
    replacesId: id.nullable().optional(),
    deviceClockOffsetSeconds: z.number().int().min(-1e8).max(1e8).nullable().optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({ id: 'NewInspection', description: 'What one person found on one line or pit at one moment.' });

const whatNowView = z
  .object({
    steps: z.array(z.object({ text: z.string(), source: z.string() })),
    foundWork: z
      .array(z.object({ kind: z.enum(TASK_KINDS), pitId: z.uuid() }))
      .describe('to add to the visit under way: tasks of POST /v1/work-orders/{id}/found-work'),
  })
  .meta({ id: 'WhatNow', description: 'What the crew does at once about a plug or a dead pump.' });

export const inspectionView = z
  .object({
    id: z.uuid(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    observedAt: instant,
    receivedAt: instant,
    deviceClockOffsetSeconds: z.number().int().nullable(),
    author: z.string(),
    crewId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    phase: z.enum(PHASES),
    method: z.enum(METHODS).nullable(),
    raw: z.record(z.string(), z.unknown()).describe('the reading as it was read, SI'),
    conversionVersion: z.number().int(),
    occlusion: share.nullable(),
    standardError: z.number().nullable(),
    bound: z.enum(['exact', 'at_most', 'at_least']),
    notes: z.array(reason),
    plugged: z.object({ cause: z.enum(PLUG_CAUSES), seenBy: z.enum(METHODS).nullable() }).nullable(),
    deposit: z.enum(DEPOSITS),
    outletState: z.enum(OUTLET_STATES).nullable(),
    place: z.string().nullable(),
    distance: quantitySchema('length').nullable(),
    note: z.string().nullable(),
    replacesId: z.uuid().nullable(),
    replacedAt: instant.nullable(),
    withdrawnAt: instant.nullable(),
    withdrawnBecause: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({
    id: 'Inspection',
    description:
      'An inspection: the reading as read, and the occlusion derived from it with its standard error.',
  });

/** An inspection just recorded, with what the crew does about it now. */
export const recordedInspection = inspectionView
  .extend({ whatNow: whatNowView.nullable().describe('null: nothing that cannot wait') })
  .meta({
    id: 'RecordedInspection',
    description:
      'An inspection just recorded, and what the crew does at once where it found a plug or a dead pump.',
  });

export const newClean = z
  .strictObject({
    id: id.optional(),
    lineId: id.nullable().optional(),
    pitId: id.nullable().optional(),
    cleanedAt: instant,
    task: z.enum(TASK_KINDS).nullable().optional(),
    crewId: id.nullable().optional(),
    workOrderId: id.nullable().optional(),
    flowProven: z.enum(FLOW_PROVEN).nullable().optional(),
    cameBack: z.enum(CAME_BACK).nullable().optional(),
    passes: z.number().int().min(1).max(50).nullable().optional(),
    nozzleStopped: measured('alongLine').nullable().optional(),
    water: measured('water').nullable().optional(),
    waterWentTo: text(300).nullable().optional(),
    note: text(4000).nullable().optional(),
  })
  .meta({ id: 'NewClean', description: 'A line or pit was cleaned then; measured or not.' });

export const cleanView = z
  .object({
    id: z.uuid(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    cleanedAt: instant,
    receivedAt: instant,
    author: z.string(),
    crewId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    task: z.enum(TASK_KINDS).nullable(),
    flowProven: z.enum(FLOW_PROVEN).nullable(),
    cameBack: z.enum(CAME_BACK).nullable(),
    passes: z.number().int().nullable(),
    nozzleStopped: quantitySchema('length').nullable(),
    water: quantitySchema('volume').nullable(),
    waterWentTo: z.string().nullable(),
    inferred: z.boolean(),
    note: z.string().nullable(),
    withdrawnAt: instant.nullable(),
    withdrawnBecause: z.string().nullable(),
    version: z.number().int(),
  })
  .meta({
    id: 'Clean',
    description: 'A clean on record; `inferred` when an import concluded it from a reading before cleaning.',
  });

/** A reading as an app sends it, in plain SI numbers. */
export function readingOf(body: z.infer<typeof readingSchema>): Reading {
  const out: Reading = { method: body.method };
  if (body.share !== undefined) out.share = body.share;
  const stored = (quantity: unknown, dimension: Parameters<typeof toStored>[1]) =>
    toStored(quantity as Quantity, dimension);
  switch (body.method) {
    case 'outlet_depth':
      if (body.depth !== undefined) out.depthMm = stored(body.depth, 'bore');
      break;
    case 'timed_fill':
      if (body.volume !== undefined) out.volumeL = stored(body.volume, 'volume');
      if (body.seconds !== undefined) out.seconds = body.seconds;
      if (body.timings !== undefined) out.timings = body.timings;
      break;
    case 'poured_flow':
      if (body.flow !== undefined) out.flowLps = stored(body.flow, 'flow');
      if (body.backsUp !== undefined) out.backsUp = body.backsUp;
      break;
    case 'pit_drawdown':
      if (body.rise !== undefined) out.riseMmPerMinute = stored(body.rise, 'bore');
      if (body.fall !== undefined) out.fallMmPerMinute = stored(body.fall, 'bore');
      break;
    case 'passes_to_clear':
      if (body.passes !== undefined) out.passes = body.passes;
      if (body.cameBack !== undefined) out.cameBack = body.cameBack;
      if (body.nozzleStopped !== undefined) out.nozzleStoppedAtM = stored(body.nozzleStopped, 'length');
      break;
    case 'by_word':
      if (body.word !== undefined) out.word = body.word;
      if (body.cameBack !== undefined) out.cameBack = body.cameBack;
      break;
    case 'camera':
    case 'outlet_look':
      break;
    default:
      body satisfies never;
  }
  return out;
}

export function inspectionOf(body: z.infer<typeof newInspection>, newId: string): NewInspection {
  return {
    id: newId,
    lineId: body.lineId ?? null,
    pitId: body.pitId ?? null,
    observedAt: new Date(body.observedAt).toISOString(),
    phase: body.phase,
    reading: body.reading ? readingOf(body.reading) : null,
    pitTest: body.pitTest ?? null,
    plugged: body.plugged?.cause ?? null,
    plugSeenBy: body.plugged?.seenBy ?? null,
    deposit: body.deposit ?? 'unknown',
    outletState: body.outletState ?? null,
    place: body.place ?? null,
    distanceM: body.distance ? toStored(body.distance as Quantity, 'length') : null,
    crewId: body.crewId ?? null,
    workOrderId: body.workOrderId ?? null,
    replacesId: body.replacesId ?? null,
    deviceClockOffsetS: body.deviceClockOffsetSeconds ?? null,
    note: body.note ?? null,
  };
}

export function cleanOf(body: z.infer<typeof newClean>, newId: string): NewClean {
  return {
    id: newId,
    lineId: body.lineId ?? null,
    pitId: body.pitId ?? null,
    cleanedAt: new Date(body.cleanedAt).toISOString(),
    task: body.task ?? null,
    crewId: body.crewId ?? null,
    workOrderId: body.workOrderId ?? null,
    flowProven: body.flowProven ?? null,
    cameBack: body.cameBack ?? null,
    passes: body.passes ?? null,
    nozzleStoppedM: body.nozzleStopped ? toStored(body.nozzleStopped as Quantity, 'length') : null,
    waterL: body.water ? toStored(body.water as Quantity, 'volume') : null,
    waterWentTo: body.waterWentTo ?? null,
    note: body.note ?? null,
  };
}

const length = (value: unknown, units: UnitSystem) =>
  typeof value === 'number' ? fromStored(value, 'length', units) : null;

export function viewInspection(row: Row, units: UnitSystem): Record<string, unknown> {
  return {
    id: row['id'],
    lineId: row['line_id'],
    pitId: row['pit_id'],
    observedAt: row['observed_at'],
    receivedAt: row['received_at'],
    deviceClockOffsetSeconds: row['device_clock_offset_s'],
    author: row['author'],
    crewId: row['crew_id'],
    workOrderId: row['work_order_id'],
    phase: row['phase'],
    method: row['method'],
    raw: row['raw'],
    conversionVersion: row['conversion_version'],
    occlusion: row['occlusion'],
    standardError: row['standard_error'],
    bound: row['bound'],
    notes: row['notes'],
    plugged: row['plugged'] ? { cause: row['plug_cause'], seenBy: row['plug_seen_by'] } : null,
    deposit: row['deposit'],
    outletState: row['outlet_state'],
    place: row['place'],
    distance: length(row['distance_m'], units),
    note: row['note'],
    replacesId: row['replaces_id'],
    replacedAt: row['replaced_at'],
    withdrawnAt: row['withdrawn_at'],
    withdrawnBecause: row['withdrawn_because'],
    version: row['version'],
  };
}

export function viewClean(row: Row, units: UnitSystem): Record<string, unknown> {
  return {
    id: row['id'],
    lineId: row['line_id'],
    pitId: row['pit_id'],
    cleanedAt: row['cleaned_at'],
    receivedAt: row['received_at'],
    author: row['author'],
    crewId: row['crew_id'],
    workOrderId: row['work_order_id'],
    task: row['task'],
    flowProven: row['flow_proven'],
    cameBack: row['came_back'],
    passes: row['passes'],
    nozzleStopped: length(row['nozzle_stopped_m'], units),
    water: typeof row['water_l'] === 'number' ? fromStored(row['water_l'], 'volume', units) : null,
    waterWentTo: row['water_went_to'],
    inferred: row['inferred'],
    note: row['note'],
    withdrawnAt: row['withdrawn_at'],
    withdrawnBecause: row['withdrawn_because'],
    version: row['version'],
  };
}
