import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import { foreignRecords } from '../setup/foreignRecords.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

type Body = Record<string, unknown>;
/** Where an id stands in a body: its names and places in lists. */
type Path = (string | number)[];

interface Operation {
  name: string;
  paths: Path[];
  send(body: Body): Promise<{ status: number; text: string }>;
}

const AT = '2026-10-01T11:30:00Z';
/** No two findings of one place are of one instant. */
let second = 0;
const next = (): string => new Date(Date.parse(AT) + 1000 * ++second).toISOString();
const WORD = { phase: 'no_cleaning', reading: { method: 'by_word', word: 'half', cameBack: 'slugs' } };

/** Of an item that waits for the visit it is of: judged when that begins. */
const WAITS = 202;

let t: RoutedHouse;
let technician: string;
let document: Json;
let own: Record<string, string>;
let foreign: Record<string, string>;

beforeAll(async () => {
  t = await routedHouse();
  technician = await t.keyOf('Tern');
  document = (await t.call(null, { method: 'GET', url: '/docs/json' })).body;
  const { rows } = t.house.stores;
  const theirs = await foreignRecords(t);
  const add = async (table: string, row: object): Promise<string> => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  for (const [id, place] of [
    [t.orderId, t.own],
    [t.foreignOrderId, t.foreign],
  ] as const) {
    const question = {
      fact: 'material',
      lineId: place.lineId,
      siteId: place.siteId,
      text: 'Of what is it?',
      why: '',
    };
    await rows.update('work_order', id, { question: JSON.stringify(question) });
  }
  const order = { work_order_id: t.orderId };
  const taskId = await add('work_order_task', {
    ...order,
    position: 1,
    kind: 'jet',
    line_id: t.own.lineId,
    minutes: 30,
  });
  const [rule] = await rows.all('locate_rule', []);
  const ticketId = await add('locate_ticket', {
    ...order,
    rule_id: rule?.['id'],
    called_at: '2026-09-28T15:00:00Z',
    dig_from: '2026-09-30T15:00:00Z',
    first_day: '2026-09-30',
    author: 'Tern',
  });
  expect((await begin(t.orderId)).status).toBe(200);
  const inspectionId = await ownInspection();
  const [crew] = await rows.all('crew', [{ column: 'name', is: '=', value: 'Heron' }]);
  const named = (ids: Record<string, string | undefined>): Record<string, string> => ({
    ...(ids as Record<string, string>),
    drainsToPitId: String(ids['pitId']),
    drainsToLineId: String(ids['lineId']),
    replacesId: String(ids['inspectionId']),
  });
  own = named({
    ...t.own,
    workOrderId: t.orderId,
    inspectionId,
    taskId,
    ticketId,
    crewId: String(crew?.['id']),
  });
  foreign = named({
    ...t.foreign,
    workOrderId: t.foreignOrderId,
    inspectionId: theirs['inspections'],
    taskId: theirs['work-order-tasks'],
    ticketId: theirs['locate-tickets'],
    crewId: theirs['crews'],
  });
}, 60_000);

async function ownInspection(): Promise<string> {
  const id = randomUUID();
  const made = await post('/v1/inspections', { id, observedAt: next(), lineId: t.own.lineId, ...WORD });
  expect(made.status, made.text).toBe(201);
  return id;
}

const post = async (url: string, payload: object) => {
  const { statusCode, body } = await t.app.inject({
    method: 'POST',
    url,
    headers: { authorization: `Bearer ${technician}` },
    payload,
  });
  return { status: statusCode, text: body };
};

/**
 * What is sent beside the ids, right for a house of the own route, by operation or kind of a sync's item. Ids that stand here
 * as names are those an operation cannot be without.
 */
