import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import type { Actor, Condition, Row } from '../actions/ports.js';
import { Refused, ruleBroken } from '../actions/problems.js';
import { takeId } from '../actions/takeId.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { Role } from '../domain/words.js';
import type { Field } from './fields.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { id as idSchema, instant, queryNumber, refusals } from './shapes.js';
import { versionAsked, write } from './writes.js';

/** A plain record with create, read, change and list, from its fields alone. */
export interface Resource {
  /** Singular, as in problems and the change log. */
  name: string;
  table: string;
  path: string;
  /** Name of the schema in the document, as `Site`; `NewSite` and `SitePatch` follow. */
  component: string;
  about: string;
  fields: Record<string, Field>;
  read: readonly Role[];
  /** Column of the site a record belongs to: technicians read single ones of the sites of their own routes. */
  siteColumn?: string;
  write: readonly Role[];
  /** Fields that lists can be narrowed by; days and numbers also by `…From` and `…To`. */
  filters?: readonly string[];
  sorts?: readonly string[];
  /** Columns that `q` looks in. */
  search?: readonly string[];
  /** Two records may not say the same, or not of the same time: a change may clash with another record. */
  clashes?: true;
  /** Each field that may change holds by itself: no rule can forbid a change of the right shape. */
  freelyChanged?: true;
  /** Has latitude and longitude: lists can be ordered by the distance from a point. */
  onMap?: boolean;
  /** Fills in what follows from the rest before a new record is written. */
  complete?: (row: Row, stores: Stores) => Row | Promise<Row>;
  /** What must follow a new record in the same transaction. */
  afterCreate?: (stores: Stores, row: Row, today: IsoDate) => Promise<void>;
  /** What must follow a change in the same transaction. */
  afterChange?: (stores: Stores, row: Row, today: IsoDate, old: Row) => Promise<void>;
  /** What the answer to a new record or a change tells beside the record. */
  tells?: {
    field: string;
    schema: z.ZodType;
    of: (house: House, stores: Stores, row: Row) => Promise<unknown>;
  };
  /** Rules of the trade that the database cannot keep. */
  check?: (
    stores: Stores,
    row: Row,
    old: Row | null,
    today: IsoDate,
    actor: Pick<Actor, 'roles'>,
  ) => Promise<void>;
}

export const snake = (camel: string): string => camel.replace(/[A-Z]/g, (c) => `_${c.toLowerCase()}`);
export const columnOf = (name: string, field: Field): string => field.column ?? snake(name);

export function newSchema(
  resource: Resource,
  schemaOf = (field: Field): z.ZodType => field.schema,
): z.ZodObject {
  const shape: Record<string, z.ZodType> = { id: idSchema.optional() };
  for (const [name, field] of Object.entries(resource.fields)) {
    if (field.readOnly) continue;
    const schema = schemaOf(field);
    shape[name] = field.required ? schema : field.nullable ? schema.nullable().optional() : schema.optional();
  }
  return z.strictObject(shape).meta({ id: `New${resource.component}` });
}

function patchSchema(resource: Resource): z.ZodObject {
  const shape: Record<string, z.ZodType> = {};
  for (const [name, field] of Object.entries(resource.fields)) {
    if (field.readOnly || field.fixed) continue;
    shape[name] = field.nullable ? field.schema.nullable().optional() : field.schema.optional();
  }
  return z.strictObject(shape).meta({ id: `${resource.component}Patch` });
}

const views = new Map<string, z.ZodObject>();

/** How a record is answered: one schema, wherever it is answered. */
export function viewSchema(resource: Resource): z.ZodObject {
  const known = views.get(resource.component) ?? makeView(resource);
  views.set(resource.component, known);
  return known;
}

function makeView(resource: Resource): z.ZodObject {
  const shape: Record<string, z.ZodType> = { id: z.uuid() };
  for (const [name, field] of Object.entries(resource.fields)) shape[name] = field.view;
  return z
    .object({ ...shape, version: z.number().int(), createdAt: instant, updatedAt: instant })
    .meta({ id: resource.component, description: resource.about });
}

export function toRow(resource: Resource, body: Record<string, unknown>): Row {
  const row: Row = {};
  for (const [name, field] of Object.entries(resource.fields)) {
    const value = body[name];
    if (value === undefined) continue;
    row[columnOf(name, field)] = value === null ? null : field.toColumn ? field.toColumn(value) : value;
  }
  return row;
}

export function toView(resource: Resource, row: Row, units: UnitSystem): Record<string, unknown> {
  const view: Record<string, unknown> = { id: row['id'] };
  for (const [name, field] of Object.entries(resource.fields)) {
    const value = row[columnOf(name, field)] ?? null;
    view[name] = field.toView ? field.toView(value, units) : value;
  }
  view['version'] = row['version'];
  view['createdAt'] = row['created_at'];
  view['updatedAt'] = row['updated_at'];
  return view;
}

