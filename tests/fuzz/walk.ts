import {
  type Draft,
  draftOf,
  fromWrongCaller,
  type Ground,
  hostile,
  type Kind,
  kindOf,
  nearlyRight,
  written,
} from './asks.js';
import { Chance } from './chance.js';
import { type OpenapiDocument, type Operation, operationsOf } from './document.js';
import type { Answer, Ask } from './door.js';
import { type FuzzHouse, NOW } from './fuzzHouse.js';
import { Pool } from './pool.js';
import { Published } from './published.js';
import { recipeOf } from './recipes.js';
import { remember, seePool } from './remember.js';
import { seek } from './seek.js';
import { Spares } from './spares.js';
import { type Findings, newTally, noFindings, type Tally } from './tally.js';
import { turns } from './turns.js';
import { Untouched } from './untouched.js';
import type { Known } from './values.js';

/** What a refusal leaves on purpose: content that clashed, kept for a person; a plan marked stale. */
const MAY_BE_LEFT: Record<string, readonly string[]> = { 'id-taken': ['conflict'], 'plan-stale': ['plan'] };
const WORK_EVERY = 1_000;

export interface WalkOptions {
  seed: number;
  count: number;
  only?: RegExp;
  /** Then goes after every refusal that is published and was met neither here nor there. */
  seeks?: Findings | 'own';
  onProgress?: (sent: number, findings: Findings) => void;
}

/** So many requests, operations in turn, answers held against what is published. */
export async function walk(
  t: FuzzHouse,
  { seed, count, only, seeks, onProgress }: WalkOptions,
): Promise<Findings> {
  const walker = await Walker.at(t, seed, only);
  const order = turns(walker.operations);
  for (let worked = 0; walker.sent < count; ) {
    await walker.ask(order.next().value, kindOf(walker.chance));
    if (walker.sent - worked >= WORK_EVERY) {
      await t.work();
      worked = walker.sent;
    }
    onProgress?.(walker.sent, walker.findings);
  }
  if (seeks)
    await seek(walker, seeks === 'own' ? walker.findings : seeks, () =>
      onProgress?.(walker.sent, walker.findings),
    );
  return walker.findings;
}

/** Sends requests to one house and keeps count of what comes back. */
export class Walker {
  readonly findings = noFindings();
  readonly chance: Chance;
  sent = 0;
  private readonly spares = new Spares();
  private readonly published: Published;
  private readonly untouched: Untouched;
  private readonly pool: Pool;

  private readonly t: FuzzHouse;
  private readonly document: OpenapiDocument;
  private readonly all: readonly Operation[];
  readonly operations: readonly Operation[];

  private constructor(t: FuzzHouse, seed: number, document: OpenapiDocument, only?: RegExp) {
    this.t = t;
    this.document = document;
    this.all = operationsOf(document);
    this.operations = this.all.filter(({ id }) => only === undefined || only.test(id));
    this.chance = new Chance(seed + 1);
    this.published = new Published(document);
    this.untouched = new Untouched(t.pool);
    this.pool = new Pool(this.chance);
    for (const operation of this.operations) this.findings.tallies[operation.id] = newTally(operation);
  }

  static async at(t: FuzzHouse, seed: number, only?: RegExp): Promise<Walker> {
    const document = (await t.door.as('owner', 'GET', '/docs/json')).body as OpenapiDocument;
    const walker = new Walker(t, seed, document, only);
    await walker.untouched.begin();
    await seePool(t, walker.pool, walker.all);
    return walker;
  }

  ground(): Ground {
    const { t, chance, document, pool } = this;
    const place = chance.of(t.places);
    const known: Known = { chance, document, now: NOW, idFor: (name) => pool.meant(name, place) };
    return { t, door: t.door, operations: this.all, chance, document, pool, place, known };
  }

