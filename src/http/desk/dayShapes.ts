import { z } from 'zod';
import type { LeftUndone } from '../../actions/desk/closeRoute.js';
import type { DayPromise } from '../../actions/desk/promisesOf.js';
import type { OpenCall, OpenItem } from '../../actions/desk/stillOpen.js';
import type { Row } from '../../actions/ports.js';
import {
  KIT_KINDS,
  NOT_DONE_REASONS,
  PRECONDITION_KINDS,
  TASK_KINDS,
  TOLD_HOW,
  WORK_ORDER_CAUSES,
  WORK_ORDER_STATES,
} from '../../domain/words.js';
import { displacedView, toPhoneView } from '../planShapes.js';
import { routeChange } from '../routeShapes.js';
import { day, id, instant, reason, text, timeOfDay } from '../shapes.js';
import { hinderedVisit } from './hinderedShapes.js';

const kitName = z.object({ id: z.uuid(), name: z.string(), kind: z.enum(KIT_KINDS) });
const kitOut = kitName.extend({ reason: z.string() });

const leftUndone = z
  .object({
    workOrderId: z.uuid(),
    number: z.number().int(),
    address: z.string(),
    reason: z.enum(NOT_DONE_REASONS),
    note: z.string().nullable(),
    next: z.string(),
    notBefore: day,
    promiseBroken: z.boolean(),
  } satisfies Record<keyof LeftUndone, z.ZodType>)
  .meta({
    id: 'LeftUndone',
    description: 'A visit the day left undone: why, what happens next, not before when.',
  });

const routeFigures = z
  .object({
    id: z.uuid(),
    planId: z.uuid(),
    state: z.enum(['not_published', 'published', 'changed', 'closed']),
    publishedAt: instant.nullable(),
    publishedBy: z.string().nullable(),
    closedAt: instant.nullable(),
    closedBy: z.string().nullable(),
    leavesAt: instant.nullable(),
    returnsAt: instant.nullable(),
    visits: z.number().int().describe('done, under way, ahead and tried together'),
    done: z.number().int(),
    underWay: z.number().int(),
    ahead: z.number().int(),
    tried: z.number().int().describe('begun and not done: nobody drives there again on this route'),
    next: z
      .object({ workOrderId: z.uuid(), number: z.number().int(), startsAt: instant })
      .nullable()
      .describe('the first visit still ahead'),
    driveSeconds: z.number().int(),
    driveMetres: z.number().int(),
    workSeconds: z.number().int(),
    waitSeconds: z.number().int(),
    overtimeSeconds: z.number().int(),
    lateSeconds: z.number().int().nullable().describe('the next visit should have begun so long ago'),
    changesSincePublished: z.array(routeChange),
    notDone: z.array(leftUndone),
  })
  .meta({ id: 'RouteFigures', description: 'A route of a day in figures.' });

export const dayBook = z
  .object({
    day,
    totals: z.object({
      crews: z.number().int().describe('at work'),
      visits: z.number().int(),
      done: z.number().int(),
      driveSeconds: z.number().int(),
      workSeconds: z.number().int(),
      overtimeSeconds: z.number().int(),
    }),
    crews: z.array(
      z.object({
        crewId: z.uuid(),
        crewName: z.string(),
        works: z.boolean(),
        shift: z.object({ from: timeOfDay, to: timeOfDay }).nullable(),
        people: z.number().int().describe('there that day'),
        peopleUsually: z.number().int(),
        restsUntil: instant.nullable().describe('starts later: somebody of it was called out'),
        absences: z.array(
          z.object({
            id: z.uuid(),
            of: z.enum(['crew', 'member']),
            name: z.string(),
            people: z.number().int().nullable(),
            reason: z.string(),
            backAt: instant.nullable(),
          }),
        ),
        kit: z.array(kitName),
        kitOut: z.array(kitOut).describe('its own, out of service'),
        route: routeFigures.nullable(),
        onCallRoutes: z
          .array(routeFigures)
          .describe('driven that day out of its shift, on call; closed and counted with the day'),
      }),
    ),
    closedSeasons: z.array(
      z.object({
        id: z.uuid(),
        reason: z.string(),
        tasks: z.array(z.enum(TASK_KINDS)),
        outsideOnly: z.boolean(),
        depotId: z.uuid().nullable(),
      }),
    ),
    sharedKitOut: z.array(kitOut),
    hinderedVisits: z
      .array(hinderedVisit)
      .describe('still ahead on a route, and no longer possible there; from today on'),
  })
  .meta({
    id: 'DayBook',
    description: 'A day per crew: route with totals, who and what is away, who is short.',
  });