/** The record, and what its writing brings about. */
const toldSchema = (resource: Resource): z.ZodObject => {
  const { component, tells } = resource;
  const view = viewSchema(resource);
  return tells ? view.extend({ [tells.field]: tells.schema }).meta({ id: `Written${component}` }) : view;
};

async function told(
  house: House,
  stores: Stores,
  { tells }: Resource,
  row: Row,
): Promise<Record<string, unknown>> {
  return tells ? { [tells.field]: await tells.of(house, stores, row) } : {};
}

/** What a change may be refused for beside what every change may. */
const changeRefusals = ({ clashes, freelyChanged }: Resource): number[] => [
  ...(clashes ? [409] : []),
  ...(freelyChanged ? [] : [422]),
];

const byId = z.strictObject({ id: idSchema });
export const unitsQuery = z.strictObject({ units: z.enum(['metric', 'us']).optional() });
const unitsOf = (request: FastifyRequest, house: House): UnitSystem =>
  (request.query as { units?: UnitSystem }).units ?? house.units;
const etag = (row: Row): string => `"${row['version']}"`;

export function registerResource(app: FastifyInstance, house: House, resource: Resource): void {
  const { path, component, name, table } = resource;
  const one = viewSchema(resource);
  const written = toldSchema(resource);
  const tags = [path];
  const operation = (verb: string) => `${verb}${component}`;
  const today = () => house.zone.dayOf(house.clock.now());

  const query = listQuery({
    filters: filterSchemas(resource),
    sorts: [...(resource.sorts ?? []), 'createdAt', 'updatedAt'],
    search: resource.search !== undefined,
    near: resource.onMap === true,
  });
  app.get(
    `/v1/${path}`,
    {
      config: { roles: resource.read },
      schema: {
        operationId: `list${component}s`,
        summary: `List ${path.replaceAll('-', ' ')}: filtered, sorted, paged, or the whole as CSV (Accept: text/csv)`,
        tags,
        querystring: query,
        response: { 200: pageAnswer(one, `${component}Page`), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const units = unitsOf(request, house);
      const ask = pageAskOf(asked, conditions(resource, asked), {
        list: path,
        columnOf: (field) =>
          resource.fields[field] ? columnOf(field, resource.fields[field]) : snake(field),
        searchColumns: resource.search ?? [],
      });
      const names = ['id', ...Object.keys(resource.fields), 'version', 'createdAt', 'updatedAt'];
      const views = (rows: Row[]) => rows.map((row) => toView(resource, row, units));
      return answerList(house, request, reply, ask, {
        table,
        item: one,
        views,
        csv: { names, cellsOf: (rows) => views(rows).map((view) => names.map((name) => view[name])) },
      });
    },
  );

  app.post(
    `/v1/${path}`,
    {
      config: { roles: resource.write },
      schema: {
        operationId: operation('create'),
        summary: `Record a new ${name.replaceAll('_', ' ')}`,
        tags,
        body: newSchema(resource),
        querystring: unitsQuery,
        response: { 201: written, ...refusals(409, 415, 422) },
      },
    },
    (request, reply) => create(house, resource, request, reply),
  );

  app.get(
    `/v1/${path}/:id`,
    {
      config: { roles: resource.siteColumn ? [...resource.read, 'technician'] : resource.read },
      schema: {
        operationId: operation('get'),
        summary: `Read one ${name.replaceAll('_', ' ')}${resource.siteColumn ? "; a technician: of the sites of the own crew's routes" : ''}`,
        tags,
        params: byId,
        querystring: unitsQuery,
        response: {
          200: one,
          304: z.null().describe('Not changed since the version you hold.'),
          ...refusals(404),
        },
      },
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const row = await house.stores.rows.get(table, id);
      if (!row) throw new Refused({ code: 'not-found', resource: name, id });
      if (resource.siteColumn) {
        const site = row[resource.siteColumn];
        await maySee(house.stores, request.actor, site === null ? null : String(site), {
          resource: name,
          id,
        });
      }
      if (request.headers['if-none-match'] === etag(row)) return reply.code(304).send();
      return reply.header('etag', etag(row)).send(toView(resource, row, unitsOf(request, house)));
    },
  );

  app.patch(
    `/v1/${path}/:id`,
    {
      config: { roles: resource.write },
      schema: {
        operationId: operation('change'),
        summary: `Change one ${name.replaceAll('_', ' ')} (If-Match: the ETag you read)`,
        tags,
        params: byId,
        body: patchSchema(resource),
        querystring: unitsQuery,
        response: { 200: written, ...refusals(404, 412, 415, 428, ...changeRefusals(resource)) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        const old = await stores.rows.lock(table, id);
        if (!old) throw new Refused({ code: 'not-found', resource: name, id });
        versionAsked(request, name, id, Number(old['version']));
        const body = request.body as Record<string, unknown>;
        const row = await changeRow(stores, resource, {
          id,
          old,
          body,
          today: today(),
          actor: request.actor,
        });
        return {
          status: 200,
          body: {
            ...toView(resource, row, unitsOf(request, house)),
            ...(await told(house, stores, resource, row)),
          },
          headers: { etag: etag(row) },
        };
      }),
  );
}

async function create(
  house: House,
  resource: Resource,
  request: FastifyRequest,
  reply: FastifyReply,
): Promise<FastifyReply> {
  const body = request.body as Record<string, unknown>;
  const given = typeof body['id'] === 'string' ? body['id'] : null;
  const id = given ?? newId();
  return write(house, request, reply, async (stores) => {
    const isNew = given === null || (await takeId(stores, resource.table, id, body));
    const row = isNew
      ? await insertRow(stores, resource, body, id, house.zone.dayOf(house.clock.now()), request.actor)
      : await stores.rows.get(resource.table, id);
    if (!row) throw new Refused({ code: 'not-found', resource: resource.name, id });
    return {
      status: 201,
      body: {
        ...toView(resource, row, unitsOf(request, house)),
        ...(await told(house, stores, resource, row)),
      },
      headers: { etag: etag(row), location: `/v1/${resource.path}/${id}` },
    };
  });
}

/** A new record of fields that have been checked by their schema. @throws {Refused} When a rule forbids it. */
export async function insertRow(
  stores: Stores,
  resource: Resource,
  body: Record<string, unknown>,
  id: string,
  today: IsoDate,
  actor: Pick<Actor, 'roles'>,
): Promise<Row> {
  refuseFuture(resource, body, today);
  const row = { ...toRow(resource, body), id };
  const whole = (await resource.complete?.(row, stores)) ?? row;
  await resource.check?.(stores, whole, null, today, actor);
  const inserted = await stores.rows.insert(resource.table, whole);
  await resource.afterCreate?.(stores, inserted, today);
  return inserted;
}

/** A change of the fields given, by all rules of the resource. @throws {Refused} When one forbids it. */
export async function changeRow(
  stores: Stores,
  resource: Resource,
  {
    id,
    old,
    body,
    today,
    actor,
  }: { id: string; old: Row; body: Record<string, unknown>; today: IsoDate; actor: Pick<Actor, 'roles'> },
): Promise<Row> {
  const change = toRow(resource, body);
  refuseFuture(resource, body, today);
  await resource.check?.(stores, { ...old, ...change }, old, today, actor);
  const row = (await stores.rows.update(resource.table, id, change)) ?? old;
  await resource.afterChange?.(stores, row, today, old);
  return row;
}

/** What has happened has a day up to today. @throws {Refused} `rule-broken`. */
function refuseFuture(resource: Resource, body: Record<string, unknown>, today: IsoDate): void {
  for (const [name, field] of Object.entries(resource.fields)) {
    const said = body[name];
    if (field.past && typeof said === 'string' && said > today)
      throw ruleBroken('past-day', `#/${name}`, `${said} lies in the future`, `a day up to ${today}`);
  }
}

const isRange = (field: Field): boolean => {
  const type = z.toJSONSchema(field.schema, { unrepresentable: 'any', io: 'input' }) as {
    type?: string;
    format?: string;
  };
  return (
    type.type === 'number' || type.type === 'integer' || type.format === 'date' || type.format === 'date-time'
  );
};

function filterSchemas(resource: Resource): Record<string, z.ZodType> {
  const shape: Record<string, z.ZodType> = {};
  for (const name of resource.filters ?? []) {
    const field = resource.fields[name];
    if (!field) throw new RangeError(`${resource.name} has no field ${name} to filter by`);
    if (isRange(field)) {
      const schema =
        z.toJSONSchema(field.schema, { unrepresentable: 'any', io: 'input' }).type === 'string'
          ? field.schema
          : queryNumber();
      shape[`${name}From`] = schema.optional();
      shape[`${name}To`] = schema.optional();
    } else {
      shape[name] = (field.schema instanceof z.ZodBoolean ? z.stringbool() : field.schema).optional();
    }
  }
  return shape;
}

function conditions(resource: Resource, asked: Record<string, unknown>): Condition[] {
  const out: Condition[] = [];
  for (const name of resource.filters ?? []) {
    const field = resource.fields[name] as Field;
    const column = columnOf(name, field);
    if (asked[name] !== undefined) out.push({ column, is: '=', value: asked[name] });
    if (asked[`${name}From`] !== undefined) out.push({ column, is: '>=', value: asked[`${name}From`] });
    if (asked[`${name}To`] !== undefined) out.push({ column, is: '<=', value: asked[`${name}To`] });
  }
  if (resource.fields['archivedOn'] && asked['archived'] !== true)
    out.push({ column: 'archived_on', is: 'null' });
  return out;
}
