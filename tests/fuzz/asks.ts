import type { Role } from '../../src/domain/words.js';
import type { Chance } from './chance.js';
import { type OpenapiDocument, type Operation, resolved } from './document.js';
import type { Ask, Door } from './door.js';
import type { FuzzHouse } from './fuzzHouse.js';
import type { Place } from './ground.js';
import { listOf, type Pool } from './pool.js';
import { hostileBody, nearly, ODD_HEADERS, ODD_PARTS, ODD_QUERIES } from './spoil.js';
import { dayFrom, type Known, valid } from './values.js';

/** A request before it is written down: what a recipe may lay its hand on. */
export interface Draft {
  role: Role | null;
  path: Record<string, string>;
  query: Record<string, string>;
  headers: Record<string, string>;
  body: unknown;
  /** In place of a JSON body. */
  raw?: { type: string; bytes: Buffer };
}

export interface Ground {
  t: FuzzHouse;
  door: Door;
  operations: readonly Operation[];
  chance: Chance;
  document: OpenapiDocument;
  pool: Pool;
  place: Place;
  known: Known;
}

/** Lays what an operation stands on and says how it is asked so that it may be accepted. */
export type Recipe = (
  ground: Ground,
  draft: Draft,
) => Promise<Partial<Draft> | undefined> | Partial<Draft> | undefined;

export const KINDS = ['valid', 'nearly', 'hostile', 'who', 'again'] as const;
export type Kind = (typeof KINDS)[number];

/** Shares of the kinds: most are right, so that the wrong ones meet a house at work. */
export function kindOf(chance: Chance): Kind {
  const drawn = chance.unit();
  return drawn < 0.66
    ? 'valid'
    : drawn < 0.82
      ? 'nearly'
      : drawn < 0.92
        ? 'hostile'
        : drawn < 0.95
          ? 'who'
          : 'again';
}

const OFFICE_FIRST: readonly Role[] = ['owner', 'dispatcher', 'integration', 'technician'];

/** A request that the document takes, before any recipe. */
export function draftOf(operation: Operation, ground: Ground): Draft {
  const { chance, known, pool, place } = ground;
  const roles = OFFICE_FIRST.filter((role) => operation.roles?.includes(role));
  const draft: Draft = {
    role:
      operation.roles === null
        ? null
        : chance.is(0.6)
          ? (roles[0] ?? null)
          : chance.of(roles.filter((r) => r !== 'technician' || roles.length === 1)),
    path: {},
    query: {},
    headers: {},
    body: undefined,
  };
  for (const { name, in: where, required, schema } of operation.parameters) {
    if (where === 'path') {
      const own: Record<string, string> = {
        sites: place.siteId,
        lines: place.lineId,
        pits: place.pitId,
        systems: place.systemId,
        clients: place.clientId,
        contacts: place.contactId,
      };
      const list = listOf(operation.path);
      draft.path[name] =
        name === 'day'
          ? dayFrom(known.now, chance.whole(0, 5))
          : schema.enum
            ? String(chance.of(schema.enum))
            : ((chance.is(0.6) ? own[list] : undefined) ?? pool.any(list) ?? chance.id());
    } else if (where === 'query' && name !== 'cursor' && (required || chance.is(0.12)))
      draft.query[name] = String(valid(known, schema, name));
  }
  const json = operation.body['application/json'];
  if (json) {
    const schema = resolved(ground.document, json);
    draft.body =
      schema.example !== undefined && chance.is(operation.path.startsWith('/v1/calculations') ? 0.8 : 0.4)
        ? withKnownIds(schema.example, known)
        : valid(known, schema);
  }
  return draft;
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

/** A published example about records that are there. */
function withKnownIds(example: unknown, known: Known, name = ''): unknown {
  if (typeof example === 'string' && UUID.test(example))
    return name === 'id' ? known.chance.id() : (known.idFor(name) ?? known.chance.id());
  if (Array.isArray(example)) return example.map((each) => withKnownIds(each, known, name));
  if (typeof example !== 'object' || example === null) return example;
  return Object.fromEntries(
    Object.entries(example).map(([key, each]) => [key, withKnownIds(each, known, key)]),
  );
}

/** A draft as it is sent. */
export function written(operation: Operation, draft: Draft, door: Door): Ask {
  const path = operation.path.replace(/\{([^}]+)\}/g, (_, name: string) => draft.path[name] ?? '');
  const query = new URLSearchParams(draft.query).toString();
  const headers: Record<string, string> = { ...draft.headers };
  if (draft.role !== null) headers['authorization'] = `Bearer ${door.keys[draft.role]}`;
  const ask: Ask = { method: operation.method, url: query ? `${path}?${query}` : path, headers };
  if (draft.raw)
    return { ...ask, payload: draft.raw.bytes, headers: { ...headers, 'content-type': draft.raw.type } };
  if (draft.body === undefined) return ask;
  return {
    ...ask,
    headers: { ...headers, 'content-type': 'application/json' },
    payload: JSON.stringify(draft.body),
  };
}

