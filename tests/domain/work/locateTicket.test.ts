import { expect, test } from 'vitest';
import { businessZone } from '../../../src/domain/calendar/businessZone.js';
import { addBusinessDays, isBusinessDay, nextBusinessDay } from '../../../src/domain/work/businessDays.js';
import { LOCATE_TEMPLATES } from '../../../src/domain/work/locateTemplates.js';
import {
  type LocateRule,
  listsNoHolidays,
  mustRenew,
  noEmergency,
  ticketDays,
  ticketOpen,
  yearsUnlisted,
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
  startWithinUnit: 'calendar_day',
  holidays: ['2026-11-26'],
};
const ZONE = businessZone('America/Chicago');
const instant = (day: string, minute = 600) => ZONE.instantOf(day, minute * 60);
const days = (rule: Partial<LocateRule>, day: string, minute = 600) =>
  ticketDays({ ...RULE, ...rule }, instant(day, minute), ZONE, false);

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
  expect(days({ notice: 48, noticeUnit: 'hour', callDayCounts: true }, '2026-11-24', 615).from).toEqual(
    instant('2026-11-26', 615),
  );
  expect(days({ notice: 48, noticeUnit: 'hour' }, '2026-11-24', 615).from).toEqual(instant('2026-11-27', 0));
});

