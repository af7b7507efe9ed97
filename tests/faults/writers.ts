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
  counters: Map<string, Count>;
  acknowledged: number;
  attempts: number;
  /** Requests sent and not answered yet. */
  inFlight: number;
  /** Acknowledged writes sent once more after newer ones, and changes sent ahead of the one before them. */
  late: number;
  early: number;
  /** How often each status of refusal came. */
  refusals: Map<number, number>;
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
  inFlight: 0,
  late: 0,
  early: 0,
  refusals: new Map(),
  strange: [],
});

export interface Door {
  url: string;
  key: string;
  lineIds: readonly string[];
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
  ledger.inFlight += 1;
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
    const answered = { status: answer.status, body: (await answer.json()) as Record<string, unknown> };
    if (answer.status >= 400) noteRefusal(ledger, answered, answer.headers.get('content-type'));
    return answered;
  } catch {
    return null;
  } finally {
    ledger.inFlight -= 1;
  }
}

/** Whatever the fault, who is refused gets a problem document. */
function noteRefusal(ledger: Ledger, { status, body }: NonNullable<Answer>, type: string | null): void {
  ledger.refusals.set(status, (ledger.refusals.get(status) ?? 0) + 1);
  if (!type?.startsWith('application/problem+json') || body['status'] !== status)
    ledger.strange.push(
      `${status} that is no problem document: ${type} ${JSON.stringify(body).slice(0, 300)}`,
    );
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
    await sleep(30 + Math.min(tries, 10) * 40);
  }
  ledger.strange.push(`${ask.method} ${ask.path}: not acknowledged after 400 tries`);
  return false;
}

/** One writer at work until told to stop: every kind of write in turn, and now and then an old one again. */
export async function write(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<void> {
  const own = randomUUID();
  const making = newClient(own, `${name} own`);
  if (!(await insist(door, ledger, making, going))) return;
  ledger.clients.set(own, `${name} own`);
  ledger.counters.set(own, { note: 0, version: 1 });
  const sent = [making];
  for (let round = 1; going(); round++) {
    sent.push(
      await oneClient(door, ledger, `${name} ${round}`, going),
      await oneInspection(door, ledger, going),
      await oneBatch(door, ledger, `batch ${name} ${round}`, going),
      await oneKeyed(door, ledger, `keyed ${name} ${round}`, going),
    );
    await oneChange(door, ledger, own, going);
    await lateAgain(door, ledger, own, sent);
  }
}

/**
 * A copy that was long under way and comes after newer writes: it may neither double nor undo anything, and a change
 * under a version that has passed is refused.
 */
async function lateAgain(door: Door, ledger: Ledger, own: string, sent: readonly Ask[]): Promise<void> {
  const ask = sent[Math.floor(Math.random() * sent.length)];
  const at = ledger.counters.get(own);
  if (!ask || !at) return;
  ledger.late += 2;
  const [, stale] = await Promise.all([
    send(door, ledger, ask),
    at.version < 3 ? null : send(door, ledger, change(own, { note: at.note - 1, version: at.version - 1 })),
  ]);
  if (stale && stale.status < 300)
    ledger.strange.push(`a change under a version that had passed was answered ${stale.status}`);
}

const newClient = (id: string, name: string): Ask => ({
  method: 'POST',
  path: '/v1/clients',
  body: { id, name },
});

async function oneClient(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<Ask> {
  const id = randomUUID();
  const ask = newClient(id, name);
  if (await insist(door, ledger, ask, going)) ledger.clients.set(id, name);
  return ask;
}

async function oneInspection(door: Door, ledger: Ledger, going: () => boolean): Promise<Ask> {
  const id = randomUUID();
  const share = Math.round(Math.random() * 500) / 1000;
  // Every reading at an instant of its own: the same line, instant, phase and method twice is refused.
  const observedAt = new Date(
    Date.UTC(2020, 0, 1) + Math.floor(Math.random() * 5 * 365 * 86_400_000),
  ).toISOString();
  const body = {
    id,
    lineId: door.lineIds[Math.floor(Math.random() * door.lineIds.length)],
    observedAt,
    phase: 'no_cleaning',
    reading: { method: 'camera', share },
  };
  const ask: Ask = { method: 'POST', path: '/v1/inspections', body };
  if (await insist(door, ledger, ask, going)) ledger.inspections.set(id, share);
  return ask;
}

async function oneBatch(door: Door, ledger: Ledger, note: string, going: () => boolean): Promise<Ask> {
  const items = Array.from({ length: BATCH }, (_, i) => ({ id: randomUUID(), name: `${note} ${i}`, note }));
  const ask: Ask = { method: 'POST', path: '/v1/clients/batch', body: { items } };
  if (await insist(door, ledger, ask, going)) ledger.batches.add(note);
  return ask;
}

async function oneKeyed(door: Door, ledger: Ledger, name: string, going: () => boolean): Promise<Ask> {
  const headers = { 'idempotency-key': `"${randomUUID()}"` };
  const ask: Ask = { method: 'POST', path: '/v1/clients', body: { name }, headers };
  if (await insist(door, ledger, ask, going)) ledger.keyed.add(name);
  return ask;
}

interface Count {
  note: number;
  version: number;
}

const after = ({ note, version }: Count): Count => ({ note: note + 1, version: version + 1 });

/** The change that takes a client to this count. */
const change = (id: string, { note, version }: Count): Ask => ({
  method: 'PATCH',
  path: `/v1/clients/${id}`,
  body: { note: `count ${note}` },
  headers: { 'if-match': `"${version - 1}"` },
});

/**
 * A change under its version, at times with the one after it sent ahead. No answer, or its version has passed: the
 * record itself says whether it was done.
 */
async function oneChange(door: Door, ledger: Ledger, id: string, going: () => boolean): Promise<void> {
  const at = ledger.counters.get(id);
  if (!at) return;
  const next = after(at);
  let atRest = 0;
  for (let tries = 0; tries < 400; tries++) {
    // The others rest, the service is back: what it does not know by then it has lost.
    if (!going() && (tries === 0 || ++atRest > 40)) break;
    const isAhead = tries === 0 && next.version % 3 === 0;
    if (isAhead) ledger.early += 1;
    const [, answer] = await Promise.all([
      isAhead ? send(door, ledger, change(id, after(next))) : null,
      send(door, ledger, change(id, next)),
    ]);
    if (answer?.status === 200 || (answer?.status === 412 && (await isAt(door, ledger, id, next)))) {
      ledger.acknowledged += 1;
      ledger.counters.set(id, next);
      return;
    }
    if (answer && answer.status !== 412 && !PASSING.has(answer.status))
      ledger.strange.push(`PATCH: ${answer.status} ${JSON.stringify(answer.body).slice(0, 300)}`);
    await sleep(50 + Math.min(tries, 10) * 40);
  }
  if (going()) ledger.strange.push(`change ${next.note} of ${id}: not acknowledged after 400 tries`);
}

/** Whether the record has come to this count; the change after it may be done as well. */
async function isAt(door: Door, ledger: Ledger, id: string, { version }: Count): Promise<boolean> {
  const answer = await send(door, ledger, { method: 'GET', path: `/v1/clients/${id}` });
  const found = Number(answer?.body['version']);
  return found >= version && answer?.body['note'] === `count ${found - 1}`;
}
