import { expect, test } from 'vitest';
import { addBusinessDays, isBusinessDay, nextBusinessDay } from '../../../src/domain/work/businessDays.js';
import {
  LOCATE_TEMPLATES,
  type LocateRule,
  mustRenew,
  ticketDays,
  ticketOpen,
} from '../../../src/domain/work/locateTicket.js';

const RULE: LocateRule = {
  notice: 3,
  noticeUnit: 'business_day',
  callDayCounts: false,
  life: 14,
  lifeUnit: 'calendar_day',
  lifeFrom: 'call',
  lifeCountsFirst: false,
  startWithinDays: null,
  holidays: ['2026-11-26'],
};
const call = (day: string, minute = 600) => ({ day, minute });
const days = (rule: Partial<LocateRule>, day: string, minute = 600) =>
  ticketDays({ ...RULE, ...rule }, call(day, minute), false);

test('a weekend and a holiday are no business days', () => {
  // 26 November 2026 is a Thursday
  expect(
    ['2026-11-25', '2026-11-26', '2026-11-27', '2026-11-28', '2026-11-29'].map((day) =>
      isBusinessDay(day, RULE.holidays),
    ),
  ).toEqual([true, false, true, false, false]);
  expect(addBusinessDays('2026-11-25', 1, RULE.holidays)).toBe('2026-11-27');
  expect(nextBusinessDay('2026-11-28', [])).toBe('2026-11-30');
});

test.each([
  // Tuesday call; Wednesday, Friday and Monday are the three full days round the holiday
  ['three business days over a holiday', {}, '2026-11-24', '2026-12-01'],
  ['the call day counts as the first', { callDayCounts: true }, '2026-11-24', '2026-11-30'],
  ['a call on Saturday counts as made on Monday', {}, '2026-11-21', '2026-11-30'],
  ['calendar days do not stop', { noticeUnit: 'calendar_day' as const }, '2026-11-24', '2026-11-28'],
  [
    'calendar days with the call day',
    { noticeUnit: 'calendar_day' as const, callDayCounts: true },
    '2026-11-24',
    '2026-11-27',
  ],
])('%s', (_name, rule, called, first) => {
  expect(days(rule, called).firstDay).toBe(first);
});

test('hours run from the call, or from the midnight after it', () => {
  expect(days({ notice: 48, noticeUnit: 'hour', callDayCounts: true }, '2026-11-24', 615).from).toEqual({
    day: '2026-11-26',
    minute: 615,
  });
  expect(days({ notice: 48, noticeUnit: 'hour' }, '2026-11-24', 615).from).toEqual({
    day: '2026-11-27',
    minute: 0,
  });
});

test('hours of business days leave out the call day, the weekend and the holiday', () => {
  // Tuesday call: Wednesday and Friday run, so Saturday would be next; digging starts on Monday
  expect(days({ notice: 48, noticeUnit: 'business_hour' }, '2026-11-24').from).toEqual({
    day: '2026-11-30',
    minute: 0,
  });
  expect(days({ notice: 36, noticeUnit: 'business_hour' }, '2026-11-24').from).toEqual({
    day: '2026-11-27',
    minute: 720,
  });
  // counted from the call itself: 10:00 to midnight is 14 h, Wednesday 24, ten more on Friday
  expect(days({ notice: 48, noticeUnit: 'business_hour', callDayCounts: true }, '2026-11-24').from).toEqual({
    day: '2026-11-27',
    minute: 600,
  });
});

test.each([
  ['14 days from the call', {}, '2026-12-08'],
  ['counting the call day', { lifeCountsFirst: true }, '2026-12-07'],
  ['from the first day one may dig', { lifeFrom: 'first_day' as const }, '2026-12-15'],
  ['in business days', { life: 5, lifeUnit: 'business_day' as const }, '2026-12-02'],
])('a ticket lives %s', (_name, rule, last) => {
  expect(days(rule, '2026-11-24').lastDay).toBe(last);
});

test('a rule without an end has none; a latest start is told', () => {
  expect(days({ life: null, lifeUnit: null, startWithinDays: 14 }, '2026-11-24')).toMatchObject({
    lastDay: null,
    beginBy: '2026-12-08',
  });
});

test('an emergency is dug at once, with the ticket called all the same', () => {
  expect(ticketDays(RULE, call('2026-11-24', 700), true).from).toEqual(call('2026-11-24', 700));
});

test('nobody digs before every utility answered, its marks were seen and private lines were looked for', () => {
  const seen = {
    utilities: [
      { name: 'gas', answer: 'marked' as const },
      { name: 'power', answer: 'none' as const },
    ],
    marksSeen: false,
    privateLinesLocated: false,
    emergency: false,
  };
  expect(ticketOpen(seen)).toEqual([
    'power has not answered',
    'the marks were not seen',
    'private lines were not located',
  ]);
  const clear = {
    ...seen,
    utilities: [{ name: 'gas', answer: 'clear' as const }],
    privateLinesLocated: true,
  };
  expect(ticketOpen(clear)).toEqual([]);
  expect(ticketOpen({ ...clear, utilities: [] })).toEqual(['no utility is on the ticket']);
  expect(ticketOpen({ ...seen, emergency: true })).not.toContain('power has not answered');
});

test('an expiring ticket is called again while the new one would still be ready in time', () => {
  // Called on Monday 30 November it would be good from Friday 4 December
  expect(mustRenew('2026-12-08', '2026-11-30', RULE)).toBe(false);
  expect(mustRenew('2026-12-04', '2026-11-30', RULE)).toBe(true);
  expect(mustRenew(null, '2026-11-30', RULE)).toBe(false);
});

test('every template names its source and says what must be confirmed', () => {
  expect(LOCATE_TEMPLATES.length).toBeGreaterThan(5);
  for (const { code, source, missing } of LOCATE_TEMPLATES) {
    expect(source, code).not.toBe('');
    expect(missing, code).toContain('holidays');
  }
});