  /** One request of that kind; one that is sent again is sent twice. */
  async ask(operation: Operation, kind: Kind): Promise<void> {
    const { spares, chance } = this;
    const ground = this.ground();
    const startedAt = performance.now();
    const { draft, kept, uses } = await this.drafted(operation, ground);
    (this.findings.tallies[operation.id] as Tally).laidMs += performance.now() - startedAt;
    const ask = written(operation, draft, ground.door);
    const isRead = operation.method === 'GET';
    if (kind === 'again' && isResent(operation, draft)) {
      const keyed = { ...ask, headers: { ...ask.headers, 'idempotency-key': chance.id() } };
      await this.send(operation, keyed, 'valid');
      await this.send(operation, sentAgain(operation, draft, ask, keyed, ground), kind);
      return;
    }
    const asked =
      kind === 'nearly'
        ? written(operation, nearlyRight(operation, draft, chance), ground.door)
        : kind === 'hostile'
          ? hostile(operation, draft, ground)
          : kind === 'who'
            ? fromWrongCaller(operation, ask, ground)
            : ask;
    const { status } = await this.send(operation, asked, kind);
    const isMeantWell = kind === 'valid' || kind === 'again';
    if (kept && (isRead ? status < 400 || !isMeantWell : status >= 400 && !isMeantWell))
      spares.keep(operation.id, kept, uses);
  }

  /** A request that may be accepted, on ground of its own or on what another left as it was. */
  private async drafted(
    operation: Operation,
    ground: Ground,
  ): Promise<{ draft: Draft; kept?: Partial<Draft>; uses: number }> {
    const fresh = draftOf(operation, ground);
    const spare = this.spares.take(operation.id);
    if (spare) return { draft: { ...fresh, ...spare.draft }, kept: spare.draft, uses: spare.uses };
    try {
      const laid = await recipeOf(operation, ground.operations)?.(ground, fresh);
      if (!laid) return { draft: fresh, uses: 0 };
      const draft = { ...fresh, ...laid };
      return { draft, kept: operation.method === 'GET' ? { path: draft.path, ...laid } : draft, uses: 0 };
    } catch (error) {
      this.findings.groundless.push(`${operation.id}: ${(error as Error).message.slice(0, 500)}`);
      return { draft: fresh, uses: 0 };
    }
  }

  /** Sends it, and holds what comes back against the document and against what it may leave behind. */
  async send(operation: Operation, ask: Ask, kind: Kind | 'sought'): Promise<Answer> {
    const { t, findings, untouched } = this;
    const mark = await untouched.mark();
    const startedAt = performance.now();
    const answer = await t.door.send(ask);
    const tally = findings.tallies[operation.id] as Tally;
    const told = () =>
      `${kind} ${ask.method} ${ask.url.slice(0, 200)} ${String(ask.payload?.slice(0, 400) ?? '')} → ${answer.text.slice(0, 400)}`;
    if (kind !== 'sought') {
      tally.ms += performance.now() - startedAt;
      tally.sent += 1;
      this.sent += 1;
    }
    if (answer.status >= 500 && answer.status !== 503)
      findings.broken.push(`${told()}\n    ${t.faults[0] ?? ''}`);
    const off = this.published.fault(operation, answer);
    if (off !== null) findings.offSchema.push(`${operation.id} ${off} (${told()})`);
    if (answer.status < 400) {
      if (kind !== 'sought') tally.accepted += 1;
      remember(operation, answer, this.pool);
      return answer;
    }
    const problem = problemOf(answer);
    const code = `${answer.status} ${problem}`;
    tally.refused[code] = (tally.refused[code] ?? 0) + 1;
    const may = MAY_BE_LEFT[problem] ?? [];
    const touched = (await untouched.touchedSince(mark)).filter(
      (table) => table !== 'access_key' && !may.includes(table),
    );
    if (touched.length > 0) findings.touched.push(`${touched.join(', ')}: ${told()}`);
    if (kind === 'valid') {
      const list = findings.unexpected[operation.id] ?? [];
      if (list.length < 6) list.push(told());
      findings.unexpected[operation.id] = list;
    }
    return answer;
  }
}

const problemOf = ({ body }: Answer): string =>
  String(body?.type ?? '')
    .split('/')
    .at(-1) ?? '';

const isResent = ({ method }: Operation, { body }: Draft): boolean =>
  method === 'POST' && typeof body === 'object' && body !== null;

/** A request that was sent, whole or with other content under the same id or key. */
function sentAgain(operation: Operation, draft: Draft, ask: Ask, keyed: Ask, ground: Ground): Ask {
  const { chance } = ground;
  if (chance.is(0.4)) return keyed;
  const other = draftOf(operation, ground).body as object;
  const { id } = draft.body as { id?: string };
  const headers = chance.is(0.5) ? keyed.headers : ask.headers;
  return { ...keyed, headers, payload: JSON.stringify({ ...other, ...(id === undefined ? {} : { id }) }) };
}
