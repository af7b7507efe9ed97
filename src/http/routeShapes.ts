import { z } from 'zod';
import { callOutHindrances, stopHindrances } from '../actions/desk/hinderedVisits.js';
import { changesSince } from '../actions/desk/publishing.js';
import type { AskedQuestion } from '../actions/desk/questions.js';
import { suppliesOf } from '../actions/desk/supplies.js';
import type { Row } from '../actions/ports.js';
import { visitCautions } from '../actions/workLife/orderCautions.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import { type DimensionName, fromStored, type UnitSystem } from '../domain/units/quantity.js';
import {
  ACCESS_POINT_KINDS,
  ATTEMPT_RESULTS,
  BASEMENTS,
  DEPOSITS,
  DIRECTIONS,
  DRAINS_TO,
  FILE_KINDS,
  KIT_KINDS,
  LINE_KINDS,
  MATERIALS,
  METHODS,
  NOT_DONE_REASONS,
  OUTLETS,
  PHASES,
  SYSTEM_KINDS,
  type TaskKind,
  UTILITY_ANSWERS,
  WATER_RECEIVERS,
  WORK_ORDER_STATES,
  YES_NO_UNKNOWN,
} from '../domain/words.js';
import type { Hindrance } from '../domain/work/hindrances.js';
import { USUAL_HAND_DIG_MM } from '../domain/work/locateTicket.js';
import { ASKED_FACTS } from '../domain/work/missingFact.js';
import type { OnBoardThing } from '../domain/work/onBoard.js';
import { oneTaps } from '../domain/work/oneTap.js';
import { onBoardText } from '../papers/onBoardText.js';
import { quantitySchema } from './fields.js';
import { caution, day, instant, reason, share } from './shapes.js';
import { orderLockView, taskView, viewOrderLock } from './workOrderShapes.js';

const maybe = (dimension: DimensionName) => quantitySchema(dimension).nullable();
const quantityOf = (value: unknown, dimension: DimensionName, units: UnitSystem) =>
  typeof value === 'number' ? fromStored(value, dimension, units) : null;

const lastReading = z.object({
  observedAt: instant,
  phase: z.enum(PHASES),
  method: z.enum(METHODS).nullable(),
  occlusion: share.nullable(),
  plugged: z.boolean(),
});
const shortReading = lastReading.extend({
  id: z.uuid(),
  standardError: z.number().nullable(),
  deposit: z.enum(DEPOSITS),
  place: z.string().nullable(),
  note: z.string().nullable(),
});
const oneTap = z
  .object({
    code: z.string(),
    text: z.string(),
    field: z.string().describe('field that takes the answer, as inspection.reading.word'),
    choices: z
      .array(z.object({ value: z.string(), text: z.string() }))
      .nullable()
      .describe('null: a number or a length'),
  })
  .meta({ id: 'OneTap', description: 'A question a crew answers with one tap where nobody measures.' });
const stopLine = z.object({
  name: z.string(),
  kind: z.enum(LINE_KINDS),
  material: z.enum(MATERIALS),
  bore: maybe('bore'),
  length: maybe('length'),
  outlet: z.enum(OUTLETS),
  drainsTo: z.enum(DRAINS_TO),
  perforated: z.boolean().nullable(),
  wrapped: z.boolean().nullable(),
  underSlab: z.boolean(),
  deposit: z.enum(DEPOSITS),
  assumed: z.array(z.string()).describe('facts nobody has seen: note one while there'),
  note: z.string().nullable(),
  occlusionExpected: share.nullable(),
  lastReading: lastReading.nullable(),
  lastReadings: z.array(shortReading).describe('newest first'),
});
const stopPit = z.object({
  place: z.string().nullable(),
  depth: maybe('bore'),
  diameter: maybe('bore'),
  enterable: z.boolean(),
  lastLook: z.object({ observedAt: instant, found: z.record(z.string(), z.unknown()) }).nullable(),
});
const stopTask = taskView
  .extend({
    line: stopLine.nullable(),
    pit: stopPit.nullable(),
    oneTaps: z.array(oneTap).describe('what may be answered with one tap, in order; each may be left out'),
  })
  .meta({ id: 'StopTask', description: 'A task with what a crew must know of its line or pit.' });
