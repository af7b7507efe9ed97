import { expect, test } from 'vitest';
import { openHindrances, type PlannedGround } from '../../../src/domain/work/openHindrances.js';

const ticket = {
  id: 't',
  number: 'T-1',
  digFrom: '2026-10-01T19:30:00Z',
  firstDay: '2026-10-01',
  goodTo: '2026-10-15',
  open: null,
};
const said = (own: Partial<PlannedGround>, day = '2026-10-01') =>
  openHindrances({ startsAt: `${day}T20:00:00Z`, waitsFor: [], ticket, ...own }, day).map(({ text }) => text);

test('a dig stands inside the life of its ticket, from its hour on', () => {
  expect(said({})).toEqual([]);
  expect(said({ ticket: null })).toEqual([]);
  expect(said({ startsAt: '2026-10-01T19:29:00Z' })).toEqual(['its locate ticket T-1 begins later that day']);
  expect(said({}, '2026-09-30')).toEqual([
    'its locate ticket T-1 is good from Thu\u00A01\u00A0Oct\u00A02026 on',
  ]);
  expect(said({}, '2026-10-15')).toEqual([]);
  expect(said({}, '2026-10-16')).toEqual([
    'its locate ticket T-1 is good until Thu\u00A015\u00A0Oct\u00A02026 only',
  ]);
  expect(said({ ticket: { ...ticket, goodTo: null } }, '2027-10-16')).toEqual([]);
});

test('what a visit waits for is named by its kind, a ticket with what is open on it', () => {
  expect(said({ waitsFor: ['quote_accepted'] })).toEqual(['waits for quote accepted']);
  const open = { ...ticket, open: 'gas has not answered' };
  expect(said({ waitsFor: ['locate_ticket'], ticket: open })).toEqual([
    'its locate ticket T-1 is open: gas has not answered',
  ]);
  expect(said({ waitsFor: ['locate_ticket'], ticket: null })).toEqual(['its locate ticket is open']);
});
