import { describe, expect, test } from 'vitest';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { FORECAST_DAYS_AGO } from '../../src/demo/demoPlugs.js';
import { addDays, daysBetween } from '../../src/domain/calendar/isoDate.js';

describe.each(['2026-09-30', '2026-11-25', '2027-03-15'])('orders done before %s', (asOf) => {
  const { base, visits } = demoBusiness(1, asOf);
  const siteOf = new Map(base.lines.map((line) => [line.lineId, line.siteId]));

  test('stand behind readings of their own site and day', () => {
    const read = new Set(base.readings.map((row) => `${row.observedAt.slice(0, 10)} ${row.lineId}`));
    expect(visits.length).toBeGreaterThan(150);
    for (const visit of visits) {
      expect(visit.tasks.length).toBeGreaterThan(0);
      expect(visit.startedAt < visit.endedAt).toBe(true);
      for (const { lineId } of visit.tasks) {
        expect(siteOf.get(lineId)).toBe(visit.siteId);
        expect(read.has(`${visit.day} ${lineId}`)).toBe(true);
      }
    }
  });

  test('are of many kinds, priced, some promised, some with work agreed on site', () => {
    const kinds = new Set(visits.flatMap(({ tasks }) => tasks.map(({ kind }) => kind)));
    for (const kind of ['inspect', 'hose_flush', 'jet', 'clear_pit', 'clear_outlet', 'test_pump'] as const)
      expect(kinds).toContain(kind);
    const priced = visits.filter(({ priceBasis }) => priceBasis === 'time_and_material');
    expect(priced.every(({ priceMinor }) => priceMinor !== null && priceMinor > 0)).toBe(true);
    expect(visits.some(({ promised }) => promised)).toBe(true);
    expect(visits.some(({ inVainDaysBefore }) => inVainDaysBefore !== null)).toBe(true);
    expect(visits.some(({ tasks }) => tasks.some(({ addedMinor }) => addedMinor !== null))).toBe(true);
  });

  test('a flush tells where its water went, a look has none', () => {
    for (const { tasks, water } of visits) {
      const litres = tasks.reduce((sum, { clean }) => sum + (clean?.waterL ?? 0), 0);
      expect(water?.waterL ?? 0).toBe(litres);
    }
  });

  test('a few return for an earlier one on the same line within sixty days', () => {
    const returns = visits.filter(({ returnsFor }) => returnsFor !== null);
    expect(returns.length).toBeGreaterThanOrEqual(2);
    expect(returns.length).toBeLessThanOrEqual(3);
    for (const visit of returns) {
      const first = visits[visit.returnsFor ?? -1];
      expect(first?.siteId).toBe(visit.siteId);
      const days = daysBetween(first?.day ?? visit.day, visit.day);
      expect(days).toBeGreaterThan(0);
      expect(days).toBeLessThanOrEqual(60);
      expect(visit.because).toBe(`Cleaned ${days} days before, and it runs slowly again.`);
    }
  });

  test('one line plugged long after its clean, one soon after it', () => {
    const since = addDays(asOf, -FORECAST_DAYS_AGO);
    const days = base.readings
      .filter((row) => row.note !== null && row.plugged && row.observedAt.slice(0, 10) > since)
      .map((row) => {
        const before = base.readings
          .filter(
            ({ lineId, phase, observedAt }) =>
              lineId === row.lineId && phase === 'before_cleaning' && observedAt < row.observedAt,
          )
          .at(-1);
        return daysBetween(before?.observedAt.slice(0, 10) ?? since, row.observedAt.slice(0, 10));
      })
      .sort((a, b) => a - b);
    expect(days).toHaveLength(2);
    expect(days[0]).toBeLessThan(75);
    expect(days[1]).toBeGreaterThan(110);
  });
});
