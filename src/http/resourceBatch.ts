import { parse } from 'csv-parse/sync';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { House, Stores } from '../actions/house.js';
import type { Actor, Row } from '../actions/ports.js';
import { type FieldFault, Refused, ruleBroken } from '../actions/problems.js';
import { takeId } from '../actions/takeId.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import { textOfCell } from '../files/csvFormula.js';
import type { Field } from './fields.js';
import { ofItem } from './ofItem.js';
import { changeRow, columnOf, insertRow, newSchema, type Resource, toRow } from './resource.js';
import { shapeFaults } from './shapeFaults.js';
import { refusals } from './shapes.js';
import { write } from './writes.js';

const MOST = 2000;
/** Columns of an exported list that only say how a record came to be. */
const TOLD_ONLY = new Set(['createdAt', 'updatedAt']);

type Item = Record<string, unknown> & { id?: string; version?: number };
type Outcome = 'new' | 'changed' | 'unchanged';

const answer = z
  .object({
    new: z.number().int(),
    changed: z.number().int(),
    unchanged: z.number().int(),
    items: z.array(z.object({ id: z.uuid(), outcome: z.enum(['new', 'changed', 'unchanged']) })),
  })
  .meta({ id: 'BatchOutcome' });

/** Takes back what the list gives as CSV, or many records as JSON: all or nothing. */
export function registerResourceBatch(app: FastifyInstance, house: House, resource: Resource): void {
  const { path, component } = resource;
  const item = newSchema(resource, (field) => field.asItWas ?? field.schema)
    .partial()
    .extend({ version: z.number().int().min(1).optional() })
    .meta({ id: `${component}BatchItem` });
  app.post(
    `/v1/${path}/batch`,
    {
      config: { roles: resource.write, takesCsv: true },
      schema: {
        operationId: `put${component}Batch`,
        summary: `Record or change up to ${MOST} at once, all or nothing (Content-Type: text/csv as the list gives it, or JSON)`,
        description:
          'An id that is not there yet, or none, is a new record. One that is there is changed where the item says otherwise; with a `version` only if it is still that one. In CSV an empty cell clears the field, a column left out leaves it; `createdAt` and `updatedAt` are passed over.',
        tags: [path],
        body: z.strictObject({ items: z.array(item).min(1).max(MOST) }).meta({ id: `${component}BatchAsk` }),
        response: { 200: answer, ...refusals(409, 412, 415, 422) },
      },
      preValidation: async (request) => {
        if (isCsv(request)) request.body = { items: itemsOfCsv(resource, String(request.body ?? '')) };
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { items } = request.body as { items: Item[] };
        const today = house.zone.dayOf(house.clock.now());
        await claimIds(stores, resource, items);
        const done: { id: string; outcome: Outcome }[] = [];
        for (const [at, each] of items.entries())
          done.push(await ofItem(at, () => put(stores, resource, each, today, request.actor)));
        const count = (outcome: Outcome) => done.filter((each) => each.outcome === outcome).length;
        const body = {
          new: count('new'),
          changed: count('changed'),
          unchanged: count('unchanged'),
          items: done,
        };
        return { status: 200, body };
      }),
  );
}

export const isCsv = (request: FastifyRequest): boolean =>
  (request.headers['content-type'] ?? '').toLowerCase().startsWith('text/csv');

/**
 * Takes the ids in the order of the ids, whatever order they come in: of two batches at once one waits for the other.
 *
 * @throws {Refused} For a new record that cannot be, or whose id was taken with other content.
 */
async function claimIds(stores: Stores, resource: Resource, items: readonly Item[]): Promise<void> {
  const firstOf = new Map<string, number>();
  for (const [at, { id }] of items.entries()) if (id !== undefined && !firstOf.has(id)) firstOf.set(id, at);
  for (const [id, at] of [...firstOf].sort(([a], [b]) => (a < b ? -1 : 1))) {
    const { version: _, ...given } = items[at] as Item;
    await ofItem(at, async () => {
      if (await stores.rows.lock(resource.table, id)) return;
      const item = asTaken(resource, given, null);
      refuseGaps(resource, item);
      await takeId(stores, resource.table, id, item);
    });
  }
}

async function put(
  stores: Stores,
  resource: Resource,
  { version, ...given }: Item,
  today: IsoDate,
  actor: Actor,
): Promise<{ id: string; outcome: Outcome }> {
  const id = given.id ?? newId();
  const old = given.id === undefined ? null : await stores.rows.lock(resource.table, id);
  const item = asTaken(resource, given, old);
  if (!old) {
    refuseGaps(resource, item);
    await insertRow(stores, resource, item, id, today, actor);
    return { id, outcome: 'new' };
  }
  const body = differing(resource, item, old);
  if (Object.keys(body).length === 0) return { id, outcome: 'unchanged' };
  if (version !== undefined && version !== old['version'])
    throw new Refused({
      code: 'version-mismatch',
      resource: resource.name,
      id,
      version: Number(old['version']),
      asked: String(version),
    });
  await changeRow(stores, resource, { id, old, body, today, actor });
  return { id, outcome: 'changed' };
}

/** @throws {Refused} When a new record lacks what it cannot be without. */
function refuseGaps(resource: Resource, item: Item): void {
  const faults = Object.entries(resource.fields)
    .filter(([name, field]) => field.required && !field.readOnly && item[name] === undefined)
    .map(([name]) => ({ pointer: `#/${name}`, detail: 'is missing', remedy: 'every new record has one' }));
  if (faults.length > 0) throw new Refused({ code: 'bad-body', faults });
}

