import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { costRisk } from '../actions/costRisk.js';
import type { House } from '../actions/house.js';
import type { Condition } from '../actions/ports.js';
import { LINE_KINDS, MATERIALS, type Role } from '../domain/words.js';
import { costRiskChart } from '../papers/costRiskChart.js';
import { currencyOf } from '../papers/money.js';
import { csvLine } from './csvAnswer.js';
import { snake } from './resource.js';
import { day, id, refusals, share, text } from './shapes.js';

const READERS: readonly Role[] = ['owner'];

const query = z.strictObject({
  kind: z.enum(LINE_KINDS).optional(),
  material: z.enum(MATERIALS).optional(),
  area: text(120).optional(),
  siteId: id.optional(),
});

const point = z.object({
  rule: z
    .enum(['yearly_risk', 'cost_least'])
    .describe(
      'yearly_risk: each line up to that chance of plugging; cost_least: each at its cheapest interval',
    ),
  risk: share.nullable().describe('yearly chance of passing the plug limit; null for the cost-least rule'),
  medianIntervalDays: z.number().meta({ example: 210 }),
  visitsPerLineYear: z.number().meta({ example: 1.8 }),
  plugsPerLineYear: z.number().meta({ example: 0.012 }),
  costPerLineYear: z.number().int().describe('minor units of money').meta({ example: 61_000 }),
});

const costRiskView = z
  .object({
    asOf: day.nullable().describe('day of the fit it rests on; null before the first night'),
    currency: z.string().meta({ example: 'USD' }),
    lines: z.number().int().describe('lines asked for'),
    linesCounted: z.number().int().describe('reckoned with: of many lines a sample, always the same one'),
    points: z.array(point),
  })
  .meta({
    id: 'CostRisk',
    description:
      'What serving the lines for ever by one rule would take, by what is believed of each today. First intervals, care terms and closed seasons are left out; what later visits will teach is too.',
  });

export function registerCostRiskRoutes(app: FastifyInstance, house: House): void {
  const asked = (request: FastifyRequest) => {
    const filters = request.query as z.infer<typeof query>;
    const where = Object.entries(filters).map(
      ([name, value]): Condition => ({ column: snake(name), is: '=', value }),
    );
    return costRisk(house, where);
  };

  app.get(
    '/v1/trends/cost-against-risk',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'getCostAgainstRisk',
        summary:
          'Cost against risk: visits, plugs and money a line and year by each rule (Accept: text/csv: as CSV)',
        tags: ['trends'],
        querystring: query,
        response: { 200: costRiskView, ...refusals() },
      },
    },
    async (request, reply: FastifyReply) => {
      const curve = await asked(request);
      if (!(request.headers.accept ?? '').includes('text/csv')) {
        return { ...curve, currency: house.currency };
      }
      const columns = Object.keys(point.shape) as (keyof typeof point.shape)[];
      const lines = curve.points.map((each) => csvLine(columns.map((column) => each[column])));
      return reply
        .type('text/csv; charset=utf-8')
        .serializer(String)
        .send([csvLine(columns), ...lines].join(''));
    },
  );

  app.get(
    '/v1/trends/cost-against-risk.svg',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'drawCostAgainstRisk',
        summary: 'The same as a picture (SVG)',
        tags: ['trends'],
        querystring: query,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals() },
      },
    },
    async (request, reply: FastifyReply) => {
      const { linesCounted, points } = await asked(request);
      const picture = costRiskChart({
        currency: currencyOf(house.currency),
        lineCount: linesCounted,
        points,
      });
      return reply.type('image/svg+xml').serializer(String).send(picture);
    },
  );
}
