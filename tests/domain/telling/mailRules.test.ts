import { expect, test } from 'vitest';
import { droppedBecause, type MailFacts, quietSeconds } from '../../../src/domain/telling/mailRules.js';

const night = { quietFrom: '20:00', quietTo: '07:00' };
test.each([
  ['19:59', 0],
  ['20:00', 11 * 3600],
  ['23:30', 7.5 * 3600],
  ['00:00', 7 * 3600],
  ['06:59', 60],
  ['07:00', 0],
  ['12:00', 0],
])('at %s the quiet night ends in %s s', (time, seconds) => {
  expect(quietSeconds(time, night)).toBe(seconds);
});

test('quiet hours may lie within a day, and may be none', () => {
  const noon = { quietFrom: '12:00', quietTo: '13:30' };
  expect(quietSeconds('12:30', noon)).toBe(3600);
  expect(quietSeconds('13:30', noon)).toBe(0);
  expect(quietSeconds('12:30', { quietFrom: '08:00', quietTo: '08:00' })).toBe(0);
});

const reminder: MailFacts = {
  kind: 'reminder',
  contact: { hasAddress: true, optOut: false, archived: false },
  orderState: 'placed',
  day: '2026-10-03',
  visitDay: '2026-10-03',
  today: '2026-10-01',
  hoursOld: 1,
  momentOver: false,
};
test('a mail is sent while what it says is so and its reader wants it', () => {
  expect(droppedBecause(reminder)).toBeNull();
  const because = (change: Partial<MailFacts>) => droppedBecause({ ...reminder, ...change });
  expect(because({ orderState: 'withdrawn' })).toBe('the work was withdrawn');
  expect(because({ visitDay: '2026-10-05' })).toBe('the visit is not on that day any more');
  expect(because({ visitDay: null })).toBe('the visit is not on that day any more');
  expect(because({ today: '2026-10-03' })).toBe('the day has come');
  expect(because({ orderState: 'under_way' })).toBe('the crew is there, or has been');
  expect(because({ contact: { ...reminder.contact, optOut: true } })).toBe('the contact wants no mail');
  expect(because({ contact: { ...reminder.contact, archived: true } })).toBe('the contact is archived');
  expect(because({ contact: { ...reminder.contact, hasAddress: false } })).toContain('no e-mail address');
  expect(because({ kind: 'on_the_way', visitDay: null })).toBeNull();
  expect(because({ kind: 'on_the_way', hoursOld: 3 })).toBe('it comes too late to be of use');
  expect(because({ kind: 'on_the_way', momentOver: true })).toBe('it comes too late to be of use');
  expect(because({ momentOver: true })).toBeNull();
  expect(because({ kind: 'done', orderState: 'done' })).toBeNull();
  expect(because({ kind: 'done', orderState: 'withdrawn' })).toBe('the work was withdrawn');
});
