import { describe, expect, test } from 'vitest';
import { dayNumber } from '../../../src/domain/calendar/isoDate.js';
import {
  type Found,
  holdsWetSeason,
  type LineVisit,
  lineHistory,
  pluggedSince,
} from '../../../src/domain/fouling/dueDateHistory.js';
import type { Method } from '../../../src/domain/words.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const found = (occlusion: number, more: Partial<Found> = {}): Found => ({
  id: `${occlusion}`,
  method: 'camera',
  occlusion,
  standardError: 0.08,
  bound: 'exact',
  sureBy: null,
  doubted: false,
  high: false,
  ...more,
});
const visit = (
  day: string,
  occlusion: number | null,
  method: Method = 'camera',
  more: Partial<LineVisit> = {},
): LineVisit => ({
  day: dayNumber(day),
  found: occlusion === null ? null : found(occlusion, { method }),
  plugged: false,
  doubtedPlug: null,
  stoppedBy: null,
  cleaned: true,
  changed: null,
  residue: 0.03,
  doubted: [],
  ...more,
});
const read = (...visits: LineVisit[]) => lineHistory(visits, null, 0.45, DEFAULT_SETTINGS);

test('after a told change what came before proves nothing: 91 days from the dig of 1 April, not 130 before it', () => {
  const before = [visit('2024-11-01', 0.1), visit('2025-03-11', 0.1), visit('2026-03-01', 0.1)];
  const dig = visit('2026-04-01', null, 'camera', { changed: 'excavation' });
  const after = visit('2026-07-01', 0.1);
  expect(read(...before)).toMatchObject({ wetSeasonSeen: true, needlesslyShort: true });
  expect(read(...before, dig, after)).toMatchObject({
    longestGoodDays: 91,
    wetSeasonSeen: false,
    needlesslyShort: false,
  });
});

test('what a plug asks for stays, whatever was changed since', () => {
  const plugged = visit('2026-01-05', null, 'camera', { plugged: true });
  const dig = visit('2026-02-01', null, 'camera', { changed: 'excavation' });
  expect(read(plugged, dig).cleansSinceReopened).toBe(1);
});

test('a change is no clean: plug, level found, cycle and overdue day stand; proof counts from the change', () => {
  const told = (day: string): LineVisit => ({
    ...visit(day, null, 'camera', { cleaned: false, residue: null }),
    changed: 'new_pump',
  });
  const seen = (day: string, occlusion: number) => visit(day, occlusion, 'camera', { cleaned: false });
  const before = [visit('2026-01-10', 0.1), visit('2026-04-10', 0.1)];
  const plugged = visit('2026-06-01', null, 'camera', { plugged: true, cleaned: false });
  expect(read(...before, plugged, told('2026-06-02'))).toMatchObject({
    cleanSinceDay: dayNumber('2026-04-10'),
    pluggedSinceDay: dayNumber('2026-06-01'),
    toldChange: { day: dayNumber('2026-06-02'), cause: 'new_pump' },
  });
  const sure = { ...seen('2026-06-01', 0.6), found: found(0.6, { sureBy: 'person' }) };
  expect(read(...before, sure, told('2026-06-02')).certainFind?.occlusion).toBe(0.6);
  // 10 January to 10 April ended well: 90 days from 10 April are 9 July; told sooner, proven only to that day.
  expect(read(...before, told('2026-08-01'))).toMatchObject({
    longestGoodDays: 0,
    provenToDay: dayNumber('2026-07-09'),
  });
  expect(read(...before, told('2026-05-01')).provenToDay).toBe(dayNumber('2026-05-01'));
  // Found good on 30 June: 60 days since the change, not 81 since the clean.
  expect(read(...before, told('2026-05-01'), seen('2026-06-30', 0.1)).longestGoodDays).toBe(60);
  expect(read(...before, told('2026-05-01'), visit('2026-07-01', 0.1))).toMatchObject({
    toldChange: null,
    provenToDay: null,
  });
  // A line never known clean is counted from the look before the change.
  expect(read(seen('2026-04-10', 0.1), told('2026-05-01')).seenSinceDay).toBe(dayNumber('2026-04-10'));
  // Laid, and never cleaned: the span since the change, told as such.
  const laid = lineHistory(
    [told('2026-05-01'), seen('2026-06-30', 0.1)],
    dayNumber('2020-03-01'),
    0.45,
    DEFAULT_SETTINGS,
  );
  expect(laid.laidGood).toEqual({ days: 60, foundDay: dayNumber('2026-06-30'), from: 'change' });
});

