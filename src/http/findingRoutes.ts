import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { v7 as newUuid } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { Refused, ruleBroken } from '../actions/problems.js';
import { recordClean } from '../actions/recordClean.js';
import { recordInspection, withdraw } from '../actions/recordInspection.js';
import { rederiveLines } from '../actions/rederive.js';
import { need } from '../actions/sync/needs.js';
import { takeId } from '../actions/takeId.js';
import { whatNow } from '../actions/workLife/pitFaults.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { METHODS, type Role } from '../domain/words.js';
import { findingsOfCsv, pitTestSent, readingSent, saysTheSame } from './findingCsv.js';
import {
  cleanOf,
  cleanView,
  inspectionOf,
  inspectionView,
  newClean,
  newInspection,
  recordedInspection,
  viewClean,
  viewInspection,
} from './findingShapes.js';
import { ofItem } from './ofItem.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake, unitsQuery } from './resource.js';
import { isCsv } from './resourceBatch.js';
import { id, instant, refusals, text } from './shapes.js';
import { settleForOthers } from './syncRoutes.js';
import { write } from './writes.js';

const WRITERS: readonly Role[] = ['dispatcher', 'owner', 'technician', 'integration'];
const READERS: readonly Role[] = ['dispatcher', 'owner', 'integration'];

/** What inspections and cleans have in common at the door. */
interface Finding {
  table: 'inspection' | 'clean';
  path: string;
  component: string;
  at: string;
  schema: z.ZodType;
  view: z.ZodType;
  record: (
    stores: Stores,
    actor: Actor,
    body: unknown,
    id: string,
    pointer: string,
    later?: Set<string>,
  ) => Promise<Row>;
  toView: (row: Row, units: UnitSystem) => Record<string, unknown>;
  /** Columns of its CSV: those that are recorded, as they are sent, and those that only tell. */
  sent: (row: Row, units: UnitSystem) => Record<string, unknown>;
  taken: readonly string[];
  /** Columns of the table as a body would set them, for comparison with what is on record. */
  asRow: (body: unknown) => Row;
  filters: Record<string, z.ZodType>;
  /** What the answer to recording one says beside the record. */
  recorded?: { view: z.ZodType; more: (stores: Stores, row: Row) => Promise<object> };
}

export function registerFindingRoutes(app: FastifyInstance, house: House): void {
  registerFinding(app, house, {
    table: 'inspection',
    path: 'inspections',
    component: 'Inspection',
    at: 'observedAt',
    schema: newInspection,
    view: inspectionView,
    record: (stores, actor, body, newId, pointer, later) =>
      recordInspection(
        house,
        stores,
        actor,
        inspectionOf(body as z.infer<typeof newInspection>, newId),
        pointer,
        later,
      ),
    toView: viewInspection,
    sent: sentInspection,
    taken: Object.keys(newInspection.shape),
    asRow: (body) => rowOfInspection(body as z.infer<typeof newInspection>),
    filters: { method: z.enum(METHODS).optional() },
    recorded: {
      view: recordedInspection,
      more: async (stores, row) => ({ whatNow: await whatNow(stores, row) }),
    },
  });
  registerFinding(app, house, {
    table: 'clean',
    path: 'cleans',
    component: 'Clean',
    at: 'cleanedAt',
    schema: newClean,
    view: cleanView,
    record: (stores, actor, body, newId, pointer) =>
      recordClean(house, stores, actor, cleanOf(body as z.infer<typeof newClean>, newId), pointer),
    toView: viewClean,
    sent: viewClean,
    taken: Object.keys(newClean.shape),
    asRow: (body) => rowOfClean(body as z.infer<typeof newClean>),
    filters: {},
  });
}

