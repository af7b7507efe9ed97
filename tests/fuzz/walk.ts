import {
  type Draft,
  draftOf,
  fromWrongCaller,
  type Ground,
  hostile,
  type Kind,
  kindOf,
  nearlyRight,
  type Recipe,
  written,
} from './asks.js';
import { Chance } from './chance.js';
import { type OpenapiDocument, type Operation, operationsOf } from './document.js';
import type { Answer, Ask } from './door.js';
import { type FuzzHouse, NOW } from './fuzzHouse.js';
import { listOf, Pool } from './pool.js';
import { Published } from './published.js';
import { recipeOf } from './recipes.js';
import { seek } from './seek.js';
import { Untouched } from './untouched.js';
import type { Known } from './values.js';

export interface Tally {
  operation: Operation;
  sent: number;
  accepted: number;
  /** Milliseconds spent on its answers. */
  ms: number;
  /** Answers by status and problem, as `409 clash`. */
  refused: Map<string, number>;
}

export interface Findings {
  tallies: Map<string, Tally>;
  /** Answers of the 500s but 503. */
  broken: string[];
  /** Answers that are not as the document publishes. */
  offSchema: string[];
  /** Refused requests that left something behind. */
  touched: string[];
  /** Ground that could not be laid. */
  groundless: string[];
  /** First refusals of requests meant to be accepted, by operation: for whoever writes recipes. */
  unexpected: Map<string, string[]>;
}

/** What a refusal leaves on purpose: content that clashed, kept for a person; a plan marked stale. */
const MAY_BE_LEFT: Record<string, readonly string[]> = { 'id-taken': ['conflict'], 'plan-stale': ['plan'] };
const WORK_EVERY = 2_000;

export interface WalkOptions {
  seed: number;
  count: number;
  only?: RegExp;
  /** Then goes after every refusal that is published and was not met. */
  seeks?: boolean;
  onProgress?: (sent: number) => void;
}

/** So many requests, every operation as often as every other, answers held against what is published. */
export async function walk(
  t: FuzzHouse,
  { seed, count, only, seeks, onProgress }: WalkOptions,
): Promise<Findings> {
  const chance = new Chance(seed + 1);
  const document = (await t.door.as('owner', 'GET', '/docs/json')).body as OpenapiDocument;
  const all = operationsOf(document);
  const operations = all.filter(({ id }) => only === undefined || only.test(id));
  const published = new Published(document);
  const untouched = new Untouched(t.pool);
  await untouched.begin();
  const pool = new Pool(chance);
  await seePool(t, pool, all);
  const findings: Findings = {
    tallies: new Map(
      operations.map((operation) => [
        operation.id,
        { operation, sent: 0, accepted: 0, ms: 0, refused: new Map() },
      ]),
    ),
    broken: [],
    offSchema: [],
    touched: [],
    groundless: [],
    unexpected: new Map(),
  };
  const groundOf = (): Ground => {
    const place = chance.of(t.places);
    const known: Known = { chance, document, now: NOW, idFor: (name) => pool.meant(name, place) };
    return { t, door: t.door, operations: all, chance, document, pool, place, known };
  };
  const send = async (operation: Operation, ask: Ask, kind: string): Promise<void> => {
    const mark = await untouched.mark();
    const startedAt = performance.now();
    const answer = await t.door.send(ask);
    const tally = findings.tallies.get(operation.id) as Tally;
    tally.ms += performance.now() - startedAt;
    const told = `${kind} ${ask.method} ${ask.url.slice(0, 200)} ${String(ask.payload ?? '').slice(0, 400)} → ${answer.text.slice(0, 400)}`;
    if (kind !== 'sought') tally.sent += 1;
    if (answer.status >= 500 && answer.status !== 503)
      findings.broken.push(`${told}\n    ${t.faults[0] ?? ''}`);
    const off = published.fault(operation, answer);
    if (off !== null) findings.offSchema.push(`${operation.id} ${off} (${told})`);
    if (answer.status < 400) {
      if (kind !== 'sought') tally.accepted += 1;
      remember(operation, answer, pool);
      return;
    }
    const problem =
      String(answer.body?.type ?? '')
        .split('/')
        .at(-1) ?? '';
    const code = `${answer.status} ${problem}`;
    tally.refused.set(code, (tally.refused.get(code) ?? 0) + 1);
    const may = MAY_BE_LEFT[problem] ?? [];
    const touched = (await untouched.touchedSince(mark)).filter(
      (table) => table !== 'access_key' && !may.includes(table),
    );
    if (touched.length > 0) findings.touched.push(`${touched.join(', ')}: ${told}`);
    if (kind === 'valid') {
      const list = findings.unexpected.get(operation.id) ?? [];
      if (list.length < 6) list.push(told);
      findings.unexpected.set(operation.id, list);
    }
  };
  for (let sent = 0; sent < count; sent++) {
    const operation = operations[sent % operations.length] as Operation;
    const kind = kindOf(chance);
    await send(operation, await askOf(operation, groundOf(), kind, findings), kind);
    if (sent % WORK_EVERY === WORK_EVERY - 1) await t.work();
    onProgress?.(sent + 1);
  }
  if (seeks) await seek(findings, groundOf, send);
  return findings;
}

