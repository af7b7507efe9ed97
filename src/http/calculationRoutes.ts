import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { heldPipes } from '../actions/heldPipes.js';
import type { House } from '../actions/house.js';
import { ownerSettings } from '../actions/ownerSettings.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { CALLERS } from '../domain/words.js';
import type { Calculation } from './calculations/calculation.js';
import { gravityFlow } from './calculations/gravityFlow.js';
import { jetting } from './calculations/jetting.js';
import { occlusion } from './calculations/occlusion.js';
import { pitOverflow } from './calculations/pitOverflow.js';
import { pumpedDischarge } from './calculations/pumpedDischarge.js';
import { siteMinutes } from './calculations/siteMinutes.js';
import { unitsQuery } from './resource.js';
import { refusals } from './shapes.js';

const CALCULATIONS: readonly Calculation[] = [
  occlusion,
  gravityFlow,
  pumpedDischarge,
  jetting,
  pitOverflow,
  siteMinutes,
];

/** Questions an app on site asks: nothing is kept, the same rules answer as in the night. */
export function registerCalculationRoutes(app: FastifyInstance, house: House): void {
  const unitsOf = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;
  for (const { path, operationId, summary, body, answer, ruled, compute, figure } of CALCULATIONS) {
    const refused = refusals(415, ...(ruled ? [422] : []));
    const common = { tags: ['calculations'], body, querystring: unitsQuery };
    app.post(
      `/v1/calculations/${path}`,
      {
        config: { roles: CALLERS },
        schema: { ...common, operationId, summary, response: { 200: answer, ...refused } },
      },
      async (request) =>
        compute(
          request.body as never,
          unitsOf(request),
          await heldPipes(house.stores),
          await ownerSettings(house.stores),
        ),
    );
    if (!figure) continue;
    app.post(
      `/v1/calculations/${path}/figure.svg`,
      {
        config: { roles: CALLERS },
        schema: {
          ...common,
          operationId: figure.operationId,
          summary: figure.summary,
          response: { 200: z.string().describe('image/svg+xml'), ...refused },
        },
      },
      async (request, reply: FastifyReply) =>
        reply
          .type('image/svg+xml')
          .serializer(String)
          .send(figure.draw(request.body as never, unitsOf(request), await heldPipes(house.stores))),
    );
  }
}
