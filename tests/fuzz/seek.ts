import { type Draft, draftOf, type Ground, written } from './asks.js';
import type { Operation } from './document.js';
import type { Ask } from './door.js';
import { recipeOf } from './recipes.js';
import { notReached } from './report.js';
import { type Findings, newTally, type Tally } from './tally.js';
import type { Walker } from './walk.js';

const TRIES = 6;

/** For refusals that chance has not met: requests made to get just them. */
export async function seek(walker: Walker, met: Findings): Promise<void> {
  for (const operation of walker.operations) {
    const missing = notReached(met.tallies[operation.id] ?? newTally(operation));
    for (const status of missing)
      for (let n = 0; n < TRIES && isMissing(walker, operation, status); n++)
        for (const ask of await asksFor(operation, status, walker.ground()))
          if (isMissing(walker, operation, status)) await walker.send(operation, ask, 'sought');
  }
}

const isMissing = ({ findings }: Walker, { id }: Operation, status: string): boolean =>
  notReached(findings.tallies[id] as Tally).includes(status);

async function goodDraft(operation: Operation, ground: Ground): Promise<Draft> {
  const drafted = draftOf(operation, ground);
  try {
    return { ...drafted, ...(await recipeOf(operation, ground.operations)?.(ground, drafted)) };
  } catch {
    return drafted;
  }
}

async function asksFor(operation: Operation, status: string, ground: Ground): Promise<Ask[]> {
  const { chance, door } = ground;
  const draft = await goodDraft(operation, ground);
  const good = written(operation, draft, door);
  const bodyOf = (body: unknown) => written(operation, { ...draft, body }, door);
  switch (status) {
    case '400':
      return [
        bodyOf({ ...(draft.body as object), surprise: 1 }),
        { ...good, url: `${good.url}${good.url.includes('?') ? '&' : '?'}surprise=1` },
        { ...good, headers: { ...good.headers, 'idempotency-key': 'k'.repeat(300) } },
        written(operation, { ...draft, path: mapped(draft.path, () => '0') }, door),
      ];
    case '401': {
      const { authorization: _, ...headers } = good.headers;
      return [{ ...good, headers }];
    }
    case '403':
      return (['technician', 'integration', 'dispatcher', 'owner'] as const)
        .filter((role) => !operation.roles?.includes(role) || role === 'technician')
        .map((role) => ({
          ...good,
          headers: { ...good.headers, authorization: `Bearer ${door.keys[role]}` },
        }));
    case '404':
      return [
        written(operation, { ...draft, path: mapped(draft.path, () => chance.id()) }, door),
        bodyOf(strangers(draft.body, ground)),
      ];
    case '406':
      return [{ ...good, payload: '{}', headers: { ...good.headers, 'content-type': 'application/json' } }];
    case '409': {
      const id = chance.id();
      const other = (await goodDraft(operation, ground)).body;
      return [good, good, bodyOf(withId(draft.body, id)), bodyOf(withId(other, id))];
    }
    case '412':
      return [
        { ...good, headers: { ...good.headers, 'if-match': '"999"' } },
        bodyOf(withVersion(draft.body)),
      ];
    case '413':
      return [
        {
          ...good,
          payload: Buffer.alloc(6 * 1024 * 1024, 0x20),
          headers: { ...good.headers, 'content-type': 'application/json' },
        },
      ];
    case '415':
      return [{ ...good, payload: 'text', headers: { ...good.headers, 'content-type': 'text/plain' } }];
    case '416':
      return [{ ...good, headers: { ...good.headers, range: 'bytes=999999999-' } }];
    case '422': {
      const key = { ...good.headers, 'idempotency-key': chance.id() };
      return [
        bodyOf(strangers(draft.body, ground)),
        { ...good, headers: key },
        {
          ...bodyOf({ ...(draft.body as object), note: 'other content' }),
          headers: { ...key, 'content-type': 'application/json' },
        },
        {
          ...good,
          url: good.url.includes('?') ? good.url : `${good.url}?fromDay=2026-09-30&toDay=2020-01-01`,
          headers: key,
        },
      ];
    }
    case '428': {
      const { 'if-match': _, ...headers } = good.headers;
      return [{ ...good, headers }];
    }
    default:
      return [];
  }
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

/** A batch item of a version that is not there. */
function withVersion(body: unknown): unknown {
  const { items } = (body ?? {}) as Items;
  return items ? { items: items.map((item) => ({ ...item, version: 999 })) } : body;
}