const LINE_WORK = ['survey', 'inspect', 'hose_flush', 'cable', 'trace', 'clear_outlet'];
const PIT_WORK = ['test_pump', 'clear_pit', 'fit_alarm'];
/** An open order has each kind of work of a line or pit once. */
const workOf = (kinds: string[]): string => {
  kinds.push(kinds.shift() ?? '');
  return kinds.at(-1) ?? '';
};
const BODIES: Record<string, () => Body> = {
  createInspection: () => ({ observedAt: next(), ...WORD, lineId: 'lineId' }),
  createClean: () => ({ cleanedAt: next(), lineId: 'lineId' }),
  addFoundWork: () => ({ foundAt: AT, tasks: [{ kind: workOf(LINE_WORK), minutes: 30, lineId: 'lineId' }] }),
  recordIncident: () => ({ kind: 'near_miss', happenedAt: AT, what: 'a slip', siteId: 'siteId' }),
  addFoundLine: () => ({
    foundAt: AT,
    name: `Run ${randomUUID()}`,
    lineKind: 'footing_drain',
    systemId: 'systemId',
  }),
  addFoundAccessPoint: () => ({ foundAt: AT, pointKind: 'outlet', place: 'by the fence', lineId: 'lineId' }),
  acceptPrice: () => ({ by: 'Ines Calder', amountMinor: 18500, acceptedAt: AT, taskId: 'taskId' }),
  addNote: () => ({ siteId: 'siteId', text: 'gate sticks', notedAt: AT }),
  recordAttachment: () => ({ siteId: 'siteId', takenAt: AT }),
  reportDanger: () => ({ danger: 'hard_stop', metAt: AT, lineId: 'lineId' }),
  finishWorkOrder: () => ({ endedAt: AT, result: 'not_done', reason: 'no_one_home' }),
};
BODIES['createInspectionBatch'] = () => ({ items: [BODIES['createInspection']?.()] });
BODIES['createCleanBatch'] = () => ({ items: [BODIES['createClean']?.()] });

/** The kinds of a sync's items by the operation that does the same, and the name there of what is `at` here. */
const KINDS: Record<string, [operation: string, at: string]> = {
  inspection: ['createInspection', 'observedAt'],
  clean: ['createClean', 'cleanedAt'],
  found_work: ['addFoundWork', 'foundAt'],
  found_line: ['addFoundLine', 'foundAt'],
  found_access_point: ['addFoundAccessPoint', 'foundAt'],
  price_acceptance: ['acceptPrice', 'acceptedAt'],
  note: ['addNote', 'notedAt'],
  attachment: ['recordAttachment', 'takenAt'],
  danger: ['reportDanger', 'metAt'],
  finish: ['finishWorkOrder', 'endedAt'],
};
const OF_KIND: Record<string, () => Body> = {
  start: () => ({ cautionsSeen: true }),
  task_result: () => ({ result: 'done', taskId: 'taskId' }),
  on_the_way: () => ({}),
  running_late: () => ({ expectedAt: '2026-10-01T14:00:00Z' }),
  answer: () => ({ material: 'clay' }),
  discharge_plan: () => ({ receiver: 'caught', sludgeTo: 'depot' }),
  ticket_news: () => ({ marksSeenAt: AT, ticketId: 'ticketId' }),
  trench_check: () => ({ checkedBy: 'Tern', protection: 'none' }),
  incident: () => ({ incident: 'near_miss', what: 'a slip', siteId: 'siteId' }),
};

/** Every operation that a technician sends a body to with an id in it, and every kind of a sync's items. */
function operations(): Operation[] {
  const found: Operation[] = [];
  for (const [path, methods] of Object.entries(document.paths as Record<string, Record<string, Json>>))
    for (const [method, { operationId, description = '', requestBody }] of Object.entries(methods)) {
      const schema = requestBody?.content['application/json']?.schema;
      if (method === 'get' || !schema || !/Roles:[^.]*technician/.test(description)) continue;
      if (operationId === 'sync') {
        for (const item of whole(whole(schema).properties.items.items).oneOf) found.push(ofKind(whole(item)));
        continue;
      }
      const paths = idsIn(schema);
      if (paths.length > 0)
        found.push({
          name: operationId,
          paths,
          send: async (body) => post(path.replace('{id}', orderFor(operationId)), body),
        });
    }
  return found;
}