const accessPoint = z.object({
  id: z.uuid(),
  kind: z.enum(ACCESS_POINT_KINDS),
  place: z.string().describe('how to find it'),
  distance: maybe('length'),
  distanceFrom: z.string().nullable(),
  unconfirmed: z.boolean().describe('found on site; the office has not looked yet'),
  lineId: z.uuid().nullable(),
  pitId: z.uuid().nullable(),
  kitCanEnter: z.array(z.enum(KIT_KINDS)),
  direction: z.enum(DIRECTIONS),
  note: z.string().nullable(),
});

const viewStopTask = ({ line, pit, ...task }: Row, units: UnitSystem) => {
  const l = line as Row | null;
  const p = pit as Row | null;
  return {
    ...task,
    oneTaps: oneTaps(task['kind'] as TaskKind),
    line: l && {
      name: l['name'],
      kind: l['kind'],
      material: l['material'],
      bore: quantityOf(l['bore_mm'], 'bore', units),
      length: quantityOf(l['length_m'], 'length', units),
      outlet: l['outlet'],
      drainsTo: l['drains_to'],
      perforated: l['perforated'],
      wrapped: l['wrapped'],
      underSlab: l['under_slab'],
      deposit: l['deposit'],
      assumed: l['assumed'],
      note: l['note'],
      occlusionExpected: l['occlusion'],
      lastReading: l['last_reading'],
      lastReadings: l['last_readings'],
    },
    pit: p && {
      place: p['place'],
      depth: quantityOf(p['depth_mm'], 'bore', units),
      diameter: quantityOf(p['diameter_mm'], 'bore', units),
      enterable: p['enterable'],
      lastLook: p['last_look'],
    },
  };
};

const where = z.object({
  position: z.number().int().describe('among the visits, from 1'),
  startsAt: instant,
});
export const routeChange = z
  .object({
    kind: z.enum(['added', 'removed', 'moved', 'time']),
    workOrderId: z.uuid(),
    number: z.number().int(),
    address: z.string(),
    from: where.nullable(),
    to: where.nullable(),
  })
  .meta({ id: 'RouteChange', description: 'What is different from what the crew was told.' });

export const question = z
  .object({
    fact: z.enum(ASKED_FACTS),
    lineId: z.uuid().nullable().describe('null: it is about the site'),
    spreadDays: z.number().describe('by so many days a due date could move with the answer'),
    text: z.string(),
    why: z.string(),
    answered: z.boolean(),
  })
  .meta({
    id: 'StopQuestion',
    description: 'The one missing fact to note while there: POST /v1/work-orders/{id}/answer.',
  });
export const viewQuestion = (value: unknown) => {
  if (value === null || value === undefined) return null;
  const { fact, lineId, spreadDays, text, why, answer } = value as AskedQuestion;
  return { fact, lineId, spreadDays, text, why, answered: answer !== undefined };
};

const waterPlan = z
  .object({
    receiver: z.enum(WATER_RECEIVERS),
    place: z.string().nullable(),
    permitRef: z.string().nullable(),
    sludgeTo: z.string().nullable(),
    assumed: z.boolean().describe("the firm's standing plan: nobody knows yet where the line ends"),
  })
  .meta({ id: 'StopWaterPlan' });

