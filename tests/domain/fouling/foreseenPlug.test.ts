import { expect, test } from 'vitest';
import { foreseenPlug } from '../../../src/domain/fouling/foreseenPlug.js';

/** By 0, 7, 14, 30, 60, 90, 180, 365 days. */
const actionChances = [0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.8, 0.99];

const dueRule = 'risk';

test('due for its danger by the day it was found: foreseen, even where the belief was low', () => {
  expect(foreseenPlug({ asOfDay: 100, dueDay: 110, dueRule, actionChances }, 110)).toBe('due');
});

test('due by custom foresees nothing, unless the forecast held it likely', () => {
  const custom = { asOfDay: 100, dueDay: 110, dueRule: 'hardening', actionChances } as const;
  expect(foreseenPlug(custom, 110)).toBe('due_otherwise');
  expect(foreseenPlug(custom, 213)).toBe('likely');
  expect(foreseenPlug({ ...custom, dueRule: null }, 110)).toBe('due_otherwise');
  expect(foreseenPlug(custom, 109)).toBe('not_foreseen');
});

test('not due yet, but held past its action limit as likely as not', () => {
  // 112.5 days on: half way from .4 at 90 to .8 at 180 is .6 at 135; .5 is reached at 112.5
  expect(foreseenPlug({ asOfDay: 100, dueDay: 400, dueRule, actionChances }, 213)).toBe('likely');
  expect(foreseenPlug({ asOfDay: 100, dueDay: null, dueRule, actionChances }, 212)).toBe('not_foreseen');
});

test('without a forecast before it nothing is claimed', () => {
  expect(foreseenPlug(null, 100)).toBe('no_forecast');
  expect(foreseenPlug({ asOfDay: 100, dueDay: 200, dueRule, actionChances: [] }, 120)).toBe('not_foreseen');
});