function registerFinding(app: FastifyInstance, house: House, finding: Finding): void {
  const { table, path, component, view } = finding;
  const unitsOf = (request: FastifyRequest) => (request.query as { units?: UnitSystem }).units ?? house.units;
  const tags = [path];
  const told = Object.keys((view as z.ZodObject).shape).filter((name) => !finding.taken.includes(name));

  /** The same id and content again is answered with what is there. */
  const recordOnce = async (
    stores: Stores,
    actor: Actor,
    body: { id?: string | undefined },
    pointer: string,
    later?: Set<string>,
  ): Promise<Row> => {
    const given = body.id;
    if (given !== undefined && !(await takeId(stores, table, given, body))) {
      const row = await stores.rows.get(table, given);
      if (row) return row;
    }
    return finding.record(stores, actor, body, given ?? newUuid(), pointer, later);
  };

  /** What is on record under an id, where the item says the same. @throws {Refused} Where it says otherwise. */
  const onRecord = async (stores: Stores, item: { id?: string }): Promise<Row | null> => {
    const row = item.id === undefined ? null : await stores.rows.get(table, item.id);
    if (row === null) return null;
    for (const [column, value] of Object.entries(finding.asRow(item)))
      if (!saysTheSame(value, column === 'raw' ? heldRaw(row) : row[column]))
        throw ruleBroken(
          'never-edited',
          '#/id',
          `${column.replaceAll('_', ' ')} is another on record`,
          `a ${table} of its own that replaces it, or what is on record`,
        );
    return row;
  };

  app.post(
    `/v1/${path}`,
    {
      config: { roles: WRITERS },
      schema: {
        operationId: `create${component}`,
        summary: `Record one ${table}`,
        tags,
        body: finding.schema,
        querystring: unitsQuery,
        response: { 201: finding.recorded?.view ?? view, ...refusals(403, 409, 415, 422) },
      },
    },
    (request, reply) => {
      const body = request.body as { id?: string };
      return write(house, request, reply, async (stores) => {
        const row = await recordOnce(stores, request.actor, body, '#');
        const [recorded, item] = [need('inspection', String(row['id'])), need('item', String(row['id']))];
        return {
          status: 201,
          body: {
            ...finding.toView(row, unitsOf(request)),
            ...(await finding.recorded?.more(stores, row)),
          },
          afterwards: () => settleForOthers(house, request, [recorded, item]),
        };
      });
    },
  );

  app.post(
    `/v1/${path}/batch`,
    {
      config: { roles: WRITERS, takesCsv: true },
      schema: {
        operationId: `create${component}Batch`,
        summary: `Record up to 500 at once, all or nothing (Content-Type: text/csv as the list gives it, or JSON)`,
        description: `In CSV a row whose id is on record already is answered with what is there, where it says the same; what was found is never edited. Columns that only tell how a record came to be are passed over.`,
        tags,
        body: z
          .strictObject({ items: z.array(finding.schema).min(1).max(500) })
          .meta({ id: `New${component}Batch` }),
        querystring: unitsQuery,
        response: {
          201: z.object({ items: z.array(view) }).meta({ id: `${component}Batch` }),
          ...refusals(403, 409, 415, 422),
        },
      },
      preValidation: async (request) => {
        if (isCsv(request))
          request.body = { items: findingsOfCsv(String(request.body ?? ''), finding.taken, told) };
      },
    },
    (request, reply) => batch(request, reply),
  );

  const batch = (request: FastifyRequest, reply: FastifyReply) =>
    write(house, request, reply, async (stores) => {
      const { items } = request.body as { items: { id?: string }[] };
      const rows: Row[] = [];
      const lines = new Set<string>();
      for (const [i, item] of items.entries())
        rows.push(
          await ofItem(
            i,
            async () =>
              (isCsv(request) ? await onRecord(stores, item) : null) ??
              (await recordOnce(stores, request.actor, item, `#/items/${i}`, lines)),
          ),
        );
      const now = lines.size === 0 ? rows : await derivedTogether(stores, lines, rows);
      return { status: 201, body: { items: now.map((row) => finding.toView(row, unitsOf(request))) } };
    });

  app.get(
    `/v1/${path}`,
    {
      config: { roles: READERS },
      schema: {
        operationId: `list${component}s`,
        summary: `List ${path}, those in force unless all=true, paged, or the whole as CSV (Accept: text/csv)`,
        tags,
        querystring: listQuery({
          filters: {
            lineId: id.optional(),
            pitId: id.optional(),
            workOrderId: id.optional(),
            [`${finding.at}From`]: instant.optional(),
            [`${finding.at}To`]: instant.optional(),
            all: z.stringbool().optional(),
            ...finding.filters,
          },
          sorts: [finding.at, 'receivedAt'],
        }),
        response: { 200: pageAnswer(view, `${component}Page`), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const ask = pageAskOf(asked, conditions(asked, finding), {
        list: path,
        columnOf: snake,
        searchColumns: [],
        defaultSort: `-${finding.at}`,
      });
      const names = [...finding.taken, ...told];
      const units = unitsOf(request);
      const cells = (row: Row) => {
        const sent = finding.sent(row, units);
        return names.map((name) => sent[name]);
      };
      return answerList(house, request, reply, ask, {
        table,
        item: view,
        views: (rows) => rows.map((row) => finding.toView(row, units)),
        csv: { names, cellsOf: (rows) => rows.map(cells) },
      });
    },
  );

  app.get(
    `/v1/${path}/:id`,
    {
      config: { roles: WRITERS },
      schema: {
        operationId: `get${component}`,
        summary: `Read one ${table}; a technician: of the sites of the own crew's routes`,
        tags,
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        response: { 200: view, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      const row = await house.stores.rows.get(table, id);
      if (!row) throw new Refused({ code: 'not-found', resource: table, id });
      await maySee(house.stores, request.actor, await siteOf(house.stores, row), { resource: table, id });
      return finding.toView(row, unitsOf(request));
    },
  );

  app.post(
    `/v1/${path}/:id/withdrawal`,
    {
      config: { roles: WRITERS },
      schema: {
        operationId: `withdraw${component}`,
        summary: `Take one ${table} out of force; it stays on record with the reason`,
        tags,
        params: z.strictObject({ id }),
        querystring: unitsQuery,
        body: z.strictObject({ because: text(500) }).meta({ id: `${component}Withdrawal` }),
        response: { 200: view, ...refusals(404, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const { because } = request.body as { because: string };
        return {
          status: 200,
          body: finding.toView(
            await withdraw(house, stores, request.actor, table, id, because),
            unitsOf(request),
          ),
        };
      }),
  );
}

async function siteOf(stores: Stores, row: Row): Promise<string | null> {
  const thing =
    row['line_id'] === null
      ? await stores.rows.get('pit', String(row['pit_id']))
      : await stores.rows.get('line', String(row['line_id']));
  return thing === null ? null : String(thing['site_id']);
}

/** Derives the lines once, however many of their readings came in, and reads what came of it. */
async function derivedTogether(stores: Stores, lines: Set<string>, rows: readonly Row[]): Promise<Row[]> {
  await rederiveLines(stores, [...lines]);
  const ids = rows.map((row) => row['id']);
  const derived = await stores.rows.all('inspection', [{ column: 'id', is: 'in', value: ids }]);
  const byId = new Map(derived.map((row) => [row['id'], row]));
  return rows.map((row) => byId.get(row['id']) ?? row);
}

function conditions(asked: Record<string, unknown>, finding: Finding): Condition[] {
  const out: Condition[] = [];
  for (const name of ['lineId', 'pitId', 'workOrderId', ...Object.keys(finding.filters)]) {
    if (asked[name] !== undefined) out.push({ column: snake(name), is: '=', value: asked[name] });
  }
  if (asked[`${finding.at}From`] !== undefined)
    out.push({ column: snake(finding.at), is: '>=', value: asked[`${finding.at}From`] });
  if (asked[`${finding.at}To`] !== undefined)
    out.push({ column: snake(finding.at), is: '<=', value: asked[`${finding.at}To`] });
  if (asked['all'] !== true) {
    out.push({ column: 'withdrawn_at', is: 'null' });
    if (finding.table === 'inspection') out.push({ column: 'replaced_at', is: 'null' });
  }
  return out;
}

const sentInspection = (row: Row, units: UnitSystem): Record<string, unknown> => ({
  ...viewInspection(row, units),
  reading: readingSent(row, units),
  pitTest: pitTestSent(row),
});

/** Every column as the body would set it: what is left out would be empty. */
function rowOfInspection(body: z.infer<typeof newInspection>): Row {
  const { id: _, reading, pitTest, plugged, ...columns } = inspectionOf(body, '');
  return {
    ...inColumns(columns),
    method: reading?.method ?? null,
    raw: reading ?? pitTest ?? {},
    plug_cause: plugged,
  };
}

function rowOfClean(body: z.infer<typeof newClean>): Row {
  const { id: _, ...columns } = cleanOf(body, '');
  return inColumns(columns);
}

const inColumns = (fields: object): Row =>
  Object.fromEntries(Object.entries(fields).map(([name, value]) => [snake(name), value]));

/** A reading that a book brought may name its method beside it only. */
const heldRaw = (row: Row): object =>
  row['method'] === null ? (row['raw'] as object) : { ...(row['raw'] as object), method: row['method'] };
