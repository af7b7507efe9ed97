import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import { capacityFigure, pumpFigure } from '../actions/lineFigures.js';
import { maySee } from '../actions/maySee.js';
import type { Row } from '../actions/ports.js';
import { Refused } from '../actions/problems.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { CALLERS } from '../domain/words.js';
import { capacityChart } from '../papers/capacityChart.js';
import { pumpChart } from '../papers/pumpChart.js';
import { unitsQuery } from './resource.js';
import { id, refusals } from './shapes.js';

/** What a line on the books still carries, and what its pump makes of it, as pictures. */
export function registerLineFigureRoutes(app: FastifyInstance, house: House): void {
  const today = () => house.zone.dayOf(house.clock.now());
  const unitsOf = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;
  const common = {
    params: z.strictObject({ id }),
    querystring: unitsQuery,
    response: { 200: z.string().describe('image/svg+xml'), ...refusals(404, 422) },
  };
  const send = (reply: FastifyReply, svg: string) => reply.type('image/svg+xml').serializer(String).send(svg);

  async function thing(request: FastifyRequest, table: 'line' | 'pit'): Promise<Row> {
    const asked = (request.params as { id: string }).id;
    const row = await house.stores.rows.get(table, asked);
    if (!row) throw new Refused({ code: 'not-found', resource: table, id: asked });
    await maySee(house.stores, request.actor, String(row['site_id']), { resource: table, id: asked });
    return row;
  }

  app.get(
    '/v1/lines/:id/capacity.svg',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'drawLineCapacity',
        summary: 'Capacity left in a line against the depth of deposit, with what is believed now (SVG)',
        tags: ['lines'],
        ...common,
      },
    },
    async (request, reply) => {
      const line = await thing(request, 'line');
      return send(reply, capacityChart(await capacityFigure(house.stores, line, today(), unitsOf(request))));
    },
  );

  app.get(
    '/v1/pits/:id/pump.svg',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'drawPitPump',
        summary: "The curve of a pit's pump against its discharge, clean and as it is believed fouled (SVG)",
        tags: ['pits'],
        ...common,
      },
    },
    async (request, reply) => {
      const pit = await thing(request, 'pit');
      return send(reply, pumpChart(await pumpFigure(house.stores, pit, today(), unitsOf(request))));
    },
  );
}
