import { randomUUID } from 'node:crypto';
import type { AddressInfo } from 'node:net';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';
import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { handOnEvents } from '../../src/actions/telling/handOn.js';
import type { Mailer } from '../../src/actions/telling/mailer.js';
import { sendMail } from '../../src/actions/telling/sendMail.js';
import { tellReminders } from '../../src/actions/telling/visits.js';
import { wakeOverdue } from '../../src/actions/telling/wakeOverdue.js';
import { smtpMail } from '../../src/outside/smtpMail.js';
import { FRIDAY, type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import { hurry, LOOPBACK, workPost } from '../setup/postHouse.js';
import type { Json } from '../setup/testHouse.js';

interface Got {
  to: string[];
  raw: string;
}

const got: Got[] = [];
/** What the server does with the next messages; null: takes them. */
let answer: ((taken: (error?: Error | null) => void) => void) | null = null;
let refuseTo: { responseCode: number } | null = null;
let refuseLogin = false;
const servers: SMTPServer[] = [];

async function smtp(options: SMTPServerOptions = {}): Promise<number> {
  const server = new SMTPServer({
    disabledCommands: ['STARTTLS'],
    authOptional: true,
    allowInsecureAuth: true,
    logger: false,
    onAuth: ({ username, password }, _session, done) =>
      refuseLogin || username !== 'office' || password !== 'secret'
        ? done(new Error('no'))
        : done(null, { user: username }),
    onRcptTo: (_address, _session, done) =>
      refuseTo ? done(Object.assign(new Error('no such mailbox'), refuseTo)) : done(),
    onData: (stream, session, done) => {
      const parts: Buffer[] = [];
      stream.on('data', (part: Buffer) => parts.push(part));
      stream.on('end', () => {
        const to = session.envelope.rcptTo.map(({ address }) => address);
        got.push({ to, raw: Buffer.concat(parts).toString() });
        if (answer) answer(done);
        else done();
      });
    },
    ...options,
  });
  server.on('error', () => undefined);
  servers.push(server);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return (server.server.address() as AddressInfo).port;
}

let t: PlannedHouse;
let mailer: Mailer;
const mailerAt = (port: number, more: Partial<Parameters<typeof smtpMail>[0]> = {}) =>
  smtpMail({
    host: '127.0.0.1',
    port,
    security: 'none',
    login: { user: 'office', secret: 'secret' },
    from: { name: 'Alder Quay Drainworks', address: 'office@alderquay.example' },
    publicUrl: 'https://drains.alderquay.example',
    outgoing: { allowed: LOOPBACK },
    timeoutMs: 1_000,
    ...more,
  });
beforeAll(async () => {
  t = await plannedHouse();
  mailer = mailerAt(await smtp());
}, 60_000);
afterAll(async () => {
  for (const server of servers) await new Promise<void>((resolve) => server.close(() => resolve()));
});
beforeEach(() => {
  got.length = 0;
  answer = null;
  refuseTo = null;
  refuseLogin = false;
  t.clock.at = new Date('2026-10-01T15:00:00Z');
});

/** A visit promised for Friday, 8 to 10, with one contact who has a mail address. */
async function promised(contact: object = {}): Promise<{ order: string; contact: string; site: string }> {
  const order = await t.order({ east: 1, north: 1, task: 'inspect' });
  await t.promise(order, FRIDAY, '08:00', '10:00');
  const site = String((await t.house.stores.rows.get('work_order', order))?.['site_id']);
  const [person] = await t.house.stores.rows.all('contact', [{ column: 'site_id', is: '=', value: site }]);
  const id = String(person?.['id']);
  await t.house.stores.rows.update('contact', id, { email: `reed-${id}@example.org`, ...contact });
  return { order, contact: id, site };
}
const remind = () => t.house.transact({ name: 'test' }, (stores) => tellReminders(stores, THURSDAY, FRIDAY));
const mailsTo = async (contactId: string): Promise<Json[]> =>
  (await t.call('dispatcher', { method: 'GET', url: `/v1/mails?contactId=${contactId}` })).body.items;
async function only(contactId: string): Promise<Json> {
  const all = await mailsTo(contactId);
  expect(all).toHaveLength(1);
  return all[0];
}
/** The body of a quoted-printable or plain mail. */
const bodyOf = (raw: string): string =>
  raw
    .slice(raw.indexOf('\r\n\r\n') + 4)
    .replace(/=\r\n/g, '')
    .replace(/=([0-9A-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));

test('a promised visit is reminded of in plain words, once', async () => {
  const { order, contact } = await promised();
  const number = (await t.house.stores.rows.get('work_order', order))?.['number'];
  await remind();
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  const raw = got[0]?.raw ?? '';
  expect(raw).toContain('From: Alder Quay Drainworks <office@alderquay.example>');
  expect(raw).toContain('Subject: Our visit on Fri 2 Oct 2026');
  expect(raw).toMatch(/List-Unsubscribe:\s+<https:\/\/drains\.alderquay\.example\/unsubscribe\/[\w-]{43}>/);
  expect(raw).toContain('List-Unsubscribe-Post: List-Unsubscribe=One-Click');
  expect(bodyOf(raw)).toContain('Hello A. Reed,');
  expect(bodyOf(raw)).toContain(
    `we come to 1 Marsh Gate, Brindle on Fri 2 Oct 2026 between 8:00 and 10:00 to look after your drains (order ${number}).`,
  );
  expect(bodyOf(raw)).toContain('Kind regards\r\nAlder Quay Drainworks');
  expect(await only(contact)).toMatchObject({ state: 'sent', kind: 'reminder', tries: 1, lastError: null });
  await remind();
  await workPost(t, { mailer });
  await hurry(t);
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
});

test('two instances that wake at the same moment tell, hand on and send everything once', async () => {
  const visits = [await promised(), await promised(), await promised()];
  await Promise.all([remind(), remind()]);
  await Promise.all([handOnEvents(t.house, true), handOnEvents(t.house, true)]);
  const ids = (await Promise.all(visits.map(({ contact }) => only(contact)))).map(({ id }) => String(id));
  // While the server takes its time the other instance finds the mail begun.
  answer = (taken) => void setTimeout(() => taken(), 300);
  await Promise.all([...ids, ...ids].map((id) => sendMail(t.house, mailer, id)));
  expect(got).toHaveLength(3);
  for (const { contact } of visits) expect(await only(contact)).toMatchObject({ state: 'sent', tries: 1 });
  await Promise.all([workPost(t, { mailer }), workPost(t, { mailer })]);
  expect(got).toHaveLength(3);
});

test('without a mail server nothing waits for one', async () => {
  const { contact } = await promised();
  await remind();
  await workPost(t, { mailer: null });
  expect(await mailsTo(contact)).toEqual([]);
});

test('who wants no mail gets none, nor who was withdrawn from, moved or archived before it went', async () => {
  const cases = [
    await promised({ opt_out: true }),
    await promised({ no_mail: true }),
    await promised({ email: null }),
  ];
  const withdrawn = await promised();
  const moved = await promised();
  const archived = await promised();
  await remind();
  // Handed on, not yet sent.
  await workPost(t, {
    mailer: { ...mailer, send: async () => ({ kind: 'refused', forGood: false, because: 'busy' }) },
  });
  await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${withdrawn.order}/withdrawal`,
    payload: { because: 'sold' },
  });
  await t.pool.query(`UPDATE promise SET ended_at = now() WHERE work_order_id = $1`, [moved.order]);
  await t.promise(moved.order, '2026-10-06', '08:00', '10:00');
  await t.house.stores.rows.update('contact', archived.contact, { archived_on: THURSDAY });
  await hurry(t);
  await workPost(t, { mailer });
  expect(got).toEqual([]);
  for (const { contact } of cases) expect(await mailsTo(contact)).toEqual([]);
  expect(await only(withdrawn.contact)).toMatchObject({
    state: 'dropped',
    droppedBecause: 'the work was withdrawn',
  });
  expect(await only(moved.contact)).toMatchObject({
    droppedBecause: 'the visit is not on that day any more',
  });
  expect(await only(archived.contact)).toMatchObject({ droppedBecause: 'the contact is archived' });
});

test('at night a reminder waits for the morning, a crew on its way does not', async () => {
  const { contact, order } = await promised();
  await remind();
  t.clock.at = new Date('2026-10-02T04:00:00Z'); // 23:00 on Thursday in Chicago
  await workPost(t, { mailer });
  expect(got).toEqual([]);
  const waiting = await only(contact);
  expect(waiting).toMatchObject({ state: 'waiting', tries: 0 });
  // Until 7:00: eight hours.
  expect((Date.parse(waiting.nextTryAt) - Date.now()) / 3_600_000).toBeCloseTo(8, 1);
  const said = await t.call('dispatcher', {
    method: 'POST',
    url: `/v1/work-orders/${order}/on-the-way`,
    payload: { leftAt: '2026-10-02T03:55:00Z', expectedAt: '2026-10-02T04:20:00Z' },
  });
  expect(said.status, said.text).toBe(200);
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  expect(got[0]?.raw).toContain('Subject: Our crew is on its way, about 23:20');
  t.clock.at = new Date('2026-10-01T15:00:00Z');
});

test('a server that is busy is asked again; a mailbox that does not exist ends it, and is said', async () => {
  const busy = await promised();
  await remind();
  refuseTo = { responseCode: 451 };
  await workPost(t, { mailer });
  const waiting = await only(busy.contact);
  expect(waiting).toMatchObject({
    state: 'waiting',
    tries: 1,
    lastError: 'the mail server refused RCPT TO (451)',
  });
  refuseTo = { responseCode: 550 };
  await hurry(t);
  await workPost(t, { mailer });
  expect(await only(busy.contact)).toMatchObject({ state: 'failed', tries: 2 });
  expect(got).toEqual([]);
  const events = (
    await t.call('owner', { method: 'GET', url: `/v1/events?type=mail_not_sent&workOrderId=${busy.order}` })
  ).body.items;
  expect(events).toHaveLength(1);
  expect(events[0].text).toBe(
    'A mail (reminder due) could not be sent: the mail server refused RCPT TO (550).',
  );
  // A person has mended the address.
  refuseTo = null;
  const [mail] = await mailsTo(busy.contact);
  expect((await t.call('dispatcher', { method: 'POST', url: `/v1/mails/${mail.id}/sending` })).status).toBe(
    202,
  );
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  expect(await only(busy.contact)).toMatchObject({ state: 'sent' });
  expect((await t.call('dispatcher', { method: 'POST', url: `/v1/mails/${mail.id}/sending` })).status).toBe(
    409,
  );
});

test('a wrong login and a server that is away are tried again, and dead after the last try', async () => {
  const { contact, order } = await promised();
  await remind();
  refuseLogin = true;
  await workPost(t, { mailer });
  expect(await only(contact)).toMatchObject({
    state: 'waiting',
    lastError: 'the mail server refused the login (535)',
  });
  refuseLogin = false;
  const away = mailerAt(9);
  for (let i = 0; i < 8; i++) {
    await hurry(t);
    await workPost(t, { mailer: away });
  }
  expect(await only(contact)).toMatchObject({
    state: 'failed',
    tries: 7,
    lastError: expect.stringContaining('could not be talked to'),
  });
  const { body } = await t.call('owner', {
    method: 'GET',
    url: `/v1/events?type=mail_not_sent&workOrderId=${order}`,
  });
  expect(body.items).toHaveLength(1);
});

test('a server that falls silent after the message leaves it uncertain: not sent again by itself', async () => {
  const { contact, order } = await promised();
  await remind();
  answer = () => undefined;
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  expect(await only(contact)).toMatchObject({ state: 'uncertain', nextTryAt: null });
  answer = null;
  await hurry(t);
  await workPost(t, { mailer });
  await wakeOverdue(t.house);
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  const { body } = await t.call('owner', {
    method: 'GET',
    url: `/v1/events?type=mail_not_sent&workOrderId=${order}`,
  });
  expect(body.items[0].facts.uncertain).toBe(true);
});

test('a message the server refuses after it was sent is certain not to have gone out', async () => {
  const { contact } = await promised();
  await remind();
  answer = (taken) => taken(Object.assign(new Error('full'), { responseCode: 452 }));
  await workPost(t, { mailer });
  expect(await only(contact)).toMatchObject({
    state: 'waiting',
    lastError: 'the mail server refused DATA (452)',
  });
  answer = null;
  await hurry(t);
  await workPost(t, { mailer });
  expect(await only(contact)).toMatchObject({ state: 'sent', tries: 2 });
  // The same message to whoever compares.
  const ids = got.map(({ raw }) => /^Message-ID: (.+)$/im.exec(raw)?.[1]);
  expect(new Set(ids).size).toBe(1);
});

test('killed in the middle of a conversation: uncertain, said, and not sent again', async () => {
  const { contact } = await promised();
  await remind();
  const dying: Mailer = {
    ...mailer,
    async send(letter) {
      await mailer.send(letter);
      throw new Error('killed');
    },
  };
  await workPost(t, { mailer: dying });
  expect(got).toHaveLength(1);
  expect(await only(contact)).toMatchObject({ state: 'sending', tries: 1 });
  await t.pool.query('DELETE FROM graphile_worker._private_jobs');
  expect((await wakeOverdue(t.house)).uncertain).toBe(0);
  await t.pool.query(`UPDATE mail SET lease_until = now() - interval '1 second' WHERE state = 'sending'`);
  expect((await wakeOverdue(t.house)).uncertain).toBe(1);
  await workPost(t, { mailer });
  expect(got).toHaveLength(1);
  expect(await only(contact)).toMatchObject({
    state: 'uncertain',
    lastError: expect.stringContaining('went away'),
  });
});

test('the link in a mail asks first, then ends all mails to its reader; a mail program ends them in one', async () => {
  for (const oneClick of [false, true]) {
    const { contact } = await promised();
    await remind();
    await workPost(t, { mailer });
    const raw = got.at(-1)?.raw ?? '';
    const path = /<https:\/\/drains\.alderquay\.example(\/unsubscribe\/[\w-]+)>/.exec(raw)?.[1] ?? '';
    const asked = await t.call(null, { method: 'GET', url: path });
    expect(asked.status).toBe(200);
    expect(asked.text).toContain('<form method="post">');
    expect((await t.house.stores.rows.get('contact', contact))?.['no_mail']).toBe(false);
    const done = await t.call(null, {
      method: 'POST',
      url: path,
      ...(oneClick
        ? {
            headers: { 'content-type': 'application/x-www-form-urlencoded' },
            payload: 'List-Unsubscribe=One-Click',
          }
        : {}),
    });
    expect(done.status).toBe(200);
    const after = await t.house.stores.rows.get('contact', contact);
    expect(after).toMatchObject({ no_mail: true, opt_out: false });
    got.length = 0;
  }
  for (const url of ['/unsubscribe/guess', `/unsubscribe/${'a'.repeat(150)}`])
    expect((await t.call(null, { method: 'POST', url })).status, url).toBeGreaterThanOrEqual(400);
  // The token is kept nowhere but in the mail.
  const { rows } = await t.pool.query('SELECT length(hash) AS bytes FROM unsubscribe_link LIMIT 1');
  expect(rows[0].bytes).toBe(32);
});

test('one mail a mail address, and the client where nobody at the site has one', async () => {
  const shared = await promised({ email: 'House@example.org' });
  await t.house.stores.rows.insert('contact', {
    id: randomUUID(),
    site_id: shared.site,
    name: 'B. Reed',
    email: 'house@example.org',
  });
  const lone = await promised({ email: null });
  const client = randomUUID();
  const keeper = randomUUID();
  await t.house.stores.rows.insert('client', { id: client, name: 'Reed' });
  await t.house.stores.rows.insert('site_client', {
    id: randomUUID(),
    site_id: lone.site,
    client_id: client,
  });
  await t.house.stores.rows.insert('contact', {
    id: keeper,
    client_id: client,
    name: 'C. Reed',
    email: 'client@example.org',
  });
  await remind();
  await workPost(t, { mailer });
  expect(got.flatMap(({ to }) => to.map((address) => address.toLowerCase())).sort()).toEqual([
    'client@example.org',
    'house@example.org',
  ]);
});

test('what was done is told, what was not done is not; the owner may switch a kind off', async () => {
  const settings = await t.call('owner', { method: 'GET', url: '/v1/settings' });
  const off = await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    payload: { telling: { mailReminder: false } },
    headers: { 'if-match': String(settings.headers['etag']) },
  });
  expect(off.status, off.text).toBe(200);
  const finish = async (result: object) => {
    const visit = await promised();
    await t.call('dispatcher', {
      method: 'POST',
      url: `/v1/work-orders/${visit.order}/start`,
      payload: { startedAt: '2026-10-01T14:00:00Z', cautionsSeen: true },
    });
    const ended = await t.call('dispatcher', {
      method: 'POST',
      url: `/v1/work-orders/${visit.order}/finish`,
      payload: { endedAt: '2026-10-01T14:40:00Z', flowProven: 'yes', water: { receiver: 'none' }, ...result },
    });
    expect(ended.status, ended.text).toBe(200);
    return visit;
  };
  await remind();
  const done = await finish({ result: 'done' });
  const notDone = await finish({ result: 'not_done', reason: 'no_one_home' });
  await workPost(t, { mailer });
  expect(await only(done.contact)).toMatchObject({ kind: 'done', state: 'sent' });
  expect(await mailsTo(notDone.contact)).toEqual([]);
  expect(got).toHaveLength(1);
  expect(bodyOf(got[0]?.raw ?? '')).toContain('on Thu 1 Oct 2026');
  expect(bodyOf(got[0]?.raw ?? '')).toContain('The work is done.');
});

test('a mail server inside that nobody allowed is not talked to, and one without TLS is not trusted', async () => {
  const port = await smtp();
  const letter = {
    to: 'a@example.org',
    subject: 'x',
    text: 'x',
    messageId: '<x@example.org>',
    unsubscribeUrl: 'https://example.org/u',
  };
  const inside = mailerAt(port, {
    host: 'mail.example.org',
    outgoing: {
      allowed: { host: () => false, address: () => false },
      resolve: async () => [{ address: '127.0.0.1', family: 4 }],
    },
  });
  expect(await inside.send(letter)).toMatchObject({
    kind: 'refused',
    because: expect.stringContaining('loopback'),
  });
  // This server offers no STARTTLS.
  expect(await mailerAt(port, { security: 'starttls' }).send(letter)).toMatchObject({
    kind: 'refused',
    forGood: false,
  });
  expect(got).toEqual([]);
});

test('an owner with an address is written when a webhook is made or sent elsewhere, nobody else is', async () => {
  const post = (url: string, payload: object) => t.call('owner', { method: 'POST', url, payload });
  const person = async (name: string, role: string, email: string | null): Promise<string> => {
    const { body } = await post('/v1/members', { name, email });
    expect((await post('/v1/keys', { name, roles: [role], memberId: body.id })).status).toBe(201);
    return body.id;
  };
  await person('Ada Marsh', 'owner', 'ada@alderquay.example');
  await person('Wren Marsh', 'owner', null);
  await person('Fen Marsh', 'dispatcher', 'fen@alderquay.example');
  const wanted = {
    id: randomUUID(),
    url: 'https://hooks.alderquay.example/a',
    eventTypes: ['incident', 'line_plugged'],
  };
  const { body: made } = await post('/v1/webhook-endpoints', wanted);
  // Sent once more it is the same endpoint, and no news.
  expect((await post('/v1/webhook-endpoints', wanted)).body.id).toBe(made.id);
  await workPost(t, { mailer });
  expect(got.map(({ to }) => to)).toEqual([['ada@alderquay.example']]);
  const first = got.splice(0)[0]?.raw ?? '';
  expect(first).toContain('Subject: A new webhook was set up');
  expect(bodyOf(first).replaceAll(/\s+/g, ' ')).toContain(
    'owner made a webhook to hooks.alderquay.example: from now on it is sent incident, line plugged.',
  );
  const moved = await t.call('owner', {
    method: 'PATCH',
    url: `/v1/webhook-endpoints/${made.id}`,
    headers: { 'if-match': '*' },
    payload: { url: 'https://hooks.elsewhere.example/a' },
  });
  expect(moved.status, moved.text).toBe(200);
  await workPost(t, { mailer });
  expect(got.map(({ to }) => to)).toEqual([['ada@alderquay.example']]);
  const raw = got[0]?.raw ?? '';
  expect(bodyOf(raw).replaceAll(/\s+/g, ' ')).toContain(
    'owner had the webhook to hooks.alderquay.example sent to hooks.elsewhere.example from now on, with a new secret.',
  );
  expect(raw).toContain('Subject: A webhook was sent elsewhere');
  expect(raw).not.toContain('List-Unsubscribe');
});

test('a letter to an owner is tried as long as any mail while the server is away; in the end that is told, and no dead job stays', async () => {
  const moves = async (): Promise<string> => {
    const headers = { 'if-match': '*' };
    const { body: made } = await t.call('owner', {
      method: 'POST',
      url: '/v1/webhook-endpoints',
      payload: { url: 'https://hooks.alderquay.example/b', eventTypes: ['incident'] },
    });
    await workPost(t, { mailer });
    got.length = 0;
    const payload = { url: 'https://hooks.elsewhere.example/b' };
    await t.call('owner', { method: 'PATCH', url: `/v1/webhook-endpoints/${made.id}`, headers, payload });
    return made.id;
  };
  const jobs = async () =>
    (
      await t.pool.query(
        `SELECT attempts, extract(epoch FROM run_at - now())::float8 AS wait FROM graphile_worker.jobs WHERE key LIKE 'owner_mail:%'`,
      )
    ).rows;
  const untold = async () =>
    (await t.call('owner', { method: 'GET', url: '/v1/events?type=mail_not_sent' })).body.items.filter(
      ({ facts }: Json) => facts.eventType === 'webhook_moved',
    );
  // Refused for a while, as greylisting does: a minute later it is taken.
  await moves();
  refuseTo = { responseCode: 451 };
  await workPost(t, { mailer });
  const [put] = await jobs();
  expect(put).toMatchObject({ attempts: 0 });
  expect(put.wait).toBeGreaterThan(40);
  expect(put.wait).toBeLessThan(75);
  refuseTo = null;
  await hurry(t);
  await workPost(t, { mailer });
  expect(got.map(({ to }) => to)).toEqual([['ada@alderquay.example']]);
  await expect.poll(jobs).toEqual([]); // the queue takes a done job off a moment later
  // Away for good: seven tries, six waits.
  await moves();
  const away = mailerAt(9);
  for (let tries = 1; tries <= 7; tries++) {
    expect(await untold(), `after ${tries - 1} tries`).toEqual([]);
    await hurry(t);
    await workPost(t, { mailer: away });
  }
  expect(await untold()).toHaveLength(1);
  await expect.poll(jobs).toEqual([]); // the queue takes a done job off a moment later
});
