import { describe, expect, test } from 'vitest';
import type { ReadingRow } from '../../src/actions/clientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';

const AS_OF = '2026-09-30';
const demo = demoBusiness(1, AS_OF);
const { base, extras } = demo;
const lineOf = new Map(base.lines.map((line) => [line.lineId, line]));
const siteIds = new Set(base.sites.map((site) => site.siteId));

function median(values: number[]): number {
  return values.sort((a, b) => a - b)[Math.floor(values.length / 2)] ?? Number.NaN;
}

const seen = (phase: ReadingRow['phase']): number[] =>
  base.readings.flatMap((row) => (row.phase === phase && row.occlusion !== null ? [row.occlusion] : []));

test('the same seed and day give the same business, another seed another one', () => {
  expect(demoBusiness(1, AS_OF)).toEqual(demo);
  expect(demoBusiness(2, AS_OF).base.readings).not.toEqual(base.readings);
});

describe.each([1, 2, 3])('seed %i', (seed) => {
  const own = demoBusiness(seed, AS_OF).base;

  test('a few hundred sites, about two lines each, some known by name only', () => {
    expect(own.sites).toHaveLength(300);
    expect(own.lines.length).toBeGreaterThan(500);
    expect(own.lines.length).toBeLessThan(650);
    const named = own.sites.filter((site) => site.lastCleaned !== null);
    expect(named).toHaveLength(12);
    expect(own.lines.filter((line) => named.some((site) => site.siteId === line.siteId))).toEqual([]);
  });

  test('a line is cleaned once to six times a year on average, and a few in a hundred plug each year', () => {
    const cleans = own.readings.filter((row) => row.phase === 'before_cleaning').length;
    const perLineYear = cleans / own.lines.length / 2;
    expect(perLineYear).toBeGreaterThan(1);
    expect(perLineYear).toBeLessThan(6);
    const plugs = own.readings.filter((row) => row.plugCause === 'deposit').length / own.lines.length / 2;
    expect(plugs).toBeGreaterThan(0.01);
    expect(plugs).toBeLessThan(0.07);
    expect(own.readings.some((row) => row.plugged && row.plugCause !== 'deposit')).toBe(true);
  });
});

test('lines are found about a fifth full and left nearly clean', () => {
  expect(median(seen('before_cleaning'))).toBeGreaterThan(0.12);
  expect(median(seen('before_cleaning'))).toBeLessThan(0.32);
  expect(median(seen('after_cleaning'))).toBeLessThan(0.12);
});

test('iron in the water fouls: the areas with most iron are found fuller or visited sooner', () => {
  const growth = (wanted: (ironMgL: number) => boolean): number =>
    median(
      base.lines.flatMap((line) => {
        if (line.ferrousIronMgL === null || !wanted(line.ferrousIronMgL)) return [];
        return growthsOf(base.readings.filter((row) => row.lineId === line.lineId));
      }),
    );
  const much = growth((iron) => iron > 5);
  const little = growth((iron) => iron < 1);
  expect(much).toBeGreaterThan(1.5 * little);
});

/** Share of the bore a day between one clean and the next reading, taking a cleaned line as empty. */
function growthsOf(rows: readonly ReadingRow[]): number[] {
  const befores = rows.filter((row) => row.phase === 'before_cleaning');
  return befores.slice(1).flatMap((row, at) => {
    const days = (Date.parse(row.observedAt) - Date.parse(befores[at]?.observedAt ?? '')) / 86_400_000;
    return row.occlusion === null ? [] : [row.occlusion / days];
  });
}

test('worse lines are visited more often', () => {
  const intervals = base.lines.flatMap((line) => {
    const rows = base.readings.filter(
      (row) => row.lineId === line.lineId && row.phase === 'before_cleaning' && row.occlusion !== null,
    );
    const first = rows[0];
    const last = rows.at(-1);
    if (rows.length < 4 || first === undefined || last === undefined) return [];
    const days = (Date.parse(last.observedAt) - Date.parse(first.observedAt)) / 86_400_000;
    return [{ days: days / (rows.length - 1), rate: median(growthsOf(rows)) }];
  });
  intervals.sort((a, b) => a.rate - b.rate);
  const third = Math.floor(intervals.length / 3);
  const days = (part: typeof intervals): number => median(part.map((each) => each.days));
  expect(days(intervals.slice(-third))).toBeLessThan(0.8 * days(intervals.slice(0, third)));
});

test('a pumped house has a discharge, and its footing drain is visited on the same day', () => {
  for (const line of base.lines.filter((each) => each.drainsTo === 'pit')) {
    expect(base.lines.some((each) => each.siteId === line.siteId && each.kind === 'sump_discharge')).toBe(
      true,
    );
  }
  const dayKeys = (lineId: string): Set<string> =>
    new Set(base.readings.filter((row) => row.lineId === lineId).map((row) => row.observedAt.slice(0, 10)));
  let together = 0;
  let apart = 0;
  for (const discharge of base.lines.filter((line) => line.kind === 'sump_discharge')) {
    const footing = dayKeys(`${discharge.siteId}-F1`);
    for (const day of dayKeys(discharge.lineId)) {
      if (footing.has(day)) together += 1;
      else apart += 1;
    }
  }
  expect(together).toBeGreaterThan(300);
  expect(apart).toBe(0);
});

test('some lines were cleaned without a reading, and nothing was seen before its line was laid or after the day', () => {
  const bare = base.readings.filter((row) => row.method === null && !row.plugged);
  expect(bare.length).toBeGreaterThan(50);
  expect(bare.every((row) => row.phase === 'before_cleaning')).toBe(true);
  for (const row of base.readings) {
    expect(row.observedAt.slice(0, 10) < AS_OF).toBe(true);
    expect(row.observedAt.slice(0, 10) >= (lineOf.get(row.lineId)?.installedOn ?? '1900-01-01')).toBe(true);
  }
});

test('what the extras speak of is in the base', () => {
  const crewIds = new Set(base.crews.map((crew) => crew.crewId));
  const named = [
    ...extras.contacts,
    ...extras.hours,
    ...extras.careTerms,
    ...extras.accessPoints,
    ...extras.decisions,
    extras.dig,
  ];
  expect(named.every((each) => siteIds.has(each.siteId))).toBe(true);
  const lineIds = [
    ...extras.decisions.flatMap((each) => each.lineIds),
    ...extras.accessPoints.flatMap((each) => each.lineId ?? []),
    extras.dig.lineId,
  ];
  expect(lineIds.every((id) => lineOf.has(id))).toBe(true);
  expect(extras.members.every((member) => crewIds.has(member.crewId))).toBe(true);
  expect(base.crews.some((crew) => crew.depot === extras.closedSeason.depot)).toBe(true);
  expect(new Set(extras.decisions.map((each) => each.kind))).toEqual(new Set(['refusal', 'postponement']));
  const phones = extras.contacts.map((contact) => contact.phone);
  expect(phones.every((phone) => /^\d{3}-555-01\d\d$/.test(phone))).toBe(true);
});

test('closed season: the winter the day lies in, else the next one', () => {
  expect(demoBusiness(1, '2027-01-15').extras.closedSeason.fromDay).toBe('2026-12-05');
  expect(demoBusiness(1, '2027-04-01').extras.closedSeason.fromDay).toBe('2027-12-05');
});
