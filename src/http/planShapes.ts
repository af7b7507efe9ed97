import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import { PLAN_STATES, WORK_ORDER_CAUSES } from '../domain/words.js';
import { day, instant, reason, timeOfDay } from './shapes.js';

const uuid = z.uuid();
const standing = z.object({ day, crewId: uuid, startsAt: instant });

export const displacedView = z
  .object({
    workOrderId: uuid,
    number: z.number().int(),
    address: z.string(),
    town: z.string(),
    client: z.string().nullable(),
    promised: z.boolean(),
    cause: z.enum(WORK_ORDER_CAUSES),
    respondBy: instant.nullable().describe('by when somebody must be there'),
    call: z
      .string()
      .nullable()
      .describe('what was called in about, and by when somebody must be there, in words'),
    startsAt: instant.nullable().describe('when its crew would have come; it waits for another place then'),
  })
  .meta({ id: 'DisplacedOrder', description: 'An order that would give way.' });

export const toPhoneView = z
  .object({
    workOrderId: uuid,
    number: z.number().int(),
    address: z.string(),
    town: z.string(),
    promised: z
      .object({ day, from: timeOfDay.nullable(), to: timeOfDay.nullable() })
      .nullable()
      .describe('null: a call, to be answered by `respondBy`'),
    respondBy: instant.nullable().describe('of a call: by when somebody must be there'),
    planned: standing.nullable().describe('where it stands instead; null: nowhere'),
    because: z.string(),
    contacts: z.array(
      z.object({ name: z.string(), role: z.string(), phone: z.string(), language: z.string().nullable() }),
    ),
  })
  .meta({
    id: 'PromiseToPhone',
    description:
      'A promise that is not kept, or a call nobody answers in time, and whom to tell. Calls come first.',
  });

const costs = z.object({
  driving: z.number(),
  overtime: z.number(),
  crewUse: z.number(),
  waiting: z.number(),
  moves: z.number(),
  unplaced: z.number(),
  total: z.number(),
});

export const planView = z
  .object({
    id: uuid,
    state: z.enum(PLAN_STATES),
    fromDay: day,
    toDay: day,
    because: z.string(),
    askedBy: z.string(),
    seed: z.number().int(),
    searchSeconds: z.number(),
    progress: z.number().min(0).max(1).describe('share of the search done'),
    iterations: z.number().int().nullable(),
    costMinor: z.number().int().nullable(),
    summary: z
      .object({
        routes: z.number().int().optional(),
        stops: z.number().int().optional(),
        driveSeconds: z.number().optional(),
        driveMetres: z.number().optional(),
        overtimeSeconds: z.number().optional(),
        cost: costs.optional(),
        overtime: z
          .array(
            z.object({
              crewId: uuid,
              day,
              seconds: z.number().int(),
              costMinor: z.number().int(),
              without: z
                .array(
                  z.object({
                    workOrderId: uuid,
                    place: standing.nullable().describe('where it would go; null: nowhere'),
                  }),
                )
                .describe('orders that would leave the route'),
              extraCostMinor: z
                .number()
                .nullable()
                .describe('what going without would cost more than it saves; null: no order can leave'),
              text: z.string(),
            }),
          )
          .optional()
          .describe('each route with overtime, and what that bought'),
      })
      .describe('minor units of money; seconds; metres'),
    onlyFor: z
      .array(z.object({ crewId: uuid, day }))
      .nullable()
      .describe('crews and days it is for; null: all crews of its days'),
    warnings: z.array(reason),
    toPhone: z.array(toPhoneView),
    staleBecause: z.array(reason),
    failedBecause: z.string().nullable(),
    proposedAt: instant.nullable(),
    acceptedAt: instant.nullable(),
    acceptedBy: z.string().nullable(),
    createdAt: instant,
    version: z.number().int(),
  })
  .meta({ id: 'Plan', description: 'A proposal for crew-days, searched, accepted, discarded or stale.' });

export const viewPlan = (r: Row) => ({
  id: r['id'],
  state: r['state'],
  fromDay: r['from_day'],
  toDay: r['to_day'],
  because: r['because'],
  askedBy: r['asked_by'],
  seed: r['seed'],
  searchSeconds: r['search_seconds'],
  progress: r['progress'],
  iterations: r['iterations'],
  costMinor: r['cost_minor'],
  summary: r['summary'],
  onlyFor: r['scope'],
  warnings: r['warnings'],
  toPhone: (r['to_phone'] as Row[]).map((each) => ({ respondBy: null, ...each })),
  staleBecause: r['stale_because'],
  failedBecause: r['failed_because'],
  proposedAt: r['proposed_at'],
  acceptedAt: r['accepted_at'],
  acceptedBy: r['accepted_by'],
  createdAt: r['created_at'],
  version: r['version'],
});

export const discardedPlan = planView
  .extend({
    staysInForce: reason
      .nullable()
      .describe('the absence or rain reported with which the plan was asked for, and how to take it back'),
  })
  .meta({ id: 'DiscardedPlan', description: 'A plan nobody wants, and what it leaves in force.' });

const unplacedView = z.object({
  workOrderId: uuid,
  number: z.number().int().nullable(),
  address: z.string().nullable(),
  code: z.string(),
  facts: z.record(z.string(), z.unknown()),
  text: z.string(),
  cheapestPlace: z
    .object({
      crewId: uuid,
      day,
      afterWorkOrderId: uuid.nullable(),
      startsAt: instant,
      displaces: z.array(displacedView),
      extraCostMinor: z.number(),
    })
    .nullable(),
});

const changeView = z.object({
  kind: z.enum(['added', 'dropped', 'moved_day', 'moved_crew', 'moved_time']),
  workOrderId: uuid,
  number: z.number().int().nullable(),
  address: z.string().nullable(),
  from: standing.nullable(),
  to: standing.nullable(),
  why: z
    .object({
      kind: z
        .enum(['forced', 'follows', 'saves'])
        .describe('it cannot stay; something it hangs on cannot; or nothing forces it and it saves money'),
      workOrderIds: z.array(uuid).describe('orders it follows, or saves together with'),
      saving: z
        .object({ driving: z.number(), overtime: z.number(), waiting: z.number() })
        .nullable()
        .describe('minor units, of all changes that hang together; below zero: costs'),
      text: z.string(),
    })
    .nullable()
    .describe('null: the routes have been changed since it was searched'),
});

const figures = z.object({
  stops: z.number().int(),
  driveSeconds: z.number(),
  driveMetres: z.number(),
  waitSeconds: z.number(),
});

export const wholePlanView = planView
  .extend({
    unplaced: z.array(unplacedView).describe('each order left out, why, and its cheapest place'),
    changes: z
      .object({ now: figures, planned: figures, items: z.array(changeView) })
      .describe('what would change against what crews drive now; empty once it is settled'),
    changedSince: z
      .array(reason)
      .describe('what has changed since of the things it touches: it cannot be accepted any more'),
  })
  .meta({
    id: 'WholePlan',
    description: 'A plan with what it leaves out and what accepting it would change.',
  });
