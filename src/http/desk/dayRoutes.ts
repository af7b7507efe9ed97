import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import { offerDays } from '../../actions/desk/cheapestDays.js';
import { type ClosedRoute, type ClosingAsk, closeDay, closeRoute } from '../../actions/desk/closeRoute.js';
import { dayBooks } from '../../actions/desk/dayBook.js';
import { hinderedVisits } from '../../actions/desk/hinderedVisits.js';
import { promisesOf } from '../../actions/desk/promisesOf.js';
import { publishDay, publishRoute } from '../../actions/desk/publishing.js';
import { stillOpen } from '../../actions/desk/stillOpen.js';
import { toAgree } from '../../actions/desk/toAgree.js';
import { unplacedWork } from '../../actions/desk/unplacedWork.js';
import type { House } from '../../actions/house.js';
import type { TravelTable } from '../../actions/plans/planTools.js';
import type { Row } from '../../actions/ports.js';
import { Refused } from '../../actions/problems.js';
import { addDays } from '../../domain/calendar/isoDate.js';
import { CALLERS, type Role } from '../../domain/words.js';
import { routeChange } from '../routeShapes.js';
import { day, id, instant, queryNumber, refusals } from '../shapes.js';
import { write } from '../writes.js';
import {
  agreeView,
  closedView,
  closingBody,
  dayBook,
  dayPromise,
  offeredDays,
  stillOpenView,
  unplacedView,
  viewPromise,
  viewToAgree,
} from './dayShapes.js';
import { hinderedVisit } from './hinderedShapes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const WEEK_DAYS = 7;
const byId = z.strictObject({ id });
const byDay = z.strictObject({ day });

const toldView = z
  .object({
    routeId: z.uuid().nullable(),
    crewId: z.uuid(),
    day,
    publishedAt: instant,
    publishedBy: z.string(),
    times: z.number().int().describe('how often the crew was told this day'),
  })
  .meta({ id: 'Publication', description: 'A crew was told its day as it stood then.' });

const hinderedOfDay = z
  .array(hinderedVisit)
  .describe('told to crews although it cannot be done as planned: plan anew, move it, or phone');

const historyView = z
  .object({
    items: z.array(
      z.object({
        id: z.uuid(),
        madeAt: instant,
        madeBy: z.string(),
        because: z.string(),
        changes: z.array(routeChange),
      }),
    ),
  })
  .meta({ id: 'RouteChanges', description: 'What changed on a published route, the latest first.' });

/** The dispatcher's day and week: what each crew has before it, telling crews, telling clients, closing. */
export function registerDayRoutes(app: FastifyInstance, house: House, travel: TravelTable): void {
  registerBooks(app, house, travel);
  registerDaysForClients(app, house, travel);
  registerPublishing(app, house);
  registerClosing(app, house);
}

function registerBooks(app: FastifyInstance, house: House, travel: TravelTable): void {
  app.get(
    '/v1/days',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listDays',
        summary: 'A week per crew: routes with totals, absences, kit out of service, who is short',
        tags: ['days'],
        querystring: z.strictObject({
          from: day.optional().describe('absent: today'),
          days: queryNumber(z.number().int().min(1).max(31)).default(WEEK_DAYS),
          crewId: id.optional(),
        }),
        response: { 200: z.object({ items: z.array(dayBook) }).meta({ id: 'DayBooks' }), ...refusals() },
      },
    },
    async (request) => {
      const asked = request.query as { from?: string; days: number; crewId?: string };
      const from = asked.from ?? house.zone.dayOf(house.clock.now());
      return {
        items: await dayBooks(house, house.stores, from, addDays(from, asked.days - 1), asked.crewId ?? null),
      };
    },
  );

  app.get(
    '/v1/days/:day',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'getDay',
        summary: 'One day per crew with its promises to clients, and the visits still to be agreed with them',
        tags: ['days'],
        params: byDay,
        response: {
          200: dayBook
            .extend({ promises: z.array(dayPromise), toAgree: z.array(agreeView), ...stillOpenView })
            .meta({ id: 'DayBookWithPromises' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const { day: on } = request.params as { day: string };
      const [book] = await dayBooks(house, house.stores, on, on, null);
      const promises = await promisesOf(house, house.stores, on, on);
      const agree = await toAgree(house.stores, on, on);
      const open = await stillOpen(house, house.stores, on);
      return {
        ...book,
        promises: promises.map(viewPromise),
        toAgree: agree.map(viewToAgree),
        onPhones: open.onPhones,
        callsOpen: open.calls,
      };
    },
  );

  app.get(
    '/v1/unplaced-work',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listUnplacedWork',
        summary: 'Work no crew drives to, most urgent first: why, what it waits for, what to do about it',
        tags: ['days'],
        querystring: z.strictObject({
          waiting: z
            .stringbool()
            .optional()
            .describe('true: only what waits for something; false: only what could be placed'),
        }),
        response: {
          200: z.object({ items: z.array(unplacedView) }).meta({ id: 'UnplacedWorkList' }),
          ...refusals(),
        },
      },
    },
    async (request) => {
      const { waiting } = request.query as { waiting?: boolean };
      const items = await unplacedWork(house, house.stores, travel);
      return {
        items: items.filter(({ waitsFor }) => waiting === undefined || waitsFor.length > 0 === waiting),
      };
    },
  );
}

function registerDaysForClients(app: FastifyInstance, house: House, travel: TravelTable): void {
  app.get(
    '/v1/work-orders/:id/days',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'offerDays',
        summary:
          'For a client on the phone: the next working days, cheapest place and hours of each, what each costs',
        tags: ['days'],
        params: byId,
        querystring: z.strictObject({
          workingDays: queryNumber(z.number().int().min(1).max(10)).default(5),
        }),
        response: { 200: offeredDays, ...refusals(404, 409) },
      },
    },
    async (request) =>
      offerDays(
        house,
        house.stores,
        travel,
        (request.params as { id: string }).id,
        (request.query as { workingDays: number }).workingDays,
      ),
  );
}