function ofKind(item: Json): Operation {
  const kind: string = item.properties.kind.const;
  return {
    name: `sync ${kind}`,
    paths: idsIn(item),
    async send(body) {
      if (body['workOrderId'] === t.orderId) body['workOrderId'] = orderFor(kind);
      const sent = await post('/v1/sync', { sentAt: '2026-10-01T12:00:00Z', items: [body] });
      const [answer] = (JSON.parse(sent.text) as Json).items ?? [];
      const isDone = answer?.outcome === 'accepted';
      const isWaiting = answer?.outcome === 'waiting';
      return { status: answer?.problem?.status ?? (isDone ? 200 : isWaiting ? WAITS : 0), text: sent.text };
    },
  };
}

/** A visit begun that may be ended; all but ends are of the first visit. */
let spare = '';
const orderFor = (name: string): string => (/finish/i.test(name) ? spare : t.orderId);

async function begunOrder(): Promise<string> {
  const { rows } = t.house.stores;
  const [id, position] = [randomUUID(), (await rows.count('stop', [])) + 1];
  await rows.insert('work_order', { id, site_id: t.own.siteId, cause: 'due', minutes: 60, state: 'placed' });
  await rows.insert('stop', {
    id: randomUUID(),
    route_id: t.routeId,
    position,
    travel_s: 0,
    travel_m: 0,
    kind: 'visit',
    work_order_id: id,
    arrives_at: '2026-10-01T15:00:00Z',
    starts_at: '2026-10-01T15:00:00Z',
    ends_at: '2026-10-01T16:00:00Z',
    live: true,
  });
  expect((await begin(id)).status).toBe(200);
  return id;
}

const begin = (id: string) =>
  post(`/v1/work-orders/${id}/start`, { startedAt: '2026-10-01T11:00:00Z', cautionsSeen: true });

const whole = (schema: Json): Json =>
  schema.$ref ? document.components.schemas[schema.$ref.split('/').at(-1)] : schema;

/** Places of ids of other records in a body; `id` itself is the sender's own. */
function idsIn(schema: Json, above: Path = []): Path[] {
  const { properties = {}, items, oneOf = [], anyOf = [] } = whole(schema);
  return [
    ...Object.entries(properties).flatMap(([name, inner]) =>
      /Id$/.test(name) ? [[...above, name]] : idsIn(inner, [...above, name]),
    ),
    ...(items ? idsIn(items, [...above, 0]) : []),
    ...[...oneOf, ...anyOf].flatMap((each) => idsIn(each, above)),
  ];
}

function bodyOf({ name, paths }: Operation): Body {
  const kind = /^sync (.*)$/.exec(name)?.[1];
  const [like, at] = (kind === undefined ? undefined : KINDS[kind]) ?? [];
  const make = kind === undefined ? BODIES[name] : (OF_KIND[kind] ?? BODIES[like ?? '']);
  if (!make) throw new Error(`${name}: this test has no body for it; add one`);
  const body = make();
  if (kind === undefined) return filled(body) as Body;
  if (at) delete body[at];
  const ofOrder = paths.some((path) => path.join() === 'workOrderId') ? { workOrderId: 'workOrderId' } : {};
  const ofFound =
    kind === 'found_work' ? { tasks: [{ id: randomUUID(), ...(body['tasks'] as Body[])[0] }] } : {};
  const ofEnd = kind === 'finish' ? { after: [] } : {};
  return filled({ ...body, ...ofOrder, ...ofFound, ...ofEnd, kind, id: randomUUID(), at: next() }) as Body;
}

/** Names of ids as those of the own house. */
function filled(value: unknown): unknown {
  if (Array.isArray(value)) return value.map(filled);
  if (typeof value === 'string') return own[value] ?? value;
  if (typeof value !== 'object' || value === null) return value;
  return Object.fromEntries(Object.entries(value).map(([name, each]) => [name, filled(each)]));
}

/**
 * The body with an id at that place; `alone`: without the other ids beside it, of which only one may be given at times.
 */
