import { expect, test } from 'vitest';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';
import {
  isWorthOvertime,
  leftOutCost,
  type WaitingVisit,
  waitingCost,
} from '../../../src/domain/work/waitingCost.js';

const { visitMinor } = DEFAULT_SETTINGS.costs;
const visit: WaitingVisit = { plugChanceYear: 0, lines: 1, wantedInDays: 0, promised: false };
const late = (more: Partial<WaitingVisit>, days: number) =>
  waitingCost({ ...visit, ...more }, days, DEFAULT_SETTINGS) / visitMinor;
const out = (more: Partial<WaitingVisit>) =>
  leftOutCost({ ...visit, ...more }, 5, DEFAULT_SETTINGS) / visitMinor;

test('each late day costs .03 visits a line, up to four times that for what is long overdue', () => {
  expect(late({}, 10)).toBeCloseTo(0.3);
  expect(late({ lines: 4 }, 10)).toBeCloseTo(1.2);
  expect(late({ wantedInDays: 6 }, 10)).toBeCloseTo(0.12);
  expect(late({ wantedInDays: -30 }, 10)).toBeCloseTo(0.6);
  expect(late({ wantedInDays: -400 }, 10)).toBeCloseTo(1.2);
  expect(late({ wantedInDays: null }, 10)).toBe(0);
});

test('waiting a year with an even chance of plugging costs half a dig-up', () => {
  expect(late({ plugChanceYear: 0.5, wantedInDays: null }, 365.25)).toBeCloseTo(12.5);
});

test('left out, a house of four lines weighs four houses of one, and a promise three more', () => {
  expect(out({})).toBeCloseTo(1 + 12 * 0.03);
  expect(out({ lines: 4 })).toBeCloseTo(4 * (1 + 12 * 0.03));
  expect(out({ promised: true })).toBeCloseTo(4 + 12 * 0.03);
  expect(out({ wantedInDays: 40 })).toBeCloseTo(0.1);
});

test('two hours of overtime at 90.00 and half as much again cost 270.00: a visit whose waiting costs as much is worth them', () => {
  const routes = { crewHourMinor: 9000, overtimeFactor: 1.5, overtimeGain: 1 };
  expect(isWorthOvertime(27_000, 2, routes)).toBe(true);
  expect(isWorthOvertime(26_999, 2, routes)).toBe(false);
  expect(isWorthOvertime(27_000, 2, { ...routes, overtimeGain: 1.2 })).toBe(false);
});