describe('the longest interval that ended well', () => {
  test('1 March to 9 July, found at .20 by camera: 130 days', () => {
    expect(read(visit('2026-03-01', 0.3), visit('2026-07-09', 0.2)).longestGoodDays).toBe(130);
  });
  test('a reading within its own error of the action limit is not good: .38 + .08 > .45', () => {
    expect(read(visit('2026-03-01', 0.3), visit('2026-07-09', 0.38)).longestGoodDays).toBe(0);
  });
  test('outlet looks, and visits that measured nothing, prove no interval', () => {
    expect(read(visit('2026-03-01', 0.3), visit('2026-07-09', 0.05, 'outlet_look')).longestGoodDays).toBe(0);
    expect(read(visit('2026-03-01', 0.3), visit('2026-07-09', null)).longestGoodDays).toBe(0);
  });
  test('an inspection without a clean proves as much, and the cycle runs on', () => {
    const history = read(visit('2026-03-01', 0.3), visit('2026-07-09', 0.1, 'camera', { cleaned: false }));
    expect([history.longestGoodDays, history.lookedAtSinceClean]).toEqual([130, true]);
    expect(history.cleanSinceDay).toBe(dayNumber('2026-03-01'));
  });
  test('a plug wipes what was proven before it', () => {
    const plug = visit('2027-01-01', null, 'camera', { plugged: true });
    expect(read(visit('2026-03-01', 0.3), visit('2026-07-09', 0.1), plug).longestGoodDays).toBe(0);
  });
  test('a new pipe begins clean, but the span up to its first clean is told apart', () => {
    const laid = (...visits: LineVisit[]) =>
      lineHistory(visits, dayNumber('2026-03-01'), 0.45, DEFAULT_SETTINGS);
    const first = visit('2026-07-09', 0.1);
    const laidGood = { days: 130, foundDay: dayNumber('2026-07-09'), from: 'laid' };
    expect(laid(first)).toMatchObject({ longestGoodDays: 0, laidGood });
    expect(laid(first, visit('2026-08-08', 0.1))).toMatchObject({ longestGoodDays: 30, laidGood });
    // Looked at and left as it was, it is still the line that was laid.
    const looked = visit('2026-08-08', 0.1, 'camera', { cleaned: false });
    expect(laid({ ...first, cleaned: false }, looked).laidGood?.days).toBe(160);
    expect(laid(visit('2026-07-09', 0.4)).laidGood).toBeNull();
    expect(laid(visit('2026-07-09', 0.1, 'outlet_look')).laidGood).toBeNull();
    expect(laid(first, visit('2026-09-01', null, 'camera', { plugged: true })).laidGood).toBeNull();
    expect(laid(first, visit('2026-09-01', null, 'camera', { changed: 'excavation' })).laidGood).toBeNull();
    expect(read(first, visit('2026-08-08', 0.1)).laidGood).toBeNull();
  });
  test('and what it held at its first clean is told from there, later finds from the clean', () => {
    const visits = [visit('2026-03-21', 0.5), visit('2026-05-20', 0.6)];
    const { passedLimit } = lineHistory(visits, dayNumber('2026-03-01'), 0.45, DEFAULT_SETTINGS);
    expect(passedLimit).toMatchObject([
      { from: 'laid', intervalDays: 20 },
      { from: 'clean', intervalDays: 60 },
    ]);
  });
});

test('cleans are counted from the one that opened the plug', () => {
  const plug = visit('2026-01-01', null, 'camera', { plugged: true });
  expect(read(visit('2025-12-01', 0.2)).cleansSinceReopened).toBeNull();
  expect(read(plug).cleansSinceReopened).toBe(0);
  expect(read(plug, visit('2026-01-31', 0.2), visit('2026-03-31', 0.2)).cleansSinceReopened).toBe(2);
});

test('stopped by ice stands until a clean, or a look that found something; a plug in doubt until the clean after next', () => {
  const bare = (day: string, more: Partial<LineVisit>): LineVisit => ({
    ...visit(day, null, 'camera', { cleaned: false, residue: null }),
    ...more,
  });
  const ice = bare('2026-01-05', { stoppedBy: 'ice' });
  expect(read(ice).stopped).toEqual({ day: dayNumber('2026-01-05'), cause: 'ice' });
  expect(read(ice, bare('2026-01-06', { stoppedBy: 'roots' })).stopped?.cause).toBe('ice');
  expect(read(ice, visit('2026-01-07', null)).stopped).toBeNull();
  expect(read(ice, visit('2026-01-07', 0.2, 'camera', { cleaned: false })).stopped).toBeNull();
  const plug = bare('2026-01-05', { plugged: true, doubtedPlug: 'p' });
  const named = [{ id: 'p', day: dayNumber('2026-01-05') }];
  expect([read(plug).doubtedPlugs, read(plug, visit('2026-01-07', null)).doubtedPlugs]).toEqual([
    named,
    named,
  ]);
  expect(read(plug, visit('2026-01-07', null), visit('2026-02-07', null)).doubtedPlugs).toEqual([]);
  expect([
    pluggedSince([plug]),
    pluggedSince([plug, visit('2026-01-07', null)]),
    pluggedSince([ice]),
  ]).toEqual([dayNumber('2026-01-05'), null, null]);
});