const stopTicket = z
  .object({
    id: z.uuid(),
    number: z.string().nullable(),
    digFrom: instant.describe('no digging before'),
    lastDay: day.nullable(),
    beginBy: day.nullable().describe('last day on which the work may begin'),
    handDig: quantitySchema('bore').describe(
      'each side of a mark by hand; 24 in where its rule does not say',
    ),
    handDigAssumed: z.boolean(),
    marksSeenAt: instant.nullable(),
    utilities: z.array(
      z.object({ name: z.string(), answer: z.enum(UTILITY_ANSWERS), answeredAt: z.string().nullable() }),
    ),
    open: z.string().nullable().describe('what still keeps the crew from digging; null: nothing'),
  })
  .meta({ id: 'StopLocateTicket', description: 'The locate ticket that the dig of a stop stands on.' });

function viewStopTicket(row: unknown, units: UnitSystem) {
  const ticket = row as Row | null;
  if (ticket === null) return null;
  const at = (instant: unknown) => (instant === null ? null : new Date(String(instant)).toISOString());
  const mm = ticket['handDigMm'] as number | null;
  return {
    id: ticket['id'],
    number: ticket['number'],
    digFrom: at(ticket['digFrom']),
    lastDay: ticket['lastDay'],
    beginBy: ticket['beginBy'],
    handDig: fromStored(mm ?? USUAL_HAND_DIG_MM, 'bore', units),
    handDigAssumed: mm === null,
    marksSeenAt: at(ticket['marksSeenAt']),
    utilities: ticket['utilities'],
    open: ticket['open'],
  };
}

/** What a crew was told of its day, against what stands now. */
const publicationOf = (r: Row) => ({
  publishedAt: r['told_at'],
  publishedBy: r['told_by'],
  closedAt: r['closed_at'],
  closedBy: r['closed_by'],
  replacedById: r['replaced_by_id'],
  changesSincePublished:
    r['told_stops'] === null || r['closed_at'] !== null
      ? []
      : changesSince({ stops: r['told_stops'], now: visitsNow(r['stops'] as Row[]) }),
});

/** A visit that was tried stays on the day it was; one given up is no visit any more. */
const visitsNow = (stops: readonly Row[]) =>
  stops
    .filter((stop) => stop['work_order_id'] !== null && (stop['live'] === true || stop['tried'] === true))
    .map((stop) => ({
      workOrderId: stop['work_order_id'],
      number: stop['number'],
      address: stop['address'],
      startsAt: stop['starts_at'],
    }));

