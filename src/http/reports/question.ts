import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../../actions/house.js';
import { refuseUnknownValues } from '../../actions/reports/filterValues.js';
import type { LinesAsked } from '../../actions/reports/lineFilter.js';
import type { Role } from '../../domain/words.js';
import { wantsCsv } from '../accepts.js';
import { csvLine } from '../csvAnswer.js';
import { day, refusals } from '../shapes.js';
import { filterOf, reportQuery } from './lineFilterQuery.js';

/** One question over the base: what it asks beside the common filter, what it answers, and its picture. */
export interface Question {
  /** Under /v1/reports. */
  path: string;
  /** A second address of the same answer, and the name of its operations. */
  alsoAt?: { url: string; component: string };
  /** Of the answer in the document; `get…` and `draw…` are its operations. */
  component: string;
  summary: string;
  about: string;
  roles: readonly Role[];
  answer: z.ZodObject;
  own: z.ZodRawShape;
  /** One row of the answer's items, which the CSV is made of. */
  item: z.ZodObject;
  ask(house: House, asked: LinesAsked, own: Record<string, unknown>): Promise<Record<string, unknown>>;
  draw(house: House, answer: never): string;
}

/** Everything about a question that its types follow from. */
interface Asking<Own extends z.ZodRawShape, Facts extends z.ZodRawShape, Item extends z.ZodObject> {
  path: string;
  alsoAt?: { url: string; component: string };
  component: string;
  summary: string;
  about: string;
  roles: readonly Role[];
  /** Fields of the query beside the common filter. */
  own: Own;
  /** What is answered beside `asOf`, `lines` and `items`. */
  facts: Facts;
  item: Item;
  /** @returns The facts and items, and the number of lines behind them. */
  ask(house: House, asked: LinesAsked, own: z.infer<z.ZodObject<Own>>): Promise<Answer<Facts, Item>>;
  draw(house: House, answer: { asOf: string } & Answer<Facts, Item>): string;
}

type Answer<Facts extends z.ZodRawShape, Item extends z.ZodObject> = {
  lines: number;
  items: z.infer<Item>[];
} & { [Name in keyof Facts]: z.infer<Facts[Name]> };

/** A question with its types checked against its shapes. */
export function question<Own extends z.ZodRawShape, Facts extends z.ZodRawShape, Item extends z.ZodObject>(
  asking: Asking<Own, Facts, Item>,
): Question {
  const answer = z
    .object({
      asOf: day,
      lines: z.number().int().describe('lines asked for that stand behind it'),
      ...asking.facts,
      items: z.array(asking.item),
    })
    .meta({ id: asking.component, description: asking.about });
  return { ...asking, answer } as unknown as Question;
}

export function registerQuestion(app: FastifyInstance, house: House, asked: Question): void {
  const own = { url: `/v1/reports/${asked.path}`, component: asked.component };
  for (const address of asked.alsoAt ? [own, asked.alsoAt] : [own]) registerAt(app, house, asked, address);
}

/** JSON, CSV by `Accept: text/csv`, and the picture beside it. */
function registerAt(
  app: FastifyInstance,
  house: House,
  asked: Question,
  { url, component }: { url: string; component: string },
): void {
  const querystring = reportQuery(asked.own);
  const ask = async (request: FastifyRequest) => {
    const query = request.query as Record<string, unknown>;
    const today = house.zone.dayOf(house.clock.now());
    const filter = filterOf(query);
    await refuseUnknownValues(house.stores, filter);
    return { asOf: today, ...(await asked.ask(house, { filter, today }, query)) };
  };

  app.get(
    url,
    {
      config: { roles: asked.roles },
      schema: {
        operationId: `get${component}`,
        summary: `${asked.summary} (Accept: text/csv: as CSV)`,
        tags: ['reports'],
        querystring,
        response: { 200: asked.answer, ...refusals(422) },
      },
    },
    async (request, reply: FastifyReply) => {
      const answer = await ask(request);
      if (!wantsCsv(request)) return answer;
      const columns = Object.keys(asked.item.shape);
      const items = (answer as unknown as { items: Record<string, unknown>[] }).items;
      const lines = [columns, ...items.map((item) => columns.map((column) => item[column]))];
      return reply.type('text/csv; charset=utf-8').serializer(String).send(lines.map(csvLine).join(''));
    },
  );

  app.get(
    `${url}.svg`,
    {
      config: { roles: asked.roles },
      schema: {
        operationId: `draw${component}`,
        summary: 'The same as a picture (SVG)',
        tags: ['reports'],
        querystring,
        response: { 200: z.string().describe('image/svg+xml'), ...refusals(422) },
      },
    },
    async (request, reply: FastifyReply) =>
      reply
        .type('image/svg+xml')
        .serializer(String)
        .send(asked.draw(house, (await ask(request)) as never)),
  );
}
