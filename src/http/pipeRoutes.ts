import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { changePipe, type PipeChange, resetPipe } from '../actions/changePipes.js';
import { type HeldPipe, pipesInForce } from '../actions/heldPipes.js';
import type { House } from '../actions/house.js';
import { PIPE_PRODUCTS, type PipeProduct } from '../domain/hydraulics/pipes.js';
import { fromStored, type Quantity, toStored, type UnitSystem } from '../domain/units/quantity.js';
import { CALLERS, MATERIALS } from '../domain/words.js';
import { measured, quantitySchema } from './fields.js';
import { unitsQuery } from './resource.js';
import { oneLine, refusals, text } from './shapes.js';
import { versionAsked, write } from './writes.js';

const manningN = z.number().min(0.005).max(0.1);
const hazenWilliamsC = z.number().min(40).max(160);

const view = z
  .object({
    product: z.enum(PIPE_PRODUCTS),
    material: z.enum(MATERIALS),
    sizes: z.array(
      z.object({
        nominal: z.string().describe('inches, as the trade writes them'),
        bore: quantitySchema('bore'),
        changed: z.boolean().describe('the number is the owner’s'),
      }),
    ),
    manningN: z.number(),
    hazenWilliamsC: z.number().nullable().describe('null: never under pressure'),
    source: z.string(),
    changedBy: z.string().nullable(),
    version: z.number().int().describe('0: the usual numbers'),
  })
  .meta({
    id: 'PipeProductData',
    description: 'Actual bores and roughness of a pipe product, with their source.',
  });

const changed = view
  .extend({ readingsChanged: z.number().int().describe('readings whose occlusion is another now') })
  .meta({ id: 'ChangedPipeProduct' });

const patch = z
  .strictObject({
    bores: z
      .record(oneLine(10), measured('bore').nullable())
      .optional()
      .describe('by nominal size; null: the usual bore again'),
    manningN: manningN.nullable().optional(),
    hazenWilliamsC: hazenWilliamsC.nullable().optional(),
    source: text(300).describe('where the numbers are from: a standard, a maker, a measurement'),
  })
  .meta({
    id: 'PipeProductPatch',
    example: { bores: { '4': { value: 3.95, unit: 'in' } }, source: 'measured on ten cut ends' },
  });

const byProduct = z.strictObject({ product: z.enum(PIPE_PRODUCTS) });

const viewPipe = (pipe: HeldPipe, units: UnitSystem) => ({
  product: pipe.product,
  material: pipe.material,
  sizes: Object.entries(pipe.boreMm).map(([nominal, boreMm]) => ({
    nominal,
    bore: fromStored(boreMm, 'bore', units),
    changed: pipe.changedSizes.includes(nominal),
  })),
  manningN: pipe.n,
  hazenWilliamsC: pipe.c,
  source: pipe.source,
  changedBy: pipe.changedBy,
  version: pipe.version,
});

function changeOf(body: z.infer<typeof patch>): PipeChange {
  const bores = Object.entries(body.bores ?? {}).map(([nominal, bore]) => [
    nominal,
    bore === null ? null : toStored(bore as Quantity, 'bore'),
  ]);
  return {
    boreMm: Object.fromEntries(bores) as Record<string, number | null>,
    ...(body.manningN === undefined ? {} : { n: body.manningN }),
    ...(body.hazenWilliamsC === undefined ? {} : { c: body.hazenWilliamsC }),
    source: body.source,
  };
}

/** Pipe products: bore by nominal size, roughness and source; the owner changes them and puts them back. */
export function registerPipeRoutes(app: FastifyInstance, house: House): void {
  const unitsOf = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;
  const tags = ['pipes'];

  app.get(
    '/v1/pipes',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listPipes',
        summary:
          'Pipe products with bore by nominal size, roughness and source, as the service reckons with them',
        tags,
        querystring: unitsQuery,
        response: { 200: z.object({ items: z.array(view) }).meta({ id: 'PipeProductList' }), ...refusals() },
      },
    },
    async (request) => ({
      items: (await pipesInForce(house.stores)).map((pipe) => viewPipe(pipe, unitsOf(request))),
    }),
  );

  app.patch(
    '/v1/pipes/:product',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'changePipe',
        summary: 'Other bores or roughness of a product (If-Match: its version); readings are derived again',
        tags,
        params: byProduct,
        querystring: unitsQuery,
        body: patch,
        response: { 200: changed, ...refusals(412, 415, 422, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { product } = request.params as { product: PipeProduct };
        const change = changeOf(request.body as z.infer<typeof patch>);
        const { pipe, readingsChanged } = await changePipe(
          stores,
          request.actor,
          product,
          change,
          (version) => versionAsked(request, 'pipe_product', product, version),
        );
        return {
          status: 200,
          body: { ...viewPipe(pipe, unitsOf(request)), readingsChanged },
          headers: { etag: `"${pipe.version}"` },
        };
      }),
  );

  app.delete(
    '/v1/pipes/:product',
    {
      config: { roles: ['owner'] },
      schema: {
        operationId: 'resetPipe',
        summary: 'The usual numbers of a product again (If-Match: its version)',
        tags,
        params: byProduct,
        querystring: unitsQuery,
        response: { 200: changed, ...refusals(412, 428) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { product } = request.params as { product: PipeProduct };
        const { pipe, readingsChanged } = await resetPipe(stores, product, (version) =>
          versionAsked(request, 'pipe_product', product, version),
        );
        return {
          status: 200,
          body: { ...viewPipe(pipe, unitsOf(request)), readingsChanged },
          headers: { etag: `"${pipe.version}"` },
        };
      }),
  );
}
