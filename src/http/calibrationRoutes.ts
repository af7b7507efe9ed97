import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Role } from '../domain/words.js';
import { calibrationChart } from '../papers/calibrationChart.js';
import { csvLine } from './csvAnswer.js';
import { day, refusals } from './shapes.js';

const READERS: readonly Role[] = ['owner'];

const classScore = z.object({
  name: z.string().describe('readings known when the forecast was made').meta({ example: '3 to 5 readings' }),
  count: z.number().int().meta({ example: 214 }),
  expected: z.number().describe('mean chance forecast, 0 to 1').meta({ example: 0.11 }),
  observed: z.number().describe('share that came true, 0 to 1').meta({ example: 0.13 }),
  standardError: z.number().meta({ example: 0.021 }),
  verdict: z.enum(['within', 'more', 'fewer', 'too_few']),
});

const biasScore = z.object({
  name: z.string().meta({ example: 'outlet_look' }),
  count: z.number().int().meta({ example: 120 }),
  bias: z
    .number()
    .describe('mean of occlusion found over occlusion forecast, fractions of the bore')
    .meta({ example: -0.03 }),
  standardError: z.number().meta({ example: 0.012 }),
  verdict: z.enum(['within', 'higher', 'lower', 'too_few']),
});

const calibrationView = z
  .object({
    asOf: day.nullable().describe('the night that judged last; null before the first'),
    count: z.number().int().describe('forecasts judged'),
    off: z.boolean().describe('whether the model is off in some class, method or crew'),
    findings: z.array(
      z.object({
        code: z.string().meta({ example: 'class_more' }),
        facts: z.record(z.string(), z.unknown()),
        text: z.string().meta({ example: 'Lines with no reading: …; dates come out late.' }),
      }),
    ),
    classes: z.array(classScore),
    methods: z.array(biasScore),
    crews: z.array(biasScore),
  })
  .meta({
    id: 'Calibration',
    description:
      'Forecasts of past nights, as they were stored, against what the next visit found. A visit stops the clock: it is held against the chance for its own day; a plug that called for the visit is judged on the day the line was due.',
  });

const EVENT = 'past the action limit at the next visit';

export function registerCalibrationRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/trends/calibration',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'getCalibration',
        summary:
          'How past forecasts fared: by history class, bias by method and crew (Accept: text/csv: as CSV)',
        tags: ['trends'],
        response: { 200: calibrationView, ...refusals() },
      },
    },
    async (request, reply) => {
      const last = await house.stores.scores.lastReport();
      const view = {
        asOf: last?.asOf ?? null,
        ...(last?.report ?? { count: 0, off: false, findings: [], classes: [], methods: [], crews: [] }),
      };
      if (!(request.headers.accept ?? '').includes('text/csv')) return view;
      const lines = [
        ['of', 'name', 'count', 'expected', 'observed', 'bias', 'standardError', 'verdict'],
        ...view.classes.map((each) => [
          'class',
          each.name,
          each.count,
          each.expected,
          each.observed,
          null,
          each.standardError,
          each.verdict,
        ]),
        ...(['methods', 'crews'] as const).flatMap((of) =>
          view[of].map((each) => [
            of === 'methods' ? 'method' : 'crew',
            each.name,
            each.count,
            null,
            null,
            each.bias,
            each.standardError,
            each.verdict,
          ]),
        ),
      ];
      return reply.type('text/csv; charset=utf-8').serializer(String).send(lines.map(csvLine).join(''));
    },
  );

  app.get(
    '/v1/trends/calibration.svg',
    {
      config: { roles: READERS },
      schema: {
        operationId: 'drawCalibration',
        summary: 'The same by history class as a picture (SVG)',
        tags: ['trends'],
        response: { 200: z.string().describe('image/svg+xml'), ...refusals() },
      },
    },
    async (_request, reply) => {
      const last = await house.stores.scores.lastReport();
      const picture = calibrationChart({
        asOf: last?.asOf ?? house.zone.dayOf(house.clock.now()),
        event: EVENT,
        classes: (last?.report.classes ?? []).map(({ name, count, expected, observed }) => ({
          name,
          count,
          expected,
          observed: observed * count,
        })),
      });
      return reply.type('image/svg+xml').serializer(String).send(picture);
    },
  );
}