const stopView = z
  .object({
    id: z.uuid(),
    position: z.number().int(),
    kind: z.string(),
    arrivesAt: instant,
    startsAt: instant,
    endsAt: instant,
    travelSeconds: z.number().int(),
    travelMetres: z.number().int(),
    locked: z.boolean(),
    drivenTo: z
      .boolean()
      .nullable()
      .describe(
        'false: the crew was there that day and does not go again, see attempt; or another route has taken the place of this one; null: no visit',
      ),
    attempt: z
      .object({
        startedAt: instant,
        endedAt: instant.nullable(),
        result: z.enum(ATTEMPT_RESULTS).nullable(),
        reason: z.enum(NOT_DONE_REASONS).nullable(),
      })
      .nullable()
      .describe('what the crew did there that day, its last'),
    workOrder: z
      .object({
        id: z.uuid(),
        number: z.number().int(),
        state: z.enum(WORK_ORDER_STATES),
        minutes: z.number().int(),
        people: z.number().int(),
        kit: z.array(z.string()),
        water: maybe('volume').describe('expected, to bring or draw'),
        sludge: maybe('volume').describe('expected, to take away'),
        becauseOf: z.array(reason),
        note: z.string().nullable(),
        promise: z.object({ day, from: z.string().nullable(), to: z.string().nullable() }).nullable(),
        lock: orderLockView.nullable().describe('null: plans may move it'),
        question: question.nullable(),
        waterPlan: waterPlan
          .nullable()
          .describe(
            'where flushed water and sludge go; null: nothing is planned, or it is still to be decided',
          ),
        locateTicket: stopTicket.nullable().describe('null: nothing is dug, or no ticket was called'),
        tasks: z.array(stopTask),
        hindrances: z
          .array(reason)
          .describe(
            'why it can no longer be done here as planned: closed season, kit, people, what it waits for, its locate ticket; empty: nothing',
          ),
        cautions: z.array(caution).describe('one tap a stop; local codes and licensed practice come first'),
      })
      .nullable(),
    site: z
      .object({
        id: z.uuid(),
        address: z.string(),
        town: z.string(),
        latitude: z.number().nullable(),
        longitude: z.number().nullable(),
        access: z.string(),
        accessNotes: z.string().nullable(),
        hours: z.array(z.record(z.string(), z.unknown())),
        basement: z.enum(BASEMENTS),
        tap: z.enum(YES_NO_UNKNOWN),
        contacts: z.array(
          z.object({
            name: z.string(),
            role: z.string(),
            phone: z.string().nullable(),
            language: z.string().describe('spoken there, as BCP 47'),
          }),
        ),
        accessPoints: z.array(accessPoint),
        systems: z.array(
          z.object({
            id: z.uuid(),
            name: z.string(),
            kind: z.enum(SYSTEM_KINDS),
            sketch: z.string().describe('address of its sketch (SVG)'),
          }),
        ),
        notes: z
          .array(
            z.object({
              id: z.uuid(),
              text: z.string(),
              notedAt: instant,
              author: z.string(),
              lineId: z.uuid().nullable(),
              pitId: z.uuid().nullable(),
            }),
          )
          .describe('the last six, newest first'),
        pictures: z
          .array(
            z.object({
              id: z.uuid(),
              kind: z.enum(FILE_KINDS),
              caption: z.string().nullable(),
              takenAt: instant,
              lineId: z.uuid().nullable(),
              pitId: z.uuid().nullable(),
              href: z.string(),
              thumbnail: z.string().nullable(),
            }),
          )
          .describe('the last eight that have come in whole, newest first'),
      })
      .nullable(),
    depot: z
      .object({ id: z.uuid(), name: z.string(), latitude: z.number(), longitude: z.number() })
      .nullable()
      .describe('where the tank is filled or emptied'),
  })
  .meta({ id: 'Stop' });
const onBoardThing = z
  .object({
    kind: z.enum(['kit', 'water', 'sludge', 'thing']),
    text: z.string(),
    kit: z.enum(KIT_KINDS).nullable(),
    items: z.array(z.string()).describe('names of what the crew has; empty: nothing on record'),
    holds: maybe('volume').describe('its tanks; null: not recorded, or no tank'),
    needs: maybe('volume').describe('of the visits not done yet; water: what the taps do not give'),
  })
  .meta({ id: 'OnBoardThing', description: 'One thing to have on board before leaving.' });
function viewOnBoard(thing: OnBoardThing, units: UnitSystem) {
  const isTank = thing.kind === 'water' || thing.kind === 'sludge';
  return {
    kind: thing.kind,
    text: onBoardText(thing, units).replaceAll(/[\u2068\u2069]/g, ''),
    kit: thing.kind === 'kit' ? thing.kit : null,
    items: thing.kind === 'thing' ? [] : thing.items,
    holds: isTank ? quantityOf(thing.holdsL, 'volume', units) : null,
    needs: isTank ? quantityOf(thing.needsL, 'volume', units) : null,
  };
}