/** An order and where it is. */
const orderAtSite = {
  workOrderId: z.uuid(),
  number: z.number().int(),
  siteId: z.uuid(),
  address: z.string(),
  town: z.string(),
};

const phoneable = z.array(
  z.object({ name: z.string(), role: z.string(), phone: z.string(), language: z.string().nullable() }),
);

export const dayPromise = z
  .object({
    id: z.uuid(),
    workOrderId: z.uuid(),
    number: z.number().int(),
    orderState: z.enum(WORK_ORDER_STATES),
    siteId: z.uuid(),
    address: z.string(),
    town: z.string(),
    day,
    from: timeOfDay.nullable(),
    to: timeOfDay.nullable(),
    toldTo: z.string().nullable(),
    toldAt: instant,
    toldBy: z.string(),
    toldHow: z.enum(TOLD_HOW),
    standing: z.enum(['kept', 'planned', 'early', 'late', 'other_day', 'nowhere', 'ended']),
    text: z.string(),
    planned: z.object({ crewId: z.uuid(), crewName: z.string(), day, startsAt: instant }).nullable(),
    contacts: phoneable,
  })
  .meta({
    id: 'DayPromise',
    description: 'A day and hours told to a client, by whom and how, and how it stands.',
  });

export const viewPromise = ({ row, standing, text: said }: DayPromise) => ({
  id: row['id'],
  workOrderId: row['work_order_id'],
  number: row['number'],
  orderState: row['order_state'],
  siteId: row['site_id'],
  address: row['address'],
  town: row['town'],
  day: row['day'],
  from: row['from_time'],
  to: row['to_time'],
  toldTo: row['told_to'],
  toldAt: row['told_at'],
  toldBy: row['told_by'],
  toldHow: row['told_how'],
  standing,
  text: said,
  planned:
    row['planned_at'] === null
      ? null
      : {
          crewId: row['crew_id'],
          crewName: row['crew_name'],
          day: row['planned_day'],
          startsAt: row['planned_at'],
        },
  contacts: row['contacts'],
});

export const agreeView = z
  .object({
    ...orderAtSite,
    crewId: z.uuid(),
    crewName: z.string(),
    day,
    startsAt: instant,
    contacts: phoneable,
  })
  .meta({
    id: 'VisitToAgree',
    description:
      'Somebody must be home for it and nobody was told the day: phone, then put it on record (POST /v1/promises).',
  });

export const viewToAgree = (row: Row) => ({
  workOrderId: row['id'],
  number: row['number'],
  siteId: row['site_id'],
  address: row['address'],
  town: row['town'],
  crewId: row['crew_id'],
  crewName: row['crew_name'],
  day: row['day'],
  startsAt: row['starts_at'],
  contacts: row['contacts'],
});

export const unplacedView = z
  .object({
    ...orderAtSite,
    cause: z.enum(WORK_ORDER_CAUSES),
    notBefore: day.nullable(),
    wantedBy: day.nullable(),
    respondBy: instant.nullable(),
    promisedDay: day.nullable(),
    minutes: z.number().int(),
    people: z.number().int(),
    kit: z.array(z.enum(KIT_KINDS)),
    because: z.array(reason),
    waitsFor: z.array(
      z.object({
        id: z.uuid().describe('of the precondition'),
        kind: z.enum(PRECONDITION_KINDS),
        since: instant,
        nextStep: z.string(),
        facts: z.record(z.string(), z.unknown()),
      }),
    ),
    cheapestPlace: z
      .object({
        crewId: z.uuid(),
        crewName: z.string(),
        day,
        afterWorkOrderId: z.uuid().nullable(),
        startsAt: instant,
        displaces: z.array(z.uuid()),
        extraCostMinor: z.number(),
      })
      .nullable()
      .describe('among what crews drive now, this order alone added; of waiting work as if nothing kept it'),
  })
  .meta({ id: 'UnplacedWork', description: 'Work no crew drives to, why, and what to do next.' });

