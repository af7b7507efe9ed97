import { type Draft, draftOf, type Ground, written } from './asks.js';
import { type Operation, resolved } from './document.js';
import type { Ask } from './door.js';
import { listOf } from './pool.js';
import { recipeOf } from './recipes.js';
import { remember } from './remember.js';
import { notReached } from './report.js';
import { SOUGHT } from './sought.js';
import { type Findings, newTally, type Tally } from './tally.js';
import { dayFrom, valid } from './values.js';
import type { Walker } from './walk.js';

const TRIES = 6;
/** A change drawn may say what is there already. */
const CHANGES = 5;

/** For refusals that chance has not met: requests made to get just them. */
export async function seek(walker: Walker, met: Findings, onSought?: () => void): Promise<void> {
  for (const operation of walker.operations) {
    const refused = met.tallies[operation.id]?.refused ?? {};
    const missing = notReached({ ...newTally(operation), refused });
    for (const status of missing)
      for (let n = 0; n < TRIES && isMissing(walker, operation, status); n++)
        for (const ask of await asksFor(operation, status, walker.ground()))
          if (isMissing(walker, operation, status)) await walker.send(operation, ask, 'sought');
    onSought?.();
  }
}

const isMissing = ({ findings }: Walker, { id }: Operation, status: string): boolean =>
  notReached(findings.tallies[id] as Tally).includes(status);

/** Makes a record of the operation's list where there is none: what changes one needs one. */
async function haveOne({ method, path }: Operation, ground: Ground): Promise<void> {
  const { door, operations, pool } = ground;
  const list = listOf(path);
  if ((method !== 'PATCH' && !path.endsWith('/batch')) || pool.any(list) !== undefined) return;
  const create = operations.find((each) => each.method === 'POST' && each.path === `/v1/${list}`);
  if (!create) return;
  const { body } = await goodDraft(create, ground);
  const made = await door.as('owner', 'POST', create.path, body as object);
  if (made.status < 300) remember(create, made, pool);
}

async function goodDraft(operation: Operation, ground: Ground): Promise<Draft> {
  const drafted = draftOf(operation, ground);
  try {
    return { ...drafted, ...(await recipeOf(operation, ground.operations)?.(ground, drafted)) };
  } catch {
    return drafted;
  }
}

/** Requests of which one may get the refusal; those of an operation's own first. */
async function asksFor(operation: Operation, status: string, ground: Ground): Promise<Ask[]> {
  await haveOne(operation, ground);
  const draft = await goodDraft(operation, ground);
  const own: Ask[] = [];
  for (const sought of SOUGHT[`${operation.id} ${status}`] ?? []) {
    const wrong = await sought(ground, draft).catch(() => undefined);
    if (wrong) own.push(written(operation, { ...draft, ...wrong }, ground.door));
  }
  return [...own, ...(await usualAsks(operation, status, draft, ground))];
}

async function usualAsks(operation: Operation, status: string, draft: Draft, ground: Ground): Promise<Ask[]> {
  const { chance, door } = ground;
  const good = written(operation, draft, door);
  const with_ = (change: Partial<Draft>): Ask => written(operation, { ...draft, ...change }, door);
  const json = { 'content-type': 'application/json' };
  switch (status) {
    case '400':
      return [
        with_({ body: { ...(draft.body as object), surprise: 1 } }),
        { ...good, url: `${good.url}${good.url.includes('?') ? '&' : '?'}surprise=1` },
        { ...good, headers: { ...good.headers, 'idempotency-key': 'k'.repeat(300) } },
        with_({ path: mapped(draft.path, () => '0') }),
        with_({ path: mapped(draft.path, () => 'x'.repeat(150)) }),
        { ...good, payload: '{', headers: { ...good.headers, ...json } },
      ];
    case '401': {
      const { authorization: _, ...headers } = good.headers;
      return [{ ...good, headers }];
    }
    case '403':
      return (['technician', 'integration', 'dispatcher', 'owner', 'monitor'] as const)
        .filter((role) => !operation.roles?.includes(role) || role === 'technician')
        .map((role) => with_({ role }));
    case '404':
      return [
        with_({ path: mapped(draft.path, () => chance.id()) }),
        with_({ path: mapped(draft.path, () => 'x'.repeat(300)) }),
        with_({ body: strangers(draft.body, ground) }),
        with_({
          query: mapped(draft.query, (name) =>
            name.endsWith('Id') ? chance.id() : (draft.query[name] ?? ''),
          ),
        }),
      ];
    case '406':
      return operation.method === 'GET'
        ? [{ ...good, headers: { ...good.headers, accept: 'application/x-none' } }]
        : [{ ...good, payload: '{}', headers: { ...good.headers, ...json } }];
    case '409':
      return clashing(operation, draft, ground, good);
    case '412':
      return [
        { ...good, headers: { ...good.headers, 'if-match': '"999"' } },
        ...Array.from({ length: CHANGES }, () => with_({ body: ofOtherVersion(operation, ground) })),
      ];
    case '413':
      return [
        { ...good, payload: Buffer.alloc(6 * 1024 * 1024, 0x20), headers: { ...good.headers, ...json } },
      ];
    case '415':
      return [{ ...good, payload: 'text', headers: { ...good.headers, 'content-type': 'text/plain' } }];
    case '416':
      return [{ ...good, headers: { ...good.headers, range: 'bytes=999999999-' } }];
    case '422':
      return operation.method === 'PATCH'
        ? oddChanges(operation, draft, ground)
        : [
            ...(draft.body === undefined ? [] : [with_({ body: strangers(draft.body, ground) })]),
            ...(operation.method === 'GET' ? [with_({ query: { ...draft.query, area: 'Nowhere' } })] : []),
            ...(await keyTwice(operation, ground)),
          ];
    case '428': {
      const { 'if-match': _, ...headers } = good.headers;
      return [{ ...good, headers }];
    }
    default:
      return [];
  }
}