export const routeView = z
  .object({
    id: z.uuid(),
    day,
    onCall: z
      .boolean()
      .describe('driven out of the shift, by whoever is on call; plans for the shifts leave it alone'),
    crewId: z.uuid(),
    crewName: z.string(),
    depotName: z.string(),
    leavesAt: instant.nullable(),
    returnsAt: instant.nullable(),
    driveSeconds: z.number().int(),
    driveMetres: z.number().int(),
    workSeconds: z.number().int(),
    waitSeconds: z.number().int(),
    overtimeSeconds: z.number().int().describe('after the end of the shift; out of it all from the call on'),
    overtimeCostMinor: z.number().int().nullable().describe('null: not for technicians'),
    publishedAt: instant.nullable().describe('when the crew was told; null: it may still change in silence'),
    publishedBy: z.string().nullable(),
    closedAt: instant.nullable(),
    closedBy: z.string().nullable(),
    changesSincePublished: z.array(routeChange),
    replacedById: z.uuid().nullable().describe('this is history: the crew drives that route now'),
    version: z.number().int(),
    onBoard: z.array(onBoardThing).describe('what the visits not done yet need'),
    warnings: z.array(reason).describe('visits that cannot be done any more, water nobody checked'),
    stops: z.array(stopView),
  })
  .meta({ id: 'Route', description: "One crew's ordered stops on one day." });

export const routeTotals = z
  .object({
    routes: z.number().int(),
    stops: z.number().int().describe('visits'),
    driveSeconds: z.number().int(),
    driveMetres: z.number().int(),
    workSeconds: z.number().int().describe('on site'),
    waitSeconds: z.number().int(),
    overtimeSeconds: z.number().int(),
    overtimeCostMinor: z.number().int().nullable().describe('null: not for technicians'),
  })
  .meta({ id: 'RouteTotals', description: 'Sums over the routes listed.' });

type StopPromise = { day: string; from: string | null; to: string | null };

const viewStopPromise = (promise: StopPromise | null): StopPromise | null =>
  promise && { day: promise.day, from: promise.from, to: promise.to };

const viewStopOrder = (s: Row, units: UnitSystem, hindrances: readonly Hindrance[]) => ({
  id: s['work_order_id'],
  number: s['number'],
  state: s['order_state'],
  minutes: s['minutes'],
  people: s['people'],
  kit: s['kit'],
  water: quantityOf(s['water_l'], 'volume', units),
  sludge: quantityOf(s['sludge_l'], 'volume', units),
  becauseOf: s['because_of'],
  note: s['order_note'],
  promise: viewStopPromise(s['promise'] as StopPromise | null),
  lock: viewOrderLock(s),
  question: viewQuestion(s['question']),
  waterPlan: s['water_plan'],
  locateTicket: viewStopTicket(s['locate_ticket'], units),
  tasks: (s['tasks'] as Row[]).map((task) => viewStopTask(task, units)),
  hindrances,
  cautions: visitCautions(s),
});

const viewStopSite = (s: Row, units: UnitSystem) => ({
  id: s['site_id'],
  address: s['address'],
  town: s['town'],
  latitude: s['latitude'],
  longitude: s['longitude'],
  access: s['access'],
  accessNotes: s['access_notes'],
  hours: s['hours'],
  basement: s['basement'],
  tap: s['tap'],
  contacts: s['contacts'],
  accessPoints: (s['access_points'] as Row[]).map(({ distance_m, ...point }) => ({
    ...point,
    distance: quantityOf(distance_m, 'length', units),
  })),
  systems: (s['systems'] as Row[]).map((system) => ({
    ...system,
    sketch: `/v1/systems/${String(system['id'])}/sketch.svg`,
  })),
  notes: s['notes'],
  pictures: (s['pictures'] as Row[]).map(({ small, ...picture }) => {
    const href = `/v1/attachments/${String(picture['id'])}`;
    return { ...picture, href, thumbnail: small === true ? `${href}/file?copy=thumbnail` : null };
  }),
});

/** A call-out of the caller with everything needed on site. */
export const ownCallOut = z
  .object({
    id: z.uuid(),
    calledAt: instant,
    backAt: instant.nullable().describe('null: still out'),
    note: z.string().nullable(),
    workOrder: stopView.shape.workOrder,
    site: stopView.shape.site,
  })
  .meta({
    id: 'OwnCallOut',
    description:
      'An order somebody was called out to, as a stop of a route has it. It is started, worked on and finished like a stop.',
  });
