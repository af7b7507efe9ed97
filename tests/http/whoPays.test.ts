import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** No work is priced as agreed that nobody agreed to. */
let t: TestHouse;

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('owner', { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}
async function ordersOf(siteId: string): Promise<Json[]> {
  const { body } = await t.call('owner', {
    method: 'GET',
    url: `/v1/work-orders?siteId=${siteId}&sort=number`,
  });
  return body.items;
}
const at = (instant: string): string => {
  t.clock.at = new Date(instant);
  return instant;
};

let serial = 0;
async function houseOf() {
  const site = await post('/v1/sites', { address: `${++serial} Sluice Row`, town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Pit', kind: 'pit' });
  const line = (name: string, kind: string, more: object) =>
    post('/v1/lines', { siteId: site.id, systemId: system.id, name, kind, ...more });
  const discharge = await line('Discharge', 'sump_discharge', { outlet: 'daylight' });
  const pit = await post('/v1/pits', {
    siteId: site.id,
    systemId: system.id,
    dischargeLineId: discharge.id,
    inflow: { value: 4, unit: 'gpm' },
  });
  const footing = await line('Footing', 'footing_drain', { drainsTo: 'pit', drainsToPitId: pit.id });
  return { site, discharge, pit, footing };
}
const terms = (siteId: string, lineIds: string[]) =>
  post('/v1/care-terms', { siteId, lineIds, priceMinor: 19_900, fromDay: '2026-01-01' });
const order = (siteId: string, kind: string, lineId: string, more: object = {}) =>
  post('/v1/work-orders', { siteId, because: 'asked', tasks: [{ kind, lineId }], ...more });

beforeAll(async () => {
  t = await testHouse('2026-06-01T12:00:00Z');
}, 60_000);

test('an order by hand that no care terms cover is time and material, and says that nobody agreed', async () => {
  const { site, discharge, footing } = await houseOf();
  const codes = ({ warnings }: Json) => warnings.map(({ code }: Json) => code);
  const bare = await order(site.id, 'cable', discharge.id);
  expect([bare.priceBasis, codes(bare)]).toEqual(['time_and_material', ['nobody_agreed_to_pay']]);
  const priced = await order(site.id, 'trace', discharge.id, { priceMinor: 20_000 });
  expect(codes(priced)).not.toContain('nobody_agreed_to_pay');
  await terms(site.id, [footing.id]);
  expect((await order(site.id, 'jet', footing.id)).priceBasis).toBe('care_terms');
  // Terms of one line cover no other, and no cable.
  expect((await order(site.id, 'jet', discharge.id)).priceBasis).toBe('time_and_material');
  expect((await order(site.id, 'cable', footing.id)).priceBasis).toBe('time_and_material');
  expect((await order(site.id, 'dig_and_replace', footing.id)).priceBasis).toBe('quote');
});

test('a plug of a line without terms is not paid by those of another: its rung waits for the client', async () => {
  const { site, discharge, footing } = await houseOf();
  await terms(site.id, [footing.id]);
  const look = await order(site.id, 'inspect', discharge.id, { wantedBy: '2026-06-01' });
  await post(`/v1/work-orders/${look.id}/start`, { startedAt: at('2026-06-01T14:00:00Z') }, 200);
  await post('/v1/inspections', {
    lineId: discharge.id,
    workOrderId: look.id,
    observedAt: at('2026-06-01T14:10:00Z'),
    phase: 'no_cleaning',
    plugged: { cause: 'deposit' },
  });
  await finish(look, '2026-06-01T15:00:00Z', 'no');
  const made = (await ordersOf(site.id)).filter(({ id }) => id !== look.id);
  expect(made.length).toBeGreaterThan(0);
  expect([...new Set(made.map(({ priceBasis }) => priceBasis))]).toEqual(['time_and_material']);
});

test('a pipe found crushed soon after a clean is no warranty; a deposit is', async () => {
  for (const [cause, basis] of [
    ['crushed', 'time_and_material'],
    ['deposit', 'warranty'],
  ] as const) {
    const { site, footing } = await houseOf();
    await post('/v1/cleans', {
      lineId: footing.id,
      cleanedAt: '2026-05-27T12:00:00Z',
      task: 'jet',
      flowProven: 'yes',
    });
    const look = await order(site.id, 'inspect', footing.id, { wantedBy: '2026-06-01' });
    await post(`/v1/work-orders/${look.id}/start`, { startedAt: at('2026-06-01T14:00:00Z') }, 200);
    await post('/v1/inspections', {
      lineId: footing.id,
      workOrderId: look.id,
      observedAt: at('2026-06-01T14:10:00Z'),
      phase: 'no_cleaning',
      plugged: { cause },
    });
    await finish(look, '2026-06-01T15:00:00Z', 'no');
    const made = (await ordersOf(site.id)).filter(({ id }) => id !== look.id);
    expect([...new Set(made.map(({ priceBasis }) => priceBasis))], cause).toEqual([basis]);
  }
});

const PUMP_RESTORED = { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true };
const finish = (made: Json, endedAt: string, flowProven: string) =>
  post(
    `/v1/work-orders/${made.id}/finish`,
    { endedAt: at(endedAt), result: 'done', flowProven, pumpRestored: PUMP_RESTORED },
    200,
  );