function withId(operation: Operation, path: Path, ids: Record<string, string>, alone: boolean): Body {
  const body = bodyOf(operation);
  const name = String(path.at(-1));
  if (path[0] === 'replaced') body['replaced'] = [{ whole: true }];
  const holder = path.slice(0, -1).reduce<Json>((part, step) => part?.[step], body);
  if (holder === undefined) throw new Error(`${operation.name}: its body has no ${path.join('.')}`);
  if (alone)
    for (const other of ['lineId', 'pitId', 'systemId', 'siteId'])
      if (other !== name && !(operation.name.match(/Note|Attachment|note|attachment/) && other === 'siteId'))
        delete holder[other];
  holder[name] = ids[name];
  if (name === 'pitId' && 'minutes' in holder) holder.kind = workOf(PIT_WORK);
  return body;
}

const written = async (): Promise<number> => {
  const { rows } = await t.pool.query(
    `SELECT (SELECT count(*) FROM change_log WHERE resource NOT IN ('sync_item', 'conflict')) + (SELECT count(*) FROM event) AS n`,
  );
  return Number(rows[0].n);
};

/** Lines of runs that were dug up are of the order's own digs; this house has none. */
const OF_A_DIG = /^replaced\b/;

test('a technician ties no record of a foreign house to what is posted (OWASP API1:2023)', async () => {
  const open: string[] = [];
  const undecided: string[] = [];
  const waiting: unknown[] = [];
  let tried = 0;
  // Ends and dangers last: what comes after them is of no visit.
  const late = (name: string) => Number(/finish/i.test(name)) + 2 * Number(/danger/i.test(name));
  const all = operations().sort((a, b) => late(a.name) - late(b.name));
  for (const operation of all) {
    spare = await begunOrder();
    for (const path of operation.paths)
      for (const alone of [false, true]) {
        const before = await written();
        const body = withId(operation, path, foreign, alone);
        const { status, text } = await operation.send(body);
        if (status === WAITS) waiting.push(body['id']);
        const isRefused = [WAITS, 403, 404, 422].includes(status) && (await written()) === before;
        if (!isRefused) open.push(`${operation.name} ${path.join('.')}: ${status} ${text.slice(0, 200)}`);
        tried++;
      }
    // The same with an id of the own house is taken: it is the foreign id that was refused.
    for (const path of operation.paths) {
      const answers: { status: number; text: string }[] = [];
      const isTaken = () => answers.some(({ status }) => status === 200 || status === 201);
      for (let tries = 0; tries < 8 && !isTaken(); tries++) {
        // Replaced once, an inspection is in force no more.
        own['replacesId'] = await ownInspection();
        answers.push(await operation.send(withId(operation, path, own, tries % 2 === 1)));
        if (/finish/i.test(operation.name)) spare = await begunOrder();
      }
      if (!isTaken() && !OF_A_DIG.test(path.join('.')))
        undecided.push(
          `${operation.name} ${path.join('.')}: ${answers.map(({ text }) => text.slice(0, 300)).join(' | ')}`,
        );
    }
  }
  expect(open).toEqual([]);
  expect(undecided).toEqual([]);
  expect(tried).toBeGreaterThan(60);

  // What waits for the foreign visit to begin is refused when it does.
  expect(waiting.length).toBeGreaterThan(4);
  const began = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${t.foreignOrderId}/start`,
    payload: { startedAt: '2026-10-01T11:00:00Z', cautionsSeen: true },
  });
  expect(began.status, began.text).toBe(200);
  const items = await t.house.stores.rows.all('sync_item', [{ column: 'id', is: 'in', value: waiting }]);
  // An end waits on for whatever else came of its visit.
  const notRefused = items.filter(
    ({ kind, state }) => state !== 'refused' && (kind !== 'finish' || state !== 'waiting'),
  );
  expect(notRefused.map(({ kind, state }) => [kind, state])).toEqual([]);
  expect(await t.house.stores.rows.get('work_order', t.foreignOrderId)).toMatchObject({ state: 'under_way' });
}, 300_000);