export const viewOwnCallOut = (row: Row, day: IsoDate, units: UnitSystem) => ({
  id: row['id'],
  calledAt: row['called_at'],
  backAt: row['back_at'],
  note: row['call_out_note'],
  workOrder: viewStopOrder(row, units, callOutHindrances(row, day)),
  site: viewStopSite(row, units),
});

/** @param withCost Money is for the office. */
export function totalsOf(routes: readonly Row[], withCost: boolean) {
  const sum = (column: string) => routes.reduce((total, route) => total + Number(route[column]), 0);
  return {
    routes: routes.length,
    stops: routes.reduce(
      (total, route) => total + (route['stops'] as Row[]).filter((stop) => stop['kind'] === 'visit').length,
      0,
    ),
    driveSeconds: sum('drive_s'),
    driveMetres: sum('drive_m'),
    workSeconds: sum('work_s'),
    waitSeconds: sum('wait_s'),
    overtimeSeconds: sum('overtime_s'),
    overtimeCostMinor: withCost ? sum('overtime_minor') : null,
  };
}

/** A crew was told of a day on which it drives nowhere any more. */
export const goneRoute = z
  .object({
    crewId: z.uuid(),
    crewName: z.string(),
    publishedAt: instant,
    changesSincePublished: z.array(routeChange),
  })
  .meta({ id: 'GoneRoute', description: 'A published route whose visits have all been taken off.' });
export const viewGone = (r: Row) => ({
  crewId: r['crew_id'],
  crewName: r['crew_name'],
  publishedAt: r['published_at'],
  changesSincePublished: changesSince(r),
});

function viewSupplies(r: Row, units: UnitSystem) {
  const { onBoard, warnings } = suppliesOf(r, units);
  return { onBoard: onBoard.map((thing) => viewOnBoard(thing, units)), warnings };
}

const viewAttempt = (attempt: Row | null) =>
  attempt && {
    ...attempt,
    startedAt: new Date(String(attempt['startedAt'])).toISOString(),
    endedAt: attempt['endedAt'] === null ? null : new Date(String(attempt['endedAt'])).toISOString(),
  };

/** @param withCost Money is for the office. */
export const viewRoute = (r: Row, units: UnitSystem, withCost: boolean) => ({
  id: r['id'],
  day: r['day'],
  onCall: r['on_call'],
  crewId: r['crew_id'],
  crewName: r['crew_name'],
  depotName: r['depot_name'],
  leavesAt: r['leaves_at'],
  returnsAt: r['returns_at'],
  driveSeconds: r['drive_s'],
  driveMetres: r['drive_m'],
  workSeconds: r['work_s'],
  waitSeconds: r['wait_s'],
  overtimeSeconds: r['overtime_s'],
  overtimeCostMinor: withCost ? r['overtime_minor'] : null,
  ...publicationOf(r),
  version: r['version'],
  ...viewSupplies(r, units),
  stops: (r['stops'] as Row[]).map((s) => ({
    id: s['id'],
    position: s['position'],
    kind: s['kind'],
    arrivesAt: s['arrives_at'],
    startsAt: s['starts_at'],
    endsAt: s['ends_at'],
    travelSeconds: s['travel_s'],
    travelMetres: s['travel_m'],
    locked: s['locked'],
    drivenTo: s['work_order_id'] === null ? null : s['live'],
    attempt: viewAttempt(s['attempt'] as Row | null),
    workOrder: s['work_order_id'] === null ? null : viewStopOrder(s, units, stopHindrances(r, s)),
    site: s['site_id'] === null ? null : viewStopSite(s, units),
    depot:
      s['depot_id'] === null
        ? null
        : {
            id: s['depot_id'],
            name: s['depot_name'],
            latitude: s['depot_latitude'],
            longitude: s['depot_longitude'],
          },
  })),
});