describe('what was found stands until the next clean', () => {
  const seen = (day: string, occlusion: number, doubted = false): LineVisit => ({
    ...visit(day, null, 'camera', { cleaned: false, residue: null }),
    found: found(occlusion, { doubted, high: doubted && occlusion > 0.2 }),
  });
  const cleaned = (day: string) => visit(day, null);

  test('found plugged on Monday, opened on Thursday: reopened after a plug all the same', () => {
    const plugged = visit('2026-01-05', null, 'camera', { plugged: true, cleaned: false });
    expect(read(plugged).pluggedSinceDay).toBe(dayNumber('2026-01-05'));
    const opened = read(plugged, cleaned('2026-01-08'));
    expect([opened.pluggedSinceDay, opened.cleansSinceReopened, opened.lastClean?.plugged]).toEqual([
      null,
      0,
      true,
    ]);
    expect(read(plugged, cleaned('2026-01-08'), cleaned('2026-02-07')).cleansSinceReopened).toBe(1);
  });
  test('70 % seen two days before the jet came: cleaned from 70 %; the later of two sound readings counts', () => {
    expect(read(seen('2026-01-05', 0.7), cleaned('2026-01-07')).lastClean?.occlusionBefore).toBe(0.7);
    const both = read(seen('2026-01-05', 0.7), seen('2026-01-06', 0.4), cleaned('2026-01-07'));
    expect(both.lastClean?.occlusionBefore).toBe(0.4);
    expect(
      read(seen('2026-01-05', 0.7), cleaned('2026-01-07'), cleaned('2026-03-07')).lastClean?.occlusionBefore,
    ).toBe(null);
  });
  test('a doubted reading is no good end and none of the readings that agree, but a high one is remembered', () => {
    const high = read(cleaned('2026-01-05'), seen('2026-04-05', 0.9, true));
    expect(high.doubtedHigh).toEqual({ day: dayNumber('2026-04-05'), occlusion: 0.9 });
    const again = read(cleaned('2026-01-05'), seen('2026-04-05', 0.7, true), seen('2026-04-08', 0.8, true));
    expect(again.doubtedHigh).toEqual({ day: dayNumber('2026-04-05'), occlusion: 0.8 });
    expect(read(cleaned('2026-01-05'), seen('2026-04-05', 0.1, true))).toMatchObject({
      doubtedHigh: null,
      longestGoodDays: 0,
    });
    const after = read(cleaned('2026-01-05'), seen('2026-04-05', 0.9, true), seen('2026-04-20', 0.2));
    expect([after.doubtedHigh, after.longestGoodDays]).toEqual([null, 105]);
    const jetted = read(cleaned('2026-01-05'), seen('2026-04-05', 0.9, true), cleaned('2026-04-06'));
    expect(jetted.lastClean).toMatchObject({ occlusionBefore: 0.9, beforeIsDoubted: true });
    expect(jetted.doubtedHigh).toBeNull();
  });
});

describe('an interval that ended past the action limit', () => {
  test('half full 20 days after a clean, limit .45: reached after 20 × .45 / .5 = 18 days', () => {
    const history = read(visit('2026-03-01', null), visit('2026-03-21', 0.5));
    expect(history.passedLimit).toMatchObject([{ intervalDays: 20, days: 18, occlusion: 0.5 }]);
  });
  test('found plugged after 40 days: the limit was reached within 40 × .45 = 18 days', () => {
    const plugged = visit('2026-04-10', null, 'camera', { plugged: true });
    expect(read(visit('2026-03-01', null), plugged).passedLimit).toMatchObject([
      { days: 18, occlusion: null },
    ]);
  });
  test('in doubt, below the limit, at most so much, or after a clean nobody knows of: nothing is said', () => {
    const after20 = (more: Partial<Found>) =>
      read(visit('2026-03-01', null), visit('2026-03-21', null, 'camera', { found: found(0.5, more) }))
        .passedLimit;
    expect(after20({ doubted: true, high: true })).toEqual([]);
    expect(after20({ occlusion: 0.44 })).toEqual([]);
    expect(after20({ bound: 'at_most' })).toEqual([]);
    expect(read(visit('2026-03-21', 0.5)).passedLimit).toEqual([]);
  });
  test('lifted by a good find after as long an interval, not by one after a shorter', () => {
    const past = [visit('2026-03-01', null), visit('2026-03-21', 0.5)];
    expect(read(...past, visit('2026-04-07', 0.2)).passedLimit).toHaveLength(1); // 17 days
    expect(read(...past, visit('2026-04-08', 0.2)).passedLimit).toEqual([]); // 18 days
    expect(read(...past, visit('2026-04-08', 0.4)).passedLimit).toHaveLength(1); // .4 + .08: not good
  });
});