export const offeredDays = z
  .object({
    days: z.array(
      z.object({
        day,
        possible: z.boolean(),
        text: z.string().describe('to read out'),
        place: z
          .object({
            crewId: z.uuid(),
            crewName: z.string(),
            startsAt: instant,
            from: timeOfDay.describe('hours to tell the client'),
            to: timeOfDay,
            afterWorkOrderId: z.uuid().nullable(),
            costMinor: z.number().int(),
            extraMinor: z.number().int().describe('more than the cheapest of these days'),
            extraDriveMinutes: z.number().int(),
            extraOvertimeMinutes: z.number().int(),
            displaces: z.array(displacedView),
          })
          .nullable(),
      }),
    ),
    nowhere: reason.nullable().describe('where no day is possible: why'),
    version: z.number().int().describe('of the order: send it as If-Match with the placement'),
    warnings: z.array(reason),
  })
  .meta({
    id: 'OfferedDays',
    description:
      'The next working days with the cheapest place of each. Tell the client one (POST /v1/promises) and put the order there (POST …/placement).',
  });

export const openItemView = z
  .object({
    id: z.uuid().describe('of the item, or of the conflict'),
    kind: z.string(),
    state: z.enum(['waiting', 'refused', 'conflict']),
    author: z.string(),
    crewId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    number: z.number().int().nullable(),
    happenedAt: instant,
    text: z.string().describe('what it waits for, or why it was not taken'),
  } satisfies Record<keyof OpenItem, z.ZodType>)
  .meta({ id: 'OpenSyncItem', description: 'What a phone sent of a day and nobody has settled.' });

export const openCallView = z
  .object({
    workOrderId: z.uuid(),
    number: z.number().int(),
    address: z.string(),
    town: z.string(),
    respondBy: instant,
    overdue: z.boolean(),
  } satisfies Record<keyof OpenCall, z.ZodType>)
  .meta({ id: 'OpenCall', description: 'A call to be answered by the end of the day that is on no route.' });

/** What is open of a day, beside its routes. */
export const stillOpenView = {
  onPhones: z
    .array(openItemView)
    .describe(
      'what phones sent of the day and nobody has settled: items that wait or were refused, conflicts',
    ),
  callsOpen: z.array(openCallView).describe('on no route, to be answered by the end of the day'),
};

export const closingBody = z
  .strictObject({
    notDone: z
      .array(
        z.strictObject({
          workOrderId: id,
          reason: z.enum(NOT_DONE_REASONS),
          note: text(1000).optional(),
        }),
      )
      .max(200)
      .optional()
      .describe('reasons of single visits'),
    restBecause: z
      .enum(NOT_DONE_REASONS)
      .optional()
      .describe('the reason of all others that were not begun; absent: out_of_time'),
    leaveRunning: z.boolean().optional().describe('true: close although a visit is under way'),
  })
  .meta({ id: 'Closing', example: { restBecause: 'out_of_time' } });

export const closedView = z
  .object({
    routeId: z.uuid(),
    crewId: z.uuid(),
    day,
    closedAt: instant,
    closedBy: z.string(),
    done: z.number().int(),
    running: z.array(z.uuid()).describe('orders still under way'),
    notDone: z.array(leftUndone),
    toPhone: z.array(toPhoneView).describe('promises of the day that were not kept'),
    onPhones: z
      .array(openItemView)
      .describe(
        'what its crew sent of the day and nobody has settled: a visit not done here may be done there',
      ),
  })
  .meta({ id: 'ClosedRoute', description: 'What a crew’s day left undone, and what happens to it.' });
