import { randomUUID } from 'node:crypto';
import { beforeAll, expect, test } from 'vitest';
import type { Json } from '../setup/testHouse.js';
import { m, TWO_DAYS_NOTICE, type WorkedHouse, workedHouse } from '../setup/workedHouse.js';

/** What must be there before a dig begins comes from the same phone as its start, in whatever order. */
let t: WorkedHouse;
let rule: Json;
const SENT_AT = '2026-06-04T20:00:00Z';
const at = (minute: number) => new Date(Date.UTC(2026, 5, 4, 14, minute)).toISOString();

beforeAll(async () => {
  t = await workedHouse('2026-06-01T13:00:00Z');
  rule = await t.send('/v1/locate-rules', { name: 'Two days', ...TWO_DAYS_NOTICE });
}, 60_000);

async function sync(items: object[]): Promise<Json[]> {
  const { items: answers } = await t.send('/v1/sync', { sentAt: t.at(SENT_AT), items }, 200);
  return answers;
}

/** A dig whose ticket was called; what its crew brings: marks seen, where the water goes, the trench, the start. */
async function dig(): Promise<{ orderId: string; items: Record<string, Json> }> {
  t.at('2026-06-01T13:00:00Z');
  const house = await t.build();
  const order = await t.order(house, [{ kind: 'dig_and_replace', lineId: house.footing.id }]);
  await t.meet(order);
  const ticket = await t.send(`/v1/work-orders/${order.id}/locate-tickets`, {
    ruleId: rule.id,
    calledAt: '2026-06-01T13:00:00Z',
    utilities: ['gas'],
  });
  const item = (kind: string, minute: number, more: object = {}) => ({
    kind,
    id: randomUUID(),
    at: at(minute),
    workOrderId: order.id,
    ...more,
  });
  return {
    orderId: order.id,
    items: {
      answered: item('ticket_news', 0, {
        ticketId: ticket.id,
        answers: [{ utility: 'gas', answer: 'marked', at: '2026-06-02T13:00:00Z' }],
      }),
      marks: item('ticket_news', 1, {
        ticketId: ticket.id,
        marksSeenAt: at(1),
        privateLinesLocatedAt: at(1),
      }),
      water: item('discharge_plan', 2, { receiver: 'caught', sludgeTo: 'depot' }),
      trench: item('trench_check', 3, { checkedBy: 'Tern', depth: m(1), protection: 'none' }),
      start: item('start', 5, { cautionsSeen: true }),
    },
  };
}

const stateOf = async (orderId: string) => {
  const order = await t.get(`/v1/work-orders/${orderId}`);
  return {
    state: order.state,
    starts: order.attempts.map(({ startedAt }: Json) => startedAt),
    waitsFor: order.waitsFor.map(({ kind, state }: Json) => `${kind} ${state}`).sort(),
  };
};

test.each([
  [['answered', 'marks', 'water', 'trench', 'start']],
  [['start', 'trench', 'water', 'marks', 'answered']],
  [['trench', 'start', 'marks', 'answered', 'water']],
  [['marks', 'water', 'start', 'answered', 'trench']],
])('told one by one as %j, and all twice, the dig has begun', async (names) => {
  const { orderId, items } = await dig();
  for (const name of [...names, ...names]) {
    const [answer] = await sync([items[name]]);
    expect(['accepted', 'same', 'waiting'], JSON.stringify(answer)).toContain(answer.outcome);
  }
  const state = await stateOf(orderId);
  expect(state).toMatchObject({ state: 'under_way', starts: [at(5)] });
  expect(state.waitsFor.filter((each: string) => each.endsWith('open'))).toEqual([]);
});

test('until then the start waits, and says for what; a check that failed does not do', async () => {
  const { orderId, items } = await dig();
  const [waiting] = await sync([items['start']]);
  expect(waiting.waitsFor).toEqual([`plan:${orderId}`, `ticket:${orderId}`, `trench:${orderId}`]);
  expect(waiting.text).toMatch(/a discharge_plan.*ticket_news.*a trench_check/);
  const failed = { ...items['trench'], id: randomUUID(), signsOfCaveIn: true };
  const answers = await sync([items['answered'], items['marks'], items['water'], failed]);
  expect(answers.map(({ outcome }) => outcome)).toEqual(Array(4).fill('accepted'));
  const [still] = await sync([items['start']]);
  expect(still).toMatchObject({ outcome: 'waiting', waitsFor: [`trench:${orderId}`] });
  // The office writes down the check that was made on the phone.
  await t.send(`/v1/work-orders/${orderId}/trench-checks`, {
    checkedAt: at(4),
    checkedBy: 'Tern',
    depth: m(1),
    protection: 'none',
  });
  expect(await stateOf(orderId)).toMatchObject({ state: 'under_way', starts: [at(5)] });
});

test('wrong news is refused where it is wrong, by the name the item has for it', async () => {
  const { items } = await dig();
  const wrong = await sync([
    { ...items['marks'], id: randomUUID(), marksSeenAt: '2026-05-01T13:00:00Z' },
    { ...items['trench'], id: randomUUID(), at: '2026-06-05T03:00:00Z' },
    { ...items['water'], id: randomUUID(), receiver: 'storm_drain' },
    { ...items['trench'], id: randomUUID(), depth: { value: -1, unit: 'm' } },
    { ...items['water'], id: randomUUID(), receiver: 'the neighbour' },
    { kind: 'incident', id: randomUUID(), at: '2026-06-05T03:00:00Z', incident: 'injury', what: 'hand' },
    { kind: 'incident', id: randomUUID(), at: at(1), incident: 'a mishap', what: 'hand' },
    { kind: 'answer', id: randomUUID(), at: at(1), workOrderId: items['start'].workOrderId, outlet: 'creek' },
  ]);
  expect(wrong.map(({ outcome, problem }) => [outcome, problem.errors[0].pointer])).toEqual([
    ['refused', '#/marksSeenAt'],
    ['refused', '#/at'],
    ['refused', '#/permitRef'],
    ['refused', '#/depth'],
    ['refused', '#/receiver'],
    ['refused', '#/at'],
    ['refused', '#/incident'],
    ['refused', '#'],
  ]);
});