describe('a find that is certain', () => {
  const seen = (day: string, occlusion: number, more: Partial<Found>) =>
    visit(day, null, 'camera', { cleaned: false, residue: null, found: found(occlusion, more) });
  test('stands until the next clean, whatever is read after it, and the worst of them counts', () => {
    const sure = seen('2026-04-05', 0.7, { sureBy: 'person' });
    const history = read(visit('2026-01-05', null), sure, seen('2026-04-09', 0.2, {}));
    expect(history.certainFind).toMatchObject({ occlusion: 0.7, day: dayNumber('2026-04-05') });
    expect(read(visit('2026-01-05', null), sure, visit('2026-04-12', null)).certainFind).toBeNull();
  });
});

describe('a line looked at and never cleaned', () => {
  const look = (day: string, occlusion: number, method: Method = 'camera') =>
    visit(day, occlusion, method, { cleaned: false, residue: null });
  test('is counted from its first proper look, and anew from each good one, which proves its interval', () => {
    expect(read(look('2021-10-28', 0.05)).seenSinceDay).toBe(dayNumber('2021-10-28'));
    const yearly = read(look('2021-10-28', 0.05), look('2022-10-28', 0.05), look('2023-10-28', 0.04));
    expect([yearly.seenSinceDay, yearly.longestGoodDays]).toEqual([dayNumber('2023-10-28'), 365]);
  });
  test('not from a glance at the outlet, nor anew from a look that was not good', () => {
    expect(read(look('2021-10-28', 0.05, 'outlet_look')).seenSinceDay).toBeNull();
    const worse = read(look('2021-10-28', 0.05), look('2022-10-28', 0.4));
    expect([worse.seenSinceDay, worse.longestGoodDays]).toEqual([dayNumber('2021-10-28'), 0]);
  });
  test('once cleaned it is counted from the clean', () => {
    expect(read(look('2021-10-28', 0.05), visit('2022-03-01', 0.1)).seenSinceDay).toBeNull();
  });
});

test('a wet season counts when the line was followed from its first day to its last: 1 March to 31 May', () => {
  const { wetSeason } = DEFAULT_SETTINGS;
  const held = (from: string, to: string) => holdsWetSeason(dayNumber(from), dayNumber(to), wetSeason);
  expect(held('2026-03-01', '2026-05-31')).toBe(true);
  expect(held('2026-03-02', '2026-05-31')).toBe(false);
  expect(held('2026-06-01', '2027-05-30')).toBe(false);
  expect(held('2026-06-01', '2027-05-31')).toBe(true);
  // over New Year
  expect(
    holdsWetSeason(dayNumber('2026-11-01'), dayNumber('2027-02-28'), { from: '11-01', to: '02-28' }),
  ).toBe(true);
});

describe('needlessly short', () => {
  const days = ['2026-01-10', '2026-04-10', '2026-07-10', '2026-10-10'];
  const four = (values: number[], method: Method = 'camera') =>
    read(...days.map((day, i) => visit(day, values[i] ?? null, method)));
  test('is said after three agreeing low readings by camera and one wet season', () => {
    expect(four([0.3, 0.1, 0.12, 0.08]).needlesslyShort).toBe(true);
  });
  test('not on two, not when they disagree, not on outlet looks, not before a wet season', () => {
    expect(read(visit('2026-01-10', 0.1), visit('2026-07-10', 0.1)).needlesslyShort).toBe(false);
    expect(four([0.1, 0.1, 0.3, 0.1]).needlesslyShort).toBe(false);
    expect(four([0.1, 0.1, 0.1, 0.1], 'outlet_look').needlesslyShort).toBe(false);
    expect(
      read(...['2026-06-01', '2026-08-01', '2026-10-01'].map((day) => visit(day, 0.1))).needlesslyShort,
    ).toBe(false);
  });
});