/** The same key with two requests, the one whose ground was laid last first: nothing has happened to it since. */
async function keyTwice(operation: Operation, ground: Ground): Promise<Ask[]> {
  if (operation.method !== 'POST') return [];
  const key = { 'idempotency-key': ground.chance.id() };
  const asks: Ask[] = [];
  for (let n = 0; n < 2; n++) {
    const ask = written(operation, await goodDraft(operation, ground), ground.door);
    asks.unshift({ ...ask, headers: { ...ask.headers, ...key } });
  }
  return asks;
}

/** The same twice; another with its id; with the id of a record of another kind. */
async function clashing(operation: Operation, draft: Draft, ground: Ground, good: Ask): Promise<Ask[]> {
  const { door, chance } = ground;
  const bodyOf = (body: unknown) => written(operation, { ...draft, body }, door);
  if (operation.method !== 'POST' || draft.body === undefined) return [good, good];
  const id = chance.id();
  const other = (await goodDraft(operation, ground)).body;
  const isOfClients = listOf(operation.path) === 'clients';
  const taken = await door.make(isOfClients ? 'members' : 'clients', { id: chance.id(), name: 'Alder' });
  return [
    good,
    good,
    bodyOf(withId(draft.body, id)),
    bodyOf(withId(other, id)),
    bodyOf(withId(draft.body, taken)),
  ];
}

/** A batch's change of a record from a version that it never had. */
function ofOtherVersion(operation: Operation, ground: Ground): unknown {
  const list = listOf(operation.path);
  const change = ground.operations.find(
    ({ method, path }) => method === 'PATCH' && path === `/v1/${list}/{id}`,
  );
  const changed = change && draftOf(change, ground);
  return { items: [{ ...(changed?.body as object), id: changed?.path['id'], version: 999 }] };
}

/** Changes of one field each, to what is at the edge of its kind or nowhere. */
function oddChanges(operation: Operation, draft: Draft, ground: Ground): Ask[] {
  const { chance, known, document, door } = ground;
  const json = operation.body['application/json'];
  const { properties = {} } = json ? resolved(document, json) : {};
  const changes: Record<string, unknown>[] = [];
  for (const [name, schema] of Object.entries(properties)) {
    const usual = valid(known, schema, name);
    if (typeof usual === 'string' && UUID.test(usual)) changes.push({ [name]: chance.id() });
    else if (typeof usual === 'string' && /^\d{4}-\d\d-\d\d$/.test(usual))
      changes.push({ [name]: '1901-01-01' }, { [name]: dayFrom(known.now, 4000) });
    else if (typeof usual === 'string' && /^\d{4}-\d\d-\d\dT/.test(usual))
      changes.push({ [name]: '1901-01-01T00:00:00Z' }, { [name]: '2090-01-01T00:00:00Z' });
    else if (Array.isArray(usual)) changes.push({ [name]: strangers(usual, ground) });
    else changes.push({ [name]: usual });
  }
  const headers = { ...draft.headers, 'if-match': '*' };
  return changes.map((body) => written(operation, { ...draft, headers, body }, door));
}

const mapped = (path: Record<string, string>, to: (name: string) => string): Record<string, string> =>
  Object.fromEntries(Object.keys(path).map((name) => [name, to(name)]));

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/** The same about records that nobody knows. */
function strangers(body: unknown, ground: Ground): unknown {
  if (typeof body === 'string') return UUID.test(body) ? ground.chance.id() : body;
  if (Array.isArray(body)) return body.map((each) => strangers(each, ground));
  if (typeof body !== 'object' || body === null) return body;
  return Object.fromEntries(Object.entries(body).map(([name, each]) => [name, strangers(each, ground)]));
}

type Items = { items?: Record<string, unknown>[] };

function withId(body: unknown, id: string): unknown {
  const { items } = (body ?? {}) as Items;
  if (items) return { items: items.slice(0, 1).map((item) => ({ ...item, id })) };
  return { ...(body as object), id };
}
