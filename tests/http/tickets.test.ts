import { beforeAll, expect, test } from 'vitest';
import { addDays, daysBetween } from '../../src/domain/calendar/isoDate.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** What keeps a crew from digging: tickets and what they cover, their rules, rain, and who was told of an incident. */
let t: TestHouse;
let serial = 0;

type Who = 'owner' | 'dispatcher';
async function ask(method: 'GET' | 'POST' | 'PATCH', url: string, payload?: object, who: Who = 'owner') {
  const headers = method === 'PATCH' ? { 'if-match': '*' } : {};
  return t.call(who, { method, url, ...(payload ? { payload } : {}), headers });
}
async function post(url: string, payload: object = {}, status = 201): Promise<Json> {
  const answer = await ask('POST', url, payload);
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
async function get(url: string): Promise<Json> {
  const answer = await ask('GET', url);
  expect(answer.status, answer.text).toBe(200);
  return answer.body;
}
const firstFault = (body: Json) => [body.errors[0].pointer, body.errors[0].detail];

const HOURS = { notice: 48, noticeUnit: 'hour', callDayCounts: true };
const ruleOf = (more: object, status = 201) =>
  post(
    '/v1/locate-rules',
    {
      name: `Rule ${++serial}`,
      ...HOURS,
      source: 'test',
      confirmedBy: 'Owner',
      confirmedOn: '2026-06-01',
      ...more,
    },
    status,
  );
let hours: Json;

async function houseOf(address: string) {
  const site = await post('/v1/sites', { address, town: 'Brindle', area: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  const line = (name: string, kind: string) =>
    post('/v1/lines', { siteId: site.id, systemId: system.id, name, kind, outlet: 'daylight' });
  return {
    site,
    discharge: await line('Discharge', 'sump_discharge'),
    footing: await line('Footing', 'footing_drain'),
  };
}
const order = (siteId: string, kind: string, lineId: string, more: object = {}) =>
  post('/v1/work-orders', { siteId, because: 'crushed', tasks: [{ kind, lineId }], ...more });
const waits = async (id: string): Promise<Json[]> => (await get(`/v1/work-orders/${id}`)).waitsFor;
const open = async (id: string): Promise<string[]> =>
  (await waits(id)).filter(({ state }) => state === 'open').map(({ kind }) => kind);
async function meet(orderId: string, kind: string, facts: object) {
  const { items } = await get(`/v1/preconditions?workOrderId=${orderId}&kind=${kind}`);
  const answer = await ask('PATCH', `/v1/preconditions/${items[0].id}`, { state: 'met', facts });
  expect(answer.status, answer.text).toBe(200);
}
const QUOTE = {
  lines: 'discharge',
  notToExceedMinor: 900_000,
  acceptedBy: 'A. Sedge',
  acceptedAt: '2026-06-01T10:00:00Z',
};
/** A ticket called two hours ago and answered; what is open on it. */
async function called(orderId: string, number: string): Promise<Json> {
  const ticket = await post(`/v1/work-orders/${orderId}/locate-tickets`, {
    ruleId: hours.id,
    number,
    calledAt: '2026-06-01T10:00:00Z',
    utilities: ['gas'],
  });
  return post(
    `/v1/locate-tickets/${ticket.id}/news`,
    {
      answers: [{ utility: 'gas', answer: 'clear', at: '2026-06-01T11:00:00Z' }],
      privateLinesLocatedAt: '2026-06-01T11:30:00Z',
    },
    200,
  );
}

beforeAll(async () => {
  t = await testHouse('2026-06-01T12:00:00Z');
  hours = await ruleOf({ life: 14, lifeUnit: 'calendar_day' });
}, 60_000);

test('of two orders that become one visit the open precondition wins, and a ticket covers its own dig only', async () => {
  const { site, discharge, footing } = await houseOf('1 Sluice Row');
  const ready = await order(site.id, 'dig_and_replace', discharge.id);
  await meet(ready.id, 'quote_accepted', QUOTE);
  await meet(ready.id, 'parts', { pipe: '4 in' });
  await post(`/v1/work-orders/${ready.id}/discharge-plan`, { receiver: 'caught', sludgeTo: 'depot' });
  const ticket = await called(ready.id, 'T-for-discharge');
  expect(ticket.digs).toEqual([{ kind: 'dig_and_replace', lineId: discharge.id, pitId: null }]);
  expect(await open(ready.id)).toEqual([]);
  const other = await order(site.id, 'dig_and_replace', footing.id);
  const all = ['discharge_plan', 'locate_ticket', 'parts', 'quote_accepted'];
  expect((await open(other.id)).sort()).toEqual(all);

  const joined = await post(`/v1/work-orders/${other.id}/joining`, { into: ready.id }, 200);
  expect((await open(ready.id)).sort()).toEqual(all);
  // What was accepted for the first dig stays on record, after what is open.
  const quotes = joined.waitsFor.filter(({ kind }: Json) => kind === 'quote_accepted');
  expect(quotes.map(({ state }: Json) => state)).toEqual(['open', 'met']);
  expect([quotes[0].facts.joinedFrom, quotes[1].facts]).toEqual([`order ${other.number}`, QUOTE]);
  const uncovered = 'the ticket was not called for this dig: dig and replace on Footing';
  const waiting = joined.waitsFor.find(({ kind }: Json) => kind === 'locate_ticket');
  expect([waiting.state, waiting.facts.open]).toEqual(['open', uncovered]);
  const start = { startedAt: '2026-06-01T12:00:00Z', cautionsSeen: true };
  const refused = await post(`/v1/work-orders/${ready.id}/start`, start, 422);
  expect(refused.errors.map(({ detail }: Json) => detail).sort()).toEqual(
    all.map((kind) => `${kind} is open`),
  );

  // More news of the old ticket does not make it cover the other dig; a new one for both does.
  const news = { privateLinesLocatedAt: '2026-06-01T11:45:00Z' };
  expect((await post(`/v1/locate-tickets/${ticket.id}/news`, news, 200)).open).toEqual([uncovered]);
  expect(await open(ready.id)).toContain('locate_ticket');
  expect((await called(ready.id, 'T-for-both')).digs).toHaveLength(2);
  expect(await open(ready.id)).not.toContain('locate_ticket');
});

test('a ready order joined to one that is not does not make it ready, and what only one needs goes along', async () => {
  const { site, discharge, footing } = await houseOf('2 Sluice Row');
  const ready = await order(site.id, 'replace_outlet', discharge.id);
  await meet(ready.id, 'quote_accepted', QUOTE);
  await meet(ready.id, 'parts', { pipe: '4 in' });
  await called(ready.id, 'T-outlet');
  expect(await open(ready.id)).toEqual([]);
  const bare = await order(site.id, 'add_cleanout', footing.id);
  await post(`/v1/work-orders/${ready.id}/joining`, { into: bare.id }, 200);
  expect((await open(bare.id)).sort()).toEqual(['locate_ticket', 'parts', 'quote_accepted']);

  const { site: next, footing: line } = await houseOf('3 Sluice Row');
  const dig = await order(next.id, 'replace_outlet', line.id);
  await meet(dig.id, 'quote_accepted', QUOTE);
  await meet(dig.id, 'parts', { pipe: '4 in' });
  await called(dig.id, 'T-alone');
  const look = await order(next.id, 'inspect', line.id);
  await post(`/v1/work-orders/${dig.id}/joining`, { into: look.id }, 200);
  expect(await open(look.id)).toEqual([]);
  expect((await waits(look.id)).find(({ kind }) => kind === 'locate_ticket').facts.number).toBe('T-alone');
  // A price taken for the visit meets the quote that is open, not the one that was met.
  const second = await order(next.id, 'add_cleanout', line.id);
  await post(`/v1/work-orders/${second.id}/joining`, { into: look.id }, 200);
  await meet(look.id, 'parts', { pipe: '4 in' });
  expect((await open(look.id)).sort()).toEqual(['locate_ticket', 'parts', 'quote_accepted']);
});

test('marks seen before the last utility marked do not count for it', async () => {
  const { site, discharge } = await houseOf('4 Sluice Row');
  const dig = await order(site.id, 'replace_outlet', discharge.id);
  const ticket = await post(`/v1/work-orders/${dig.id}/locate-tickets`, {
    ruleId: hours.id,
    calledAt: '2026-06-01T09:00:00Z',
    utilities: ['Gas', 'Power'],
  });
  const news = async (payload: object) =>
    (await post(`/v1/locate-tickets/${ticket.id}/news`, payload, 200)).open;
  const marked = (utility: string, at: string) => ({ answers: [{ utility, answer: 'marked', at }] });
  await news({ ...marked('Gas', '2026-06-01T09:30:00Z'), privateLinesLocatedAt: '2026-06-01T09:30:00Z' });
  expect(await news({ marksSeenAt: '2026-06-01T10:00:00Z' })).toEqual(['Power has not answered']);
  const late = ['Power marked after the marks were seen: see its marks'];
  expect(await news(marked('Power', '2026-06-01T11:00:00Z'))).toEqual(late);
  expect(await open(dig.id)).toContain('locate_ticket');
  expect(await news({ marksSeenAt: '2026-06-01T11:10:00Z' })).toEqual([]);
  expect(await open(dig.id)).not.toContain('locate_ticket');
});

test('a rule of business days lists its holidays, and no ticket is counted past the years listed', async () => {
  const days = { notice: 2, noticeUnit: 'business_day', callDayCounts: false };
  const bare = await ruleOf(days, 422);
  expect(firstFault(bare)[0]).toBe('#/holidays');
  const draft = await ruleOf({ ...days, confirmedBy: null, confirmedOn: null });
  const confirm = { confirmedBy: 'Owner', confirmedOn: '2026-06-01' };
  const refused = await ask('PATCH', `/v1/locate-rules/${draft.id}`, confirm);
  expect([refused.status, refused.body.errors[0].pointer]).toEqual([422, '#/holidays']);
  const within = { startWithinDays: 10, startWithinUnit: 'business_day' };
  expect((await ask('PATCH', `/v1/locate-rules/${hours.id}`, within)).status).toBe(422);
  const listed = { ...confirm, ...within, holidays: ['2026-07-03', '2026-12-25'] };
  expect((await ask('PATCH', `/v1/locate-rules/${draft.id}`, listed)).status).toBe(200);

  const { site, discharge } = await houseOf('5 Sluice Row');
  const dig = await order(site.id, 'replace_outlet', discharge.id);
  const call = (calledAt: string, more: object = {}, status = 201) => {
    t.clock.at = new Date(calledAt);
    const ticket = { ruleId: draft.id, calledAt, utilities: ['gas'], ...more };
    return post(`/v1/work-orders/${dig.id}/locate-tickets`, ticket, status);
  };
  const now = t.clock.at;
  // Monday 22 June; Tuesday and Wednesday pass. The tenth business day after it is Tuesday 7 July.
  expect(await call('2026-06-22T15:00:00Z')).toMatchObject({ firstDay: '2026-06-25', beginBy: '2026-07-07' });
  // Tuesday 29 December: Wednesday, Thursday, and New Year's Day would be taken for a business day.
  const past = await call('2026-12-29T15:00:00Z', {}, 422);
  expect(firstFault(past)).toEqual([
    '#/ruleId',
    'its notice counts business days to 2027-01-01, and the rule lists no holiday of 2027',
  ]);
  await call('2026-12-29T15:00:00Z', { emergencyBecause: 'water in the house' });
  t.clock.at = now;
});

test('hours of notice are hours passed on the day the clocks change; an emergency waits for none', async () => {
  const { site, discharge } = await houseOf('6 Sluice Row');
  const dig = await order(site.id, 'replace_outlet', discharge.id);
  const now = t.clock.at;
  t.clock.at = new Date('2026-11-01T17:00:00Z');
  const call = (more: object) =>
    post(`/v1/work-orders/${dig.id}/locate-tickets`, {
      ruleId: hours.id,
      calledAt: '2026-11-01T16:00:00Z',
      utilities: ['gas'],
      ...more,
    });
  expect((await call({})).digFrom).toBe('2026-11-03T16:00:00.000Z');
  expect((await call({ emergencyBecause: 'water in the house' })).digFrom).toBe('2026-11-01T16:00:00.000Z');
  t.clock.at = now;
});

test('an emergency ticket is for its own dig and day, and its crew is told who has not marked', async () => {
  const { site, discharge } = await houseOf('8 Sluice Row');
  const made = (more: object) =>
    post('/v1/work-orders', {
      siteId: site.id,
      because: 'water rising',
      tasks: [{ kind: 'dig_and_replace', lineId: discharge.id }],
      ...more,
    });
  const call = (orderId: string, more: object, status = 201) =>
    post(
      `/v1/work-orders/${orderId}/locate-tickets`,
      {
        ruleId: hours.id,
        calledAt: t.clock.at.toISOString(),
        utilities: ['gas', 'power', 'water'],
        emergencyBecause: 'water in the basement',
        ...more,
      },
      status,
    );
  const dig = await made({});
  const [pointer, detail] = firstFault(await call(dig.id, { emergencyBecause: 'x' }, 422));
  expect([pointer, detail]).toEqual([
    '#/emergencyBecause',
    'no emergency: "x" does not say what is in danger',
  ]);
  const ticket = await call(dig.id, {});
  expect(daysBetween(ticket.firstDay, ticket.lastDay)).toBe(1);
  const at = t.clock.at.toISOString();
  await post(
    `/v1/locate-tickets/${ticket.id}/news`,
    { answers: [{ utility: 'water', answer: 'clear', at }], privateLinesLocatedAt: at },
    200,
  );
  const { items } = await get(`/v1/preconditions?workOrderId=${dig.id}&kind=locate_ticket`);
  expect(items[0]).toMatchObject({ state: 'met', facts: { silent: 'gas, power' } });
  const cautions = (await get(`/v1/work-orders/${dig.id}/cautions`)).items;
  const codes = cautions.map(({ code }: Json) => code);
  expect(codes[0]).toBe('silent_utilities');
  expect(cautions[0].text).toMatch(/^Emergency ticket, not marked: gas, power\. .*hand tools or vacuum only/);
  // It would say that every utility has answered.
  expect(codes).not.toContain('utilities');
  await post(
    `/v1/locate-tickets/${ticket.id}/news`,
    {
      answers: ['gas', 'power'].map((utility) => ({ utility, answer: 'clear', at })),
    },
    200,
  );
  const later = (await get(`/v1/work-orders/${dig.id}/cautions`)).items.map(({ code }: Json) => code);
  expect(later).toContain('utilities');
  expect(later).not.toContain('silent_utilities');

  await post(`/v1/work-orders/${dig.id}/withdrawal`, { because: 'test' }, 200);
  const next = addDays(ticket.firstDay, 9);
  const planned = await made({ wantedBy: next });
  expect(firstFault(await call(planned.id, {}, 422))).toEqual([
    '#/emergencyBecause',
    `no emergency: the order is wanted by ${next}`,
  ]);
});

test('templates give begin-by in working days, and say what nobody read', async () => {
  const { items } = await get('/v1/locate-rule-templates');
  const of = (code: string) => items.find((each: Json) => each.code === code);
  expect(of('alabama')).toMatchObject({ startWithinDays: 10, startWithinUnit: 'business_day' });
  expect(of('south_carolina')).toMatchObject({ lifeCountsFirst: true, startWithinUnit: 'business_day' });
  expect(of('south_carolina').missing).toEqual(
    expect.arrayContaining(['lifeCountsFirst', 'startWithinDays']),
  );
});

test('the caution of a dig says how far from a mark is dug by hand, as the rule of its ticket has it', async () => {
  const { site, discharge } = await houseOf('7 Sluice Row');
  const dig = await order(site.id, 'replace_outlet', discharge.id);
  const byHand = async () =>
    (await get(`/v1/work-orders/${dig.id}/cautions`)).items.find(({ code }: Json) => code === 'hand_dig')
      .text;
  expect(await byHand()).toContain('Within 24 in (0.61 m) of a mark');
  const michigan = await ruleOf({ handDig: { value: 48, unit: 'in' } });
  await post(`/v1/work-orders/${dig.id}/locate-tickets`, {
    ruleId: michigan.id,
    calledAt: '2026-06-01T10:00:00Z',
    utilities: ['gas'],
  });
  expect(await byHand()).toBe(
    'Within 48 in (1.22 m) of a mark, each side: no machine, expose the line by hand until it is seen.',
  );
});

test('when somebody was told of an incident lies after it and not ahead, and is put right beside what was said', async () => {
  const made = await post('/v1/incidents', {
    kind: 'near_miss',
    happenedAt: '2026-06-01T10:00:00Z',
    what: 'the lid slipped',
  });
  const [{ who }] = made.tell;
  const tell = (toldAt: string | null, status = 200) =>
    post(`/v1/incidents/${made.id}/telling`, { who, toldAt }, status);
  for (const wrong of ['2020-01-01T00:00:00Z', '2040-01-01T00:00:00Z'])
    expect((await tell(wrong, 422)).errors[0].pointer).toBe('#/toldAt');
  const first = await tell('2026-06-01T10:30:00Z');
  expect(first.closedAt).not.toBeNull();
  expect((await tell('2026-06-01T10:30:00Z')).tell[0].corrected).toEqual([]);
  const second = (await tell('2026-06-01T11:30:00Z')).tell[0];
  const slip = { toldAt: '2026-06-01T10:30:00.000Z', toldBy: 'owner', correctedBy: 'owner' };
  expect([second.toldAt, second.corrected]).toEqual(['2026-06-01T11:30:00.000Z', [slip]]);
  const none = await tell(null);
  expect([none.closedAt, none.tell[0].toldAt, none.tell[0].corrected.length]).toEqual([null, null, 2]);
});

test('rain lies not ahead, and a report that was a slip is taken back', async () => {
  const ahead = await post('/v1/rain-reports', { endedAt: '2031-01-01T00:00:00Z' }, 422);
  expect(ahead.errors[0].pointer).toBe('#/endedAt');
  const rain = await post('/v1/rain-reports', { endedAt: '2026-06-01T11:50:00Z' });
  expect(rain.withdrawnAt).toBeNull();
  const last = () => t.house.stores.workLife.lastRain('Brindle', '2026-06-01T12:00:00Z');
  expect(await last()).not.toBeNull();
  const back = await post(`/v1/rain-reports/${rain.id}/withdrawal`, {}, 200);
  expect(back.withdrawnAt).not.toBeNull();
  expect(await last()).toBeNull();
  await post('/v1/rain-reports/0197f0c0-0000-7000-8000-000000000000/withdrawal', {}, 404);
});