const viewTold = (row: Row, routeId: string | null) => ({
  routeId,
  crewId: row['crew_id'],
  day: row['day'],
  publishedAt: row['published_at'],
  publishedBy: row['published_by'],
  times: row['times'],
});

function registerPublishing(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/routes/:id/publication',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'publishRoute',
        summary: 'Tell a crew its day as it stands now; what changes later is shown as changes',
        tags: ['routes'],
        params: byId,
        response: {
          200: toldView.extend({ hinderedVisits: hinderedOfDay }).meta({ id: 'PublicationWithHindered' }),
          ...refusals(404, 409, 422),
        },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: routeId } = request.params as { id: string };
        const told = await publishRoute(house, stores, request.actor.name, routeId);
        const on = String(told['day']);
        const hindered = (await hinderedVisits(house, stores, on, on)).filter(
          (visit) => visit.routeId === routeId,
        );
        return { status: 200, body: { ...viewTold(told, routeId), hinderedVisits: hindered } };
      }),
  );

  app.post(
    '/v1/days/:day/publication',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'publishDay',
        summary: 'Tell all crews their day that have not been told',
        tags: ['days'],
        params: byDay,
        response: {
          200: z
            .object({ published: z.number().int(), hinderedVisits: hinderedOfDay })
            .meta({ id: 'PublishedDay' }),
          ...refusals(409, 422),
        },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { day: on } = request.params as { day: string };
        const published = await publishDay(house, stores, request.actor.name, on);
        const hindered = await hinderedVisits(house, stores, on, on);
        return { status: 200, body: { published, hinderedVisits: hindered } };
      }),
  );

  app.get(
    '/v1/routes/:id/changes',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listRouteChanges',
        summary: "What changed on a crew's day since it was first told; a technician: the own crew's",
        tags: ['routes'],
        params: byId,
        response: { 200: historyView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id: routeId } = request.params as { id: string };
      const { rows } = house.stores;
      const { actor } = request;
      const route = await rows.get('route', routeId);
      const inOffice = actor.roles.some((role) => role !== 'technician');
      const own =
        route !== null && !inOffice && actor.memberId !== null
          ? await house.stores.work.crewOf(actor.memberId, String(route['day']))
          : null;
      if (!route || route['state'] === 'proposed' || !(inOffice || own === route['crew_id']))
        throw new Refused({ code: 'not-found', resource: 'route', id: routeId });
      const [publication] = await rows.all('route_publication', [
        { column: 'crew_id', is: '=', value: route['crew_id'] },
        { column: 'day', is: '=', value: route['day'] },
        { column: 'on_call', is: '=', value: route['on_call'] },
      ]);
      const changes = publication
        ? await rows.all(
            'route_change',
            [{ column: 'publication_id', is: '=', value: publication['id'] }],
            'made_at',
          )
        : [];
      return {
        items: changes.reverse().map((row) => ({
          id: row['id'],
          madeAt: row['made_at'],
          madeBy: row['made_by'],
          because: row['because'],
          changes: row['changes'],
        })),
      };
    },
  );
}

const askOf = (body: z.infer<typeof closingBody>): ClosingAsk => ({
  notDone: (body.notDone ?? []).map(({ workOrderId, reason, note }) => ({
    workOrderId,
    reason,
    note: note ?? null,
  })),
  restBecause: body.restBecause ?? 'out_of_time',
  leaveRunning: body.leaveRunning === true,
});

const viewClosed = ({ route, done, running, notDone, toPhone, onPhones }: ClosedRoute) => ({
  routeId: route['id'],
  crewId: route['crew_id'],
  day: route['day'],
  closedAt: route['closed_at'],
  closedBy: route['closed_by'],
  done,
  running,
  notDone,
  toPhone,
  onPhones,
});

function registerClosing(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/routes/:id/closing',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'closeRoute',
        summary: "Close a crew's day: what was not done, why, and what happens to it",
        description:
          'Each visit that was not begun goes back to wanted with its reason, its next step and a day before which it is not tried again; a promise of the day that is broken is listed to phone. With a visit under way it is refused, unless leaveRunning.',
        tags: ['routes'],
        params: byId,
        body: closingBody,
        response: {
          200: closedView.extend({ callsOpen: stillOpenView.callsOpen }).meta({ id: 'ClosedRouteWithCalls' }),
          ...refusals(404, 409, 415, 422),
        },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id: routeId } = request.params as { id: string };
        const ask = askOf(request.body as z.infer<typeof closingBody>);
        const closed = await closeRoute(house, stores, request.actor, routeId, ask);
        const { calls } = await stillOpen(house, stores, String(closed.route['day']));
        return { status: 200, body: { ...viewClosed(closed), callsOpen: calls } };
      }),
  );

  app.post(
    '/v1/days/:day/closing',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'closeDay',
        summary: 'Close the day of all crews, all or none',
        tags: ['days'],
        params: byDay,
        body: closingBody,
        response: {
          200: z.object({ items: z.array(closedView), ...stillOpenView }).meta({ id: 'ClosedDay' }),
          ...refusals(404, 409, 415, 422),
        },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { day: on } = request.params as { day: string };
        const ask = askOf(request.body as z.infer<typeof closingBody>);
        const closed = await closeDay(house, stores, request.actor, on, ask);
        const { onPhones, calls } = await stillOpen(house, stores, on);
        return { status: 200, body: { items: closed.map(viewClosed), onPhones, callsOpen: calls } };
      }),
  );
}
