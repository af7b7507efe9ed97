import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { clientSummaryOf } from '../actions/papers/clientSummaryOf.js';
import { dischargeLogOf } from '../actions/papers/dischargeLogOf.js';
import { routeSheetOf } from '../actions/papers/routeSheetOf.js';
import { visitReportOf } from '../actions/papers/visitReportOf.js';
import { ruleBroken } from '../actions/problems.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { CALLERS, type Role } from '../domain/words.js';
import { clientSummary } from '../papers/clientSummary.js';
import { dischargeLog } from '../papers/dischargeLog.js';
import { routeSheet } from '../papers/routeSheet.js';
import { visitReport } from '../papers/visitReport.js';
import { paperView, sendPaper } from './paperAnswer.js';
import { unitsQuery } from './resource.js';
import { routeAsked } from './routeRoutes.js';
import { day, id, queryNumber, refusals } from './shapes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const byId = z.strictObject({ id });

/** What leaves the house on paper, each as HTML to print and as PDF. */
export function registerPaperRoutes(app: FastifyInstance, house: House): void {
  const unitsOf = (request: FastifyRequest): UnitSystem =>
    (request.query as { units?: UnitSystem }).units ?? house.units;

  app.get(
    '/v1/routes/:id/sheet',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'printRouteSheet',
        summary:
          "A crew's day on paper: stops, times, tasks in order, access, cautions, a sketch map; a technician: the own crew's",
        tags: ['papers'],
        params: byId,
        querystring: unitsQuery,
        response: { 200: paperView, ...refusals(404) },
      },
    },
    async (request, reply) => {
      const route = await routeAsked(house, request);
      return sendPaper(
        request,
        reply,
        routeSheet(await routeSheetOf(house, route, unitsOf(request))),
        house.printer,
      );
    },
  );

  app.get(
    '/v1/work-orders/:id/report',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'printVisitReport',
        summary:
          'A visit for the client: what was found and done, before and after, where the water went, when we come back and why',
        description:
          'Of an order that was tried at least once, as it stood when the visit ended; what is known since bears the day of printing. Photographs are those marked for the client.',
        tags: ['papers'],
        params: byId,
        querystring: unitsQuery,
        response: { 200: paperView, ...refusals(404, 422) },
      },
    },
    async (request, reply) => {
      const { id } = request.params as z.infer<typeof byId>;
      return sendPaper(
        request,
        reply,
        visitReport(await visitReportOf(house, id, unitsOf(request))),
        house.printer,
      );
    },
  );

  app.get(
    '/v1/clients/:id/summary',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'printClientSummary',
        summary:
          "A client's year on paper: visits, what each line did, water, what was declined, what comes next",
        tags: ['papers'],
        params: byId,
        querystring: unitsQuery.extend({ year: queryNumber(z.number().int().min(1990).max(2199)) }),
        response: { 200: paperView, ...refusals(404, 422) },
      },
    },
    async (request, reply) => {
      const { id } = request.params as z.infer<typeof byId>;
      const { year } = request.query as { year: number };
      const thisYear = Number(house.zone.dayOf(house.clock.now()).slice(0, 4));
      if (year > thisYear)
        throw ruleBroken('period', '#/year', `${year} has not begun`, `a year up to ${thisYear}`);
      return sendPaper(
        request,
        reply,
        clientSummary(await clientSummaryOf(house, id, year, unitsOf(request))),
        house.printer,
      );
    },
  );

  const period = unitsQuery
    .extend({ from: day, to: day })
    .refine(({ from, to }) => from <= to, { path: ['to'], error: 'lies before `from`' });
  app.get(
    '/v1/discharge-log',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'printDischargeLog',
        summary:
          'The water log of a period on paper, for the authority; as JSON and CSV: GET /v1/water-records',
        description:
          'Amounts are estimates by hand. What the authority asks and nobody wrote down is printed as MISSING and counted; business, address and licence are settings (papers).',
        tags: ['papers'],
        querystring: period,
        response: { 200: paperView, ...refusals() },
      },
    },
    async (request, reply) => {
      const { from, to } = request.query as z.infer<typeof period>;
      return sendPaper(
        request,
        reply,
        dischargeLog(await dischargeLogOf(house, from, to, unitsOf(request))),
        house.printer,
      );
    },
  );
}
