import { beforeEach, expect, test } from 'vitest';
import { CALL_KINDS } from '../../../src/domain/words.js';
import type { Json } from '../../setup/testHouse.js';
import { type TestHouse, testHouse } from '../../setup/testHouse.js';

let t: TestHouse;
beforeEach(async () => {
  t = await testHouse('2026-10-01T14:00:00Z');
}, 60_000);

let houses = 0;
const call = async (kind: string, answers: object): Promise<Json> => {
  const { status, body } = await t.call('dispatcher', {
    method: 'POST',
    url: '/v1/calls',
    payload: {
      kind,
      answers,
      caller: { name: 'B. Alder' },
      newSite: { address: `${++houses} Reed Row`, town: 'Brindle' },
    },
  });
  expect(status, JSON.stringify(body)).toBe(201);
  return body;
};
const codes = (lines: Json[]) => lines.map(({ code }) => code);
const said = ({ sheet }: Json) => JSON.stringify([sheet.sayFirst, sheet.whileTheyWait]);

test('gas: whatever the call began with, out of the house at once, and nothing else', async () => {
  for (const kind of CALL_KINDS) {
    const taken = await call(kind, { smellOfGas: 'yes', waterInHouse: 'yes', waterNearElectricity: 'yes' });
    expect(codes(taken.sheet.sayFirst), kind).toEqual(['gas_out']);
    expect(taken.sheet).toMatchObject({ ask: [], whileTheyWait: [], never: [{ code: 'gas_back' }] });
    expect(said(taken), kind).not.toMatch(/unplug|carry up|stairs|picture|outage/i);
    expect(codes(taken.warnings)).toContain('made_safe_first');
  }
  for (const kind of ['orange_stain', 'other']) {
    const { call: made, reasons } = await call(kind, { smellOfGas: 'yes' });
    // At once is four hours at the most: from 9:00 to 13:00.
    expect(made).toMatchObject({ urgency: 'at_once', respondBy: '2026-10-01T18:00:00.000Z' });
    expect(codes(reasons)).toContain('smell_of_gas');
  }
}, 60_000);

test('live or foul water comes first, and nobody is sent near it to unplug or carry', async () => {
  const live = await call('pump_without_flow', { waterNearElectricity: 'yes' });
  expect(live.treatedAs).toBe('water_rising');
  expect(codes(live.sheet.sayFirst).slice(0, 4)).toEqual([
    'do_not_enter',
    'live_water',
    'power_off',
    'emergency_services',
  ]);
  expect(said(live)).not.toMatch(/unplug|carry up|picture/i);
  expect(codes(live.sheet.ask)).not.toContain('ask_electric');
  const foul = await call('pump_without_flow', { sewage: 'yes' });
  expect(codes(foul.sheet.sayFirst).slice(0, 2)).toEqual(['do_not_enter', 'sewage']);
  expect(said(foul)).not.toMatch(/unplug|carry up|picture/i);
}, 60_000);

test('every kind asks for gas, and the sheet can be read again as answers come', async () => {
  const sheet = async (kind: string, query = '') =>
    (await t.call('dispatcher', { method: 'GET', url: `/v1/phone-sheets/${kind}${query}` })).body;
  for (const kind of CALL_KINDS) {
    expect(codes((await sheet(kind)).ask)[0], kind).toBe('ask_gas');
    expect(codes((await sheet(kind, '?smellOfGas=yes')).sayFirst), kind).toEqual(['gas_out']);
  }
  expect(codes((await sheet('alarm', '?waterInHouse=yes')).whileTheyWait)).toContain('carry_up');
  expect(
    (await t.call('dispatcher', { method: 'GET', url: '/v1/phone-sheets/alarm?smellOfGas=perhaps' })).status,
  ).toBe(400);
});