test('hours of business days leave out the call day, the weekend and the holiday', () => {
  // Tuesday call: Wednesday and Friday run, so Saturday would be next; digging starts on Monday
  expect(days({ notice: 48, noticeUnit: 'business_hour' }, '2026-11-24').from).toEqual(
    instant('2026-11-30', 0),
  );
  expect(days({ notice: 36, noticeUnit: 'business_hour' }, '2026-11-24').from).toEqual(
    instant('2026-11-27', 720),
  );
  // counted from the call itself: 10:00 to midnight is 14 h, Wednesday 24, ten more on Friday
  expect(days({ notice: 48, noticeUnit: 'business_hour', callDayCounts: true }, '2026-11-24').from).toEqual(
    instant('2026-11-27', 600),
  );
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

test('an emergency ticket lives until the day after its call, whatever the rule gives a ticket', () => {
  const { lastDay, beginBy } = ticketDays(
    { ...RULE, startWithinDays: 10 },
    instant('2026-11-24', 700),
    ZONE,
    true,
  );
  expect([lastDay, beginBy]).toEqual(['2026-11-25', null]);
  expect(ticketDays({ ...RULE, life: null }, instant('2026-11-24'), ZONE, true).lastDay).toBe('2026-11-25');
});

test('what can wait, or names no danger, is no emergency', () => {
  const dig = { because: 'water in the basement', notBefore: null, wantedBy: null };
  expect(noEmergency(dig, '2026-11-24')).toBeNull();
  expect(noEmergency({ ...dig, wantedBy: '2026-11-25' }, '2026-11-24')).toBeNull();
  expect(noEmergency({ ...dig, because: '地下室进水' }, '2026-11-24')).toBeNull();
  expect(noEmergency({ ...dig, because: 'x' }, '2026-11-24')).toContain('does not say what is in danger');
  expect(noEmergency({ ...dig, wantedBy: '2026-12-04' }, '2026-11-24')).toContain('wanted by 2026-12-04');
  expect(noEmergency({ ...dig, notBefore: '2026-11-30' }, '2026-11-24')).toContain('not before 2026-11-30');
});

test('an emergency is dug at once, with the ticket called all the same', () => {
  expect(ticketDays(RULE, instant('2026-11-24', 700), ZONE, true).from).toEqual(instant('2026-11-24', 700));
});

test('nobody digs before every utility answered, its marks were seen and private lines were looked for', () => {
  const seen = {
    utilities: [
      { name: 'gas', answer: 'marked' as const, answeredAt: '2026-06-01T15:00:00Z' },
      { name: 'power', answer: 'none' as const, answeredAt: null },
    ],
    marksSeenAt: null,
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
    utilities: [{ name: 'gas', answer: 'clear' as const, answeredAt: null }],
    privateLinesLocated: true,
  };
  expect(ticketOpen(clear)).toEqual([]);
  expect(ticketOpen({ ...clear, utilities: [] })).toEqual(['no utility is on the ticket']);
  expect(ticketOpen({ ...seen, emergency: true })).not.toContain('power has not answered');
});

test('marks count for a utility only where they were seen after it marked', () => {
  const at = (name: string, answeredAt: string) => ({ name, answer: 'marked' as const, answeredAt });
  const open = (marksSeenAt: string) =>
    ticketOpen({
      utilities: [at('gas', '2026-06-01T15:00:00Z'), at('power', '2026-06-01T20:00:00Z')],
      marksSeenAt,
      privateLinesLocated: true,
      emergency: false,
    });
  expect(open('2026-06-01T16:00:00Z')).toEqual(['power marked after the marks were seen: see its marks']);
  expect(open('2026-06-01T20:00:00Z')).toEqual([]);
});

test('hours of notice are hours passed, on the days the clocks change too', () => {
  const hours = { notice: 24, noticeUnit: 'hour', callDayCounts: true } as const;
  // 14 March 2027, 02:00 CST: the clocks go forward; 1 November 2026, 02:00 CDT: they go back
  for (const called of [
    '2027-03-13T16:00:00Z',
    '2027-03-14T15:00:00Z',
    '2026-10-31T15:00:00Z',
    '2026-11-01T16:00:00Z',
  ])
    expect(ticketDays({ ...RULE, ...hours }, new Date(called), ZONE, false).from.getTime()).toBe(
      Date.parse(called) + 24 * 3_600_000,
    );
  const emergency = new Date('2026-11-01T16:00:00Z');
  expect(ticketDays({ ...RULE, ...hours }, emergency, ZONE, true).from).toEqual(emergency);
  // a day of notice still begins at a local midnight: 15 March 00:00 CDT
  const byDays = { notice: 1, noticeUnit: 'calendar_day', callDayCounts: false } as const;
  expect(ticketDays({ ...RULE, ...byDays }, new Date('2027-03-13T16:00:00Z'), ZONE, false).from).toEqual(
    new Date('2027-03-15T05:00:00Z'),
  );
});

test('the work may have to begin within so many business days', () => {
  // Tuesday 24 November: Wednesday, Friday, Monday …; the tenth is Wednesday 9 December
  const rule = { startWithinDays: 10, startWithinUnit: 'business_day' } as const;
  expect(days(rule, '2026-11-24').beginBy).toBe('2026-12-09');
});

test('holidays nobody listed are told, where business days are counted', () => {
  expect(listsNoHolidays({ ...RULE, holidays: [] })).toBe(true);
  expect(listsNoHolidays(RULE)).toBe(false);
  const byHour = { ...RULE, noticeUnit: 'hour', holidays: [] } as const;
  expect(listsNoHolidays(byHour)).toBe(false);
  expect(listsNoHolidays({ ...byHour, lifeUnit: 'business_day' })).toBe(true);
  expect(listsNoHolidays({ ...byHour, startWithinUnit: 'business_day' })).toBe(false);
  expect(listsNoHolidays({ ...byHour, startWithinDays: 10, startWithinUnit: 'business_day' })).toBe(true);
  // A list that ends with 2026 knows nothing of New Year's Day
  expect(yearsUnlisted(RULE, '2026-11-24', '2026-12-01')).toEqual([]);
  expect(yearsUnlisted(RULE, '2026-12-30', '2027-01-05')).toEqual([2027]);
  expect(yearsUnlisted(byHour, '2026-12-30', '2027-01-05')).toEqual([]);
});

/** A template with the rest as its owner might say. */
const template = (code: string): LocateRule => {
  const found = LOCATE_TEMPLATES.find((each) => each.code === code);
  if (!found) throw new RangeError(code);
  return { ...RULE, ...found, holidays: ['2026-07-03'] };
};

test('South Carolina: three working days, then fifteen on which one may dig', () => {
  const { firstDay, lastDay } = ticketDays(template('south_carolina'), instant('2026-06-01'), ZONE, false);
  // Monday call; Tuesday to Thursday pass. Friday 5 June is the first of fifteen, Thursday 25 June the last.
  expect([firstDay, lastDay]).toEqual(['2026-06-05', '2026-06-25']);
});

test('Alabama: notice of two to ten working days', () => {
  const { firstDay, beginBy } = ticketDays(template('alabama'), instant('2026-06-01'), ZONE, false);
  // Tuesday and Wednesday pass; Monday 15 June is the tenth working day after the call
  expect([firstDay, beginBy]).toEqual(['2026-06-04', '2026-06-15']);
});

test('an expiring ticket is called again while the new one would still be ready in time', () => {
  // Called on Monday 30 November it would be good from Friday 4 December
  expect(mustRenew('2026-12-08', '2026-11-30', RULE, ZONE)).toBe(false);
  expect(mustRenew('2026-12-04', '2026-11-30', RULE, ZONE)).toBe(true);
  expect(mustRenew(null, '2026-11-30', RULE, ZONE)).toBe(false);
});

test('every template names its source and says what must be confirmed', () => {
  expect(LOCATE_TEMPLATES.length).toBeGreaterThan(5);
  for (const { code, source, missing, handDigMm } of LOCATE_TEMPLATES) {
    expect(source, code).not.toBe('');
    expect(missing, code).toContain('holidays');
    expect(missing.includes('handDig'), code).toBe(handDigMm === null);
  }
});
