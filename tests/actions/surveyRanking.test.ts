import { expect, test } from 'vitest';
import { dueVisits } from '../../src/actions/night/dueVisits.js';
import type { Row } from '../../src/actions/ports.js';
import { dayNumber } from '../../src/domain/calendar/isoDate.js';
import { settingsWith } from '../../src/domain/work/settings.js';

// a Sunday: with one survey a week the places are Monday 5, 12 and 19 October
const TODAY = '2026-10-04';

function unseen(site: string, basement: string, kind: string, plugChance: number, name = kind): Row {
  return {
    id: `${site} ${name}`,
    site_id: site,
    system_id: `system of ${site}`,
    basement,
    kind,
    is_discharge: kind === 'sump_discharge',
    deposit: 'unknown',
    length_m: 20,
    bore_mm: 100,
    drains_to: kind === 'sump_discharge' ? 'outlet' : 'pit',
    trend: {
      due_on: TODAY,
      due_rule: 'risk',
      readings_used: 0,
      interval_days: null,
      plug_chance_year: plugChance,
      due_reasons: [],
      components: { notBefore: null },
    },
  };
}

const surveyed = (lines: Row[]) =>
  dueVisits({
    today: dayNumber(TODAY),
    lines,
    given: [],
    pits: new Map(),
    settings: settingsWith({ surveys: { perWeek: 1 } }),
    means: { machines: [], assumedFreeVolumeL: 57 },
  })
    .visits.sort((a, b) => a.wantedDay - b.wantedDay)
    .map(({ siteId }) => siteId);

test('first surveys go by what the line floods, not by the basement above it: a yard drain of a finished house waits', () => {
  expect(
    surveyed([
      unseen('a finished', 'finished', 'yard_drain', 0.6),
      unseen('b plain', 'basement', 'sump_discharge', 0.3),
      unseen('c plain', 'basement', 'footing_drain', 0.5),
    ]),
  ).toEqual(['c plain', 'b plain', 'a finished']);
});

test('a system goes by its worst line, in whatever order its lines come', () => {
  const yard = unseen('a finished', 'finished', 'yard_drain', 0.1);
  const floor = unseen('a finished', 'finished', 'floor_drain', 0.2);
  const other = unseen('b plain', 'basement', 'footing_drain', 0.9);
  expect(surveyed([other, yard, floor])).toEqual(['a finished', 'b plain']);
  expect(surveyed([other, floor, yard])).toEqual(['a finished', 'b plain']);
});
