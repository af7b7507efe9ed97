import { expect, test } from 'vitest';
import { PLUG_CAUSES } from '../../../src/domain/words.js';
import { basisByTerms, inForce, isWarranty } from '../../../src/domain/work/priceBasis.js';

const ALL_LINES = { lineIds: [] };
const FOOTING = { lineIds: ['footing'] };
const on = (kind: 'jet' | 'cable' | 'test_pump' | 'temporary_pump', ...lineIds: string[]) => ({
  kind,
  lineIds,
});

test('care terms of one line cover care of it, of no other line, and no cable, trace or pump', () => {
  expect(basisByTerms([FOOTING], [on('jet', 'footing')])).toBe('care_terms');
  expect(basisByTerms([FOOTING], [on('jet', 'footing'), on('jet', 'discharge')])).toBe('time_and_material');
  expect(basisByTerms([ALL_LINES], [on('jet', 'discharge')])).toBe('care_terms');
  expect(basisByTerms([ALL_LINES], [on('cable', 'discharge')])).toBe('time_and_material');
  expect(basisByTerms([ALL_LINES], [on('temporary_pump', 'discharge')])).toBe('time_and_material');
  expect(basisByTerms([], [on('jet', 'footing')])).toBe('time_and_material');
  // A pit belongs to all lines of its system.
  expect(basisByTerms([FOOTING], [on('test_pump', 'discharge', 'footing')])).toBe('care_terms');
});

test('terms are in force on their last day', () => {
  const terms = { fromDay: '2026-01-01', toDay: '2026-06-30' };
  expect(['2025-12-31', '2026-01-01', '2026-06-30', '2026-07-01'].map((day) => inForce(terms, day))).toEqual([
    false,
    true,
    true,
    false,
  ]);
});

test('only what fouls is ours to open again', () => {
  expect(PLUG_CAUSES.filter(isWarranty)).toEqual(['deposit', 'unknown']);
  expect(isWarranty(null)).toBe(true);
});
