import { randomUUID } from 'node:crypto';
import { setTimeout as sleep } from 'node:timers/promises';

/** What the harness was told is on record, and must find there. */
export interface Ledger {
  /** Name by id, of clients made one by one. */
  clients: Map<string, string>;
  /** Note shared by the five clients of each batch. */
  batches: Set<string>;
  /** Names sent under an idempotency key. */
  keyed: Set<string>;
  /** Share found, by id of an inspection. */
  inspections: Map<string, number>;
  /** Of each writer's own client: changes acknowledged, version it must have. */
  counters: Map<string, { note: number; version: number }>;
  acknowledged: number;
  attempts: number;
  /** Answers that no fault explains. */
  strange: string[];
}

export const newLedger = (): Ledger => ({
  clients: new Map(),
  batches: new Set(),
  keyed: new Set(),
  inspections: new Map(),
  counters: new Map(),
  acknowledged: 0,
  attempts: 0,
  strange: [],
});

export interface Door {
  url: string;
  key: string;
  lineId: string;
}

const TIMEOUT_MS = 8_000;
const BATCH = 5;
/** What a fault may rightly bring: wait and ask again. */
const PASSING = new Set([408, 425, 429, 500, 502, 503, 504]);

interface Ask {
  method: 'POST' | 'PATCH' | 'GET';
  path: string;
  body?: unknown;
  headers?: Record<string, string>;
}

type Answer = { status: number; body: Record<string, unknown> } | null;

/** Null: no answer came, and nobody knows whether it was done. */
async function send(door: Door, ledger: Ledger, { method, path, body, headers }: Ask): Promise<Answer> {
  ledger.attempts += 1;
  try {
    const answer = await fetch(`${door.url}${path}`, {
      method,
      headers: {
        authorization: `Bearer ${door.key}`,
        ...(body === undefined ? {} : { 'content-type': 'application/json' }),
        ...headers,
      },
      ...(body === undefined ? {} : { body: JSON.stringify(body) }),
      signal: AbortSignal.timeout(TIMEOUT_MS),
    });
    return { status: answer.status, body: (await answer.json()) as Record<string, unknown> };
  } catch {
    return null;
  }
}

/** Sends until it is acknowledged; at times twice at once, as an app does that lost its connection. */
async function insist(door: Door, ledger: Ledger, ask: Ask, going: () => boolean): Promise<boolean> {
  for (let tries = 0; tries < 400; tries++) {
    const twice = ledger.attempts % 7 === 0;
    const answers = await Promise.all([send(door, ledger, ask), twice ? send(door, ledger, ask) : null]);
    const good = answers.find((answer) => answer !== null && answer.status < 300);
    if (good) {
      ledger.acknowledged += 1;
      return true;
    }
    for (const answer of answers) {
      const isBusyKey = answer?.status === 409 && String(answer.body['type']).endsWith('busy');
      if (answer !== null && !PASSING.has(answer.status) && !isBusyKey)
        ledger.strange.push(
          `${ask.method} ${ask.path}: ${answer.status} ${JSON.stringify(answer.body).slice(0, 300)}`,
        );
    }
    if (!going()) return false;
    await sleep(30 + Math.min(tries, 10) * 20);
  }
  ledger.strange.push(`${ask.method} ${ask.path}: not acknowledged after 400 tries`);
  return false;
}

/** One writer at work until told to stop: every kind of write in turn. */
export async function write(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<void> {
  const own = randomUUID();
  if (!(await insist(door, ledger, newClient(own, `${name} own`), going))) return;
  ledger.clients.set(own, `${name} own`);
  ledger.counters.set(own, { note: 0, version: 1 });
  for (let round = 1; going(); round++) {
    await oneClient(door, ledger, `${name} ${round}`, going);
    await oneInspection(door, ledger, going);
    await oneBatch(door, ledger, `batch ${name} ${round}`, going);
    await oneKeyed(door, ledger, `keyed ${name} ${round}`, going);
    await oneChange(door, ledger, own, going);
  }
}

const newClient = (id: string, name: string): Ask => ({
  method: 'POST',
  path: '/v1/clients',
  body: { id, name },
});

async function oneClient(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<void> {
  const id = randomUUID();
  if (await insist(door, ledger, newClient(id, name), going)) ledger.clients.set(id, name);
}

async function oneInspection(door: Door, ledger: Ledger, going: () => boolean): Promise<void> {
  const id = randomUUID();
  const share = Math.round(Math.random() * 500) / 1000;
  // Every reading at an instant of its own: the same line, instant, phase and method twice is refused.
  const observedAt = new Date(
    Date.UTC(2020, 0, 1) + Math.floor(Math.random() * 5 * 365 * 86_400_000),
  ).toISOString();
  const body = {
    id,
    lineId: door.lineId,
    observedAt,
    phase: 'no_cleaning',
    reading: { method: 'camera', share },
  };
  if (await insist(door, ledger, { method: 'POST', path: '/v1/inspections', body }, going))
    ledger.inspections.set(id, share);
}

async function oneBatch(door: Door, ledger: Ledger, note: string, going: () => boolean): Promise<void> {
  const items = Array.from({ length: BATCH }, (_, i) => ({ id: randomUUID(), name: `${note} ${i}`, note }));
  if (await insist(door, ledger, { method: 'POST', path: '/v1/clients/batch', body: { items } }, going))
    ledger.batches.add(note);
}

async function oneKeyed(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<void> {
  const headers = { 'idempotency-key': `"${randomUUID()}"` };
  if (await insist(door, ledger, { method: 'POST', path: '/v1/clients', body: { name }, headers }, going))
    ledger.keyed.add(name);
}

/** A change under its version. No answer: the record itself says whether it was done. */
async function oneChange(door: Door, ledger: Ledger, id: string, going: () => boolean): Promise<void> {
  const at = ledger.counters.get(id);
  if (!at) return;
  const next = { note: at.note + 1, version: at.version + 1 };
  const headers = { 'if-match': `"${at.version}"` };
  for (let tries = 0; tries < 400 && (going() || tries > 0); tries++) {
    const body = { note: `count ${next.note}` };
    const answer = await send(door, ledger, { method: 'PATCH', path: `/v1/clients/${id}`, body, headers });
    const known = answer?.status === 200 || (answer?.status === 412 && (await isAt(door, ledger, id, next)));
    if (known) {
      ledger.acknowledged += 1;
      ledger.counters.set(id, next);
      return;
    }
    if (answer && answer.status !== 412 && !PASSING.has(answer.status))
      ledger.strange.push(`PATCH: ${answer.status} ${JSON.stringify(answer.body).slice(0, 300)}`);
    await sleep(50);
  }
}

async function isAt(
  door: Door,
  ledger: Ledger,
  id: string,
  { note, version }: { note: number; version: number },
): Promise<boolean> {
  const answer = await send(door, ledger, { method: 'GET', path: `/v1/clients/${id}` });
  return answer?.body['version'] === version && answer.body['note'] === `count ${note}`;
}