async function askOf(operation: Operation, ground: Ground, kind: Kind, findings: Findings): Promise<Ask> {
  const drafted = draftOf(operation, ground);
  const recipe = recipeOf(operation, ground.operations);
  const draft = { ...drafted, ...(await laid(recipe, ground, drafted, findings)) };
  if (kind === 'nearly') return written(operation, nearlyRight(operation, draft, ground.chance), ground.door);
  if (kind === 'hostile') return hostile(operation, draft, ground);
  const ask = written(operation, draft, ground.door);
  if (kind === 'who') return fromWrongCaller(operation, ask, ground);
  if (kind === 'again') return again(operation, draft, ask, ground);
  return ask;
}

/** Ground that cannot be laid is no finding of its own: the request goes out as it was drafted. */
async function laid(
  recipe: Recipe | undefined,
  ground: Ground,
  draft: Draft,
  findings: Findings,
): Promise<Partial<Draft> | undefined> {
  try {
    return await recipe?.(ground, draft);
  } catch (error) {
    findings.groundless.push((error as Error).message);
    return undefined;
  }
}

/** A request sent before, whole or with other content under the same id or key. */
async function again(
  operation: Operation,
  draft: ReturnType<typeof draftOf>,
  ask: Ask,
  ground: Ground,
): Promise<Ask> {
  if (operation.method !== 'POST' || typeof draft.body !== 'object' || draft.body === null) return ask;
  const { chance, door } = ground;
  const keyed = { ...ask, headers: { ...ask.headers, 'idempotency-key': chance.id() } };
  await door.send(keyed);
  if (chance.is(0.4)) return keyed;
  const other = draftOf(operation, ground).body as object;
  const id = (draft.body as { id?: string }).id;
  const headers = chance.is(0.5) ? keyed.headers : ask.headers;
  return { ...keyed, headers, payload: JSON.stringify({ ...other, ...(id === undefined ? {} : { id }) }) };
}

/** Ids that lists show before the walk begins. */
async function seePool(t: FuzzHouse, pool: Pool, operations: readonly Operation[]): Promise<void> {
  for (const operation of operations) {
    if (operation.method !== 'GET' || !/^\/v1\/[a-z-]+$/.test(operation.path)) continue;
    const needs = operation.parameters.filter(({ required }) => required);
    const query = needs
      .map(({ name }) => (name === 'day' ? 'day=2026-10-01' : `${name}=${t.places[0]?.siteId}`))
      .join('&');
    remember(operation, await t.door.as('owner', 'GET', `${operation.path}?${query}`), pool);
  }
}

const UUID = /^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$/;

function remember(operation: Operation, { body }: Answer, pool: Pool): void {
  const list = listOf(operation.path);
  const isWhole = /^\/v1\/[a-z-]+$/.test(operation.path);
  const seen = isWhole ? [body, ...(Array.isArray(body?.items) ? body.items : [])] : [];
  for (const each of seen) if (typeof each?.id === 'string' && UUID.test(each.id)) pool.add(list, each.id);
  for (const task of body?.tasks ?? [])
    if (typeof task?.id === 'string' && UUID.test(task.id)) pool.add('work-order-tasks', task.id);
}