/** The same request with something wrong that looks almost right. */
export function nearlyRight(operation: Operation, draft: Draft, chance: Chance): Draft {
  const hasBody = draft.body !== undefined;
  const kind = chance.unit();
  if (hasBody && kind < 0.6) return { ...draft, body: nearly(chance, draft.body) };
  if (Object.keys(draft.path).length > 0 && kind < 0.75)
    return { ...draft, path: Object.fromEntries(Object.keys(draft.path).map((name) => [name, chance.id()])) };
  if (kind < 0.85) {
    const { 'if-match': _, ...headers } = draft.headers;
    return {
      ...draft,
      headers: { ...headers, ...chance.of<Record<string, string>>([{}, { 'if-match': '"999"' }]) },
    };
  }
  const names = operation.parameters.filter(({ in: where }) => where === 'query').map(({ name }) => name);
  if (names.length === 0) return { ...draft, query: { surprise: '1' } };
  const value = chance.of([
    '',
    ' ',
    '-1',
    '1e99',
    'text',
    '2026-02-30',
    '\u0000',
    '2026-10-01',
    'true',
    '9'.repeat(30),
  ]);
  return { ...draft, query: { ...draft.query, [chance.of(names)]: value } };
}

/** Something no client of ours would send. */
export function hostile(operation: Operation, draft: Draft, { chance, door }: Ground): Ask {
  const kind = chance.unit();
  const takesBody = operation.method !== 'GET';
  if (takesBody && kind < 0.6) {
    const ask = written(operation, { ...draft, body: undefined }, door);
    const { type, bytes, headers = {} } = hostileBody(chance, draft.body);
    return {
      ...ask,
      payload: bytes,
      headers: { ...ask.headers, ...headers, ...(type === null ? {} : { 'content-type': type }) },
    };
  }
  if (Object.keys(draft.path).length > 0 && kind < 0.75)
    return written(
      operation,
      {
        ...draft,
        path: Object.fromEntries(Object.keys(draft.path).map((name) => [name, chance.of(ODD_PARTS)])),
      },
      door,
    );
  const ask = written(operation, draft, door);
  if (kind < 0.9)
    return { ...ask, url: `${ask.url}${ask.url.includes('?') ? '&' : '?'}${chance.of(ODD_QUERIES)}` };
  return { ...ask, headers: { ...ask.headers, ...chance.of(ODD_HEADERS) } };
}

/** The same request from somebody who may not. */
export function fromWrongCaller(operation: Operation, ask: Ask, { chance, door }: Ground): Ask {
  const { authorization: _, ...headers } = ask.headers;
  const closedTo = OFFICE_FIRST.filter((role) => operation.roles !== null && !operation.roles.includes(role));
  const keys = [
    undefined,
    'Bearer',
    'Bearer none-of-ours',
    `Basic ${Buffer.from('a:b').toString('base64')}`,
    `Bearer ${'x'.repeat(8000)}`,
    ...closedTo.flatMap((role) => [`Bearer ${door.keys[role]}`, `Bearer ${door.keys[role]}`]),
  ];
  const key = chance.of(keys);
  return { ...ask, headers: { ...headers, ...(key === undefined ? {} : { authorization: key }) } };
}
