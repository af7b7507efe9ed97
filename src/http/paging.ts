import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Condition, PageAsk, Row } from '../actions/ports.js';
import { wantsCsv } from './accepts.js';
import { type CsvColumns, cellAt, cellPaths, csvOfPages } from './csvAnswer.js';
import { badCursor, sealed } from './cursorSeal.js';
import { queryNumber, text } from './shapes.js';

export type ListQuery = Record<string, unknown> & {
  limit: number;
  cursor?: string;
  sort?: string;
  q?: string;
  near?: string;
  units?: 'metric' | 'us';
};

/** The query of a list: `limit`, `cursor`, `sort` (a minus turns it round), filters, `q`, `near`. */
export function listQuery(options: {
  filters: Record<string, z.ZodType>;
  sorts: readonly string[];
  search?: boolean;
  near?: boolean;
}): z.ZodObject {
  const sorts = options.sorts.flatMap((name) => [name, `-${name}`]) as [string, ...string[]];
  return z.strictObject({
    limit: queryNumber(z.number().int().min(1).max(200)).default(50),
    cursor: z.string().max(2000).optional(),
    sort: z.enum(sorts).optional(),
    units: z.enum(['metric', 'us']).optional(),
    archived: z.stringbool().optional().describe('true: archived ones too'),
    ...(options.search ? { q: text(200).optional().describe('words that must all occur') } : {}),
    ...(options.near
      ? {
          near: z
            .string()
            .regex(/^-?\d{1,2}(\.\d+)?,-?\d{1,3}(\.\d+)?$/, 'is not latitude,longitude')
            .optional()
            .describe('latitude,longitude: nearest first'),
        }
      : {}),
    ...options.filters,
  });
}

export function pageAnswer(item: z.ZodType, name: string): z.ZodType {
  return z
    .object({ items: z.array(item), next: z.string().nullable() })
    .meta({ id: name, description: 'One page; `next` is the cursor of the next one, null at the end.' });
}

interface Ask extends PageAsk {
  answer(
    reply: FastifyReply,
    request: FastifyRequest,
    rows: Row[],
    view: (row: Row) => unknown,
    /** How the page is wrapped; absent: as it is. */
    whole?: (page: { items: unknown[]; next: string | null }) => unknown,
  ): FastifyReply;
}

export function pageAskOf(
  asked: ListQuery,
  where: Condition[],
  names: {
    /** Of the list, as `sites`: a cursor leads on in its own list only. */
    list: string;
    columnOf: (field: string) => string;
    searchColumns: readonly string[];
    defaultSort?: string;
  },
): Ask {
  const sort = asked.sort ?? names.defaultSort ?? 'createdAt';
  const descending = sort.startsWith('-');
  const column = names.columnOf(descending ? sort.slice(1) : sort);
  const { limit, cursor, units: _units, ...rest } = asked;
  const of = JSON.stringify([names.list, rest]);
  const after = cursor === undefined ? undefined : readPlace(cursor, of);
  const point = asked.near?.split(',').map(Number);
  const near = point ? { latitude: point[0] ?? 0, longitude: point[1] ?? 0 } : undefined;
  return {
    where,
    ...(asked.q ? { search: { columns: [...names.searchColumns], text: asked.q } } : {}),
    ...(near ? { near } : {}),
    sort: { column, descending },
    ...(after ? { after } : {}),
    limit,
    answer(reply, request, rows, view, whole = (page) => page) {
      const page = rows.slice(0, limit);
      const last = page.at(-1);
      const value = last?.[near ? 'distance_km' : column] ?? null;
      const place = JSON.stringify([value, last?.['id'], listMark(of)]);
      const next = rows.length > limit ? sealed(request, place) : null;
      if (next) {
        const url = new URL(request.url, 'http://localhost');
        url.searchParams.set('cursor', next);
        reply.header('link', `<${url.pathname}${url.search}>; rel="next"`);
      }
      return reply.send(whole({ items: page.map(view), next }));
    },
  };
}

/** What a list is made of: its table or view, and how rows are answered. */
interface ListOf {
  table: string;
  /** Schema of an item, which the columns of the CSV follow from. */
  item: z.ZodType;
  views(rows: Row[]): readonly unknown[] | Promise<readonly unknown[]>;
  /** Columns where they are not those of the item: of a CSV that comes back in. */
  csv?: CsvColumns;
}

/** A page as JSON, or the whole filtered list as CSV where `Accept` would rather have that. */
export async function answerList(
  house: House,
  request: FastifyRequest,
  reply: FastifyReply,
  ask: Ask,
  { table, item, views, csv }: ListOf,
): Promise<FastifyReply> {
  if (wantsCsv(request)) {
    reply.type('text/csv; charset=utf-8');
    return reply.send(csvOfPages(house, table, ask, csv ?? itemColumns(item, views)));
  }
  const rows = await house.stores.rows.page(table, { ...ask, limit: ask.limit + 1 });
  const shown = await views(rows);
  const viewOf = new Map(rows.map((row, i) => [row, shown[i]]));
  return ask.answer(reply, request, rows, (row) => viewOf.get(row));
}

function itemColumns(item: z.ZodType, views: ListOf['views']): CsvColumns {
  const paths = cellPaths(item);
  return {
    names: paths.map((path) => path.join('.')),
    cellsOf: async (rows) => (await views(rows)).map((each) => paths.map((path) => cellAt(each, path))),
  };
}

/** Of which list and filters a place is: 16 signs of a hash. */
const listMark = (of: string): string => createHash('sha256').update(of).digest('base64url').slice(0, 16);

const placeShape = z.tuple([z.union([z.string(), z.number(), z.boolean(), z.null()]), z.uuid(), z.string()]);

/** A place that was sealed here, as `cursorSeal` opened it. */
function readPlace(place: string, of: string): { value: unknown; id: string } {
  const [value, id, mark] = placeShape.parse(JSON.parse(place));
  if (mark !== listMark(of)) throw badCursor('belongs to another list or other filters');
  return { value, id };
}
