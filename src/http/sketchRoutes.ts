import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import { Refused } from '../actions/problems.js';
import { systemSketchOf } from '../actions/systemSketchOf.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { CALLERS } from '../domain/words.js';
import { systemSketch } from '../papers/systemSketch.js';
import { unitsQuery } from './resource.js';
import { id, refusals } from './shapes.js';

/** A system as a sketch to find one's way on site. */
export function registerSketchRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/systems/:id/sketch.svg',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'drawSystem',
        summary:
          "A system as a sketch (SVG): lines, pit, outlets, access points; a technician: of the own routes' sites",
        tags: ['systems'],
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals(404) },
      },
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const { units } = request.query as { units?: UnitSystem };
      const record = { resource: 'system', id };
      const system = await house.stores.rows.get('system', id);
      if (!system) throw new Refused({ code: 'not-found', ...record });
      await maySee(house.stores, request.actor, String(system['site_id']), record);
      const sketch = await systemSketchOf(house.stores, system, units ?? house.units);
      return reply.type('image/svg+xml').serializer(String).send(systemSketch(sketch));
    },
  );
}