/**
 * The item as its fields take it; what says the same as the record stands as it is.
 *
 * @throws {Refused} `bad-body` where a field takes less than what came.
 */
function asTaken(resource: Resource, item: Item, old: Row | null): Item {
  const taken: Item = { ...item };
  for (const [name, field] of Object.entries(resource.fields)) {
    const value = item[name];
    if (!field.asItWas || typeof value !== 'string' || value === old?.[columnOf(name, field)]) continue;
    const got = field.schema.safeParse(value);
    if (!got.success)
      throw new Refused({
        code: 'bad-body',
        faults: shapeFaults(
          got.error.issues.map((issue) => ({ ...issue, path: [name] })),
          'body',
          item,
        ).faults,
      });
    taken[name] = got.data;
  }
  return taken;
}

/** The fields of the item that say otherwise than the record. @throws {Refused} When one of them never changes. */
function differing(resource: Resource, item: Item, old: Row): Record<string, unknown> {
  const row = toRow(resource, item);
  const body: Record<string, unknown> = {};
  for (const [name, field] of Object.entries(resource.fields)) {
    const column = columnOf(name, field);
    if (!(column in row) || item[name] === undefined || same(row[column], old[column] ?? null)) continue;
    if (field.fixed)
      throw ruleBroken(
        'fixed-field',
        `#/${name}`,
        `never changes once it is set`,
        `what is on record, or a new record`,
      );
    body[name] = item[name];
  }
  return body;
}

/** Quantities come back from other units, so numbers agree to the seventh digit. */
function same(a: unknown, b: unknown): boolean {
  if (typeof a === 'number' && typeof b === 'number')
    return Math.abs(a - b) <= 1e-7 * Math.max(Math.abs(a), Math.abs(b));
  if (a !== null && b !== null && typeof a === 'object' && typeof b === 'object') {
    const [x, y] = [Object.entries(a), Object.entries(b)];
    return (
      x.length === y.length && x.every(([key, value]) => same(value, (b as Record<string, unknown>)[key]))
    );
  }
  return a === b;
}

/**
 * The rows of an exported list as items.
 * @throws {Refused} `bad-body` naming line and column.
 */
function itemsOfCsv(resource: Resource, text: string): Item[] {
  const [header = [], ...rows] = cellsOf(text);
  const fields: Record<string, Field | 'id' | 'version' | null> = {};
  for (const name of header) {
    if (name === 'id' || name === 'version') fields[name] = name;
    else if (TOLD_ONLY.has(name) || resource.fields[name]?.readOnly) fields[name] = null;
    else if (resource.fields[name]) fields[name] = resource.fields[name];
    else
      throw unfit(
        1,
        name,
        'is no column of this list',
        `one of id, ${Object.keys(resource.fields).join(', ')}, version`,
      );
  }
  return rows.map((cells, at) => {
    const item: Item = {};
    for (const [i, name] of header.entries()) {
      const field = fields[name];
      const cell = cells[i] ?? '';
      if (field === null || field === undefined) continue;
      if (field === 'id' || field === 'version') {
        if (cell !== '') item[name] = field === 'id' ? cell : Number(cell);
      } else if (cell !== '') item[name] = valueIn(field, cell, at + 2, name);
      else if (field.nullable) item[name] = null;
    }
    return item;
  });
}

export function cellsOf(text: string): string[][] {
  try {
    return parse(text, { bom: true, skip_empty_lines: true });
  } catch (error) {
    throw new Refused({
      code: 'bad-body',
      faults: [
        {
          pointer: '#',
          detail: (error as Error).message,
          remedy: 'CSV as the list gives it, every row as long as the first',
        },
      ],
    });
  }
}

function valueIn(field: Field, cell: string, line: number, name: string): unknown {
  const { type } = z.toJSONSchema(field.schema, { unrepresentable: 'any', io: 'input' });
  if (field.toColumn && type !== 'array') return quantityIn(cell, line, name);
  switch (type) {
    case 'number':
    case 'integer':
      if (!Number.isFinite(Number(cell)))
        throw unfit(line, name, `${JSON.stringify(cell)} is not a number`, 'digits with a point');
      return Number(cell);
    case 'boolean':
      if (cell !== 'true' && cell !== 'false')
        throw unfit(line, name, `${JSON.stringify(cell)} is neither true nor false`, 'true or false');
      return cell === 'true';
    case 'string':
      return textOfCell(cell);
    default:
      return jsonIn(cell, line, name);
  }
}

/** `4 in` as a quantity. */
export function quantityIn(cell: string, line: number, name: string): { value: number; unit: string } {
  const [, value = '', unit = ''] = /^(-?[\d.eE+-]+) (\S+)$/.exec(cell) ?? [];
  if (unit !== '') return { value: Number(value), unit };
  throw unfit(line, name, `${JSON.stringify(cell)} is no quantity`, 'a number, a blank and a unit, as 4 in');
}

export function jsonIn(cell: string, line: number, name: string): unknown {
  try {
    return JSON.parse(cell) as unknown;
  } catch {
    throw unfit(
      line,
      name,
      `${JSON.stringify(cell)} is no JSON`,
      'a list or object as JSON, as the list gives it',
    );
  }
}

export function unfit(line: number, column: string, detail: string, remedy: string): Refused {
  const fault: FieldFault = { pointer: `#/line ${line}/${column}`, detail, remedy };
  return new Refused({ code: 'bad-body', faults: [fault] });
}
