import { expect, test } from 'vitest';
import { TASK_KINDS } from '../../src/domain/words.js';
import { cautionsOf } from '../../src/domain/work/cautions.js';
import { paperHtml } from '../../src/papers/paperHtml.js';
import { routeSheet } from '../../src/papers/routeSheet.js';
import { type CautionedVisit, dayCautions } from '../../src/papers/sheetCautions.js';
import { readXml } from './readSvg.js';
import { ROUTE_SHEET_SAMPLE } from './routeSheetSample.js';

/** A jet and a dig in a wet cellar, two jets (one in a yard without pump), a look, and everything at once. */
const DAY: CautionedVisit[] = [
  {
    number: 1,
    tasks: ['inspect', 'jet', 'dig_and_replace'],
    facts: { enterablePit: true, sanitaryTie: true, floodedBasement: true },
  },
  { number: 2, tasks: ['jet', 'clear_pit', 'test_pump'], facts: {} },
  { number: 4, tasks: ['jet'], facts: { noPump: true } },
  { number: 5, tasks: ['inspect'], facts: { noPump: true } },
];
const textsOf = ({ tasks, facts }: CautionedVisit) =>
  cautionsOf(tasks, facts)
    .map(({ text }) => text)
    .sort();

/** What a reader of the sheet knows at a stop: the day's cautions that name it, and those that stand there. */
function toldAt(visits: readonly CautionedVisit[], at: number): string[] {
  const { ofDay, ofVisits } = dayCautions(visits);
  const own = ofVisits[at];
  const named = ofDay.filter(({ stops }) => stops.includes(visits[at]?.number ?? -1));
  return [...named, ...(own?.ofVisit ?? []), ...(own?.ofTasks.flat() ?? [])].map(({ text }) => text).sort();
}

test('no stop loses a caution and none is told it twice, whatever the day', () => {
  const everything = { number: 1, tasks: [...TASK_KINDS], facts: {} };
  for (const day of [DAY, DAY.slice(0, 1), [everything], [everything, ...DAY.slice(1)], [...DAY].reverse()])
    day.forEach((visit, at) => {
      expect(toldAt(day, at), `stop ${visit.number}`).toEqual(textsOf(visit));
    });
});

test('what stops share stands once for the day, with their numbers', () => {
  const { ofDay, ofVisits } = dayCautions(DAY);
  const stopsOf = (name: string) => ofDay.find((each) => each.name === name)?.stops;
  expect(stopsOf('local codes')).toEqual([1, 2, 4, 5]);
  expect(stopsOf('jet injury')).toEqual([1, 2, 4]);
  // Nobody looks for a pump in a yard of a house without basement and pit.
  expect(stopsOf('pump power')).toEqual([1, 2]);
  expect(stopsOf('pit overflows')).toEqual([1, 2]);
  expect(stopsOf('trench wall')).toBeUndefined();
  expect(ofVisits[2]).toEqual({ ofVisit: [], ofTasks: [[]] });
});

test('what only one stop has stands there, a task’s own with the task, the house’s always', () => {
  const { ofVisits } = dayCautions(DAY);
  const [wet] = ofVisits;
  expect(wet?.ofTasks[0]).toEqual([]);
  expect(wet?.ofTasks[2]?.some(({ source }) => source === '29 CFR 1926.652(a)(1), (b)(1)')).toBe(true);
  expect(wet?.ofVisit.map(({ text }) => text.slice(0, 8))).toEqual(['Flooded ', 'A pit, m', 'Tied to ']);
  const twoWet = dayCautions([
    { number: 1, tasks: ['jet'], facts: { floodedBasement: true } },
    { number: 2, tasks: ['jet'], facts: { floodedBasement: true } },
  ]);
  expect(twoWet.ofDay.map(({ name }) => name)).not.toContain('flooded basement');
  for (const { ofVisit } of twoWet.ofVisits) expect(ofVisit[0]?.text).toContain('nobody enters');
});

test('a day of one stop needs no first page of cautions', () => {
  const { ofDay, ofVisits } = dayCautions(DAY.slice(0, 1));
  expect(ofDay).toEqual([]);
  // jet and dig both warn of an open end: it stands once, with the visit
  expect(ofVisits[0]?.ofVisit.some(({ text }) => text.includes('open end'))).toBe(true);
  expect(ofVisits[0]?.ofVisit.at(-1)?.text).toContain('local codes');
});

test('the sheet prints each caution once in full, and at a stop the names of the day’s', () => {
  const visits = ROUTE_SHEET_SAMPLE.route.stops.flatMap(({ visit }) => (visit === null ? [] : [visit]));
  const day = DAY.map((each, i) => ({ ...each, number: [1, 2, 3, 5][i] ?? 0 }));
  const { ofDay, ofVisits } = dayCautions(day);
  let at = -1;
  const stops = ROUTE_SHEET_SAMPLE.route.stops.map((stop) => {
    if (stop.visit === null) return stop;
    at += 1;
    const own = ofVisits[at];
    return {
      ...stop,
      visit: {
        ...(visits[at] ?? stop.visit),
        cautions: own?.ofVisit ?? [],
        tasks: (day[at]?.tasks ?? []).map((kind, i) => ({
          kind,
          target: 'drain',
          minutes: 10,
          plan: [],
          cautions: own?.ofTasks[i] ?? [],
        })),
      },
    };
  });
  const html = paperHtml(
    routeSheet({ ...ROUTE_SHEET_SAMPLE, cautions: ofDay, route: { ...ROUTE_SHEET_SAMPLE.route, stops } }),
  );
  const plain = readXml(html.replace('<!DOCTYPE html>\n', '').trimEnd()).text;
  for (const { text, source } of day.flatMap(({ tasks, facts }) => cautionsOf(tasks, facts))) {
    const times = plain.split(text).length - 1;
    // A deep pit is the task's at stop 2 and the house's at stop 1: at each in full.
    expect(times, text).toBe(text.startsWith('A pit') ? 2 : 1);
    if (source.startsWith('29 CFR')) expect(plain).toContain(source);
  }
  const ofStops = [...plain.matchAll(/⚠ Cautions of the day: ([^.]*)\./g)].map(([, names]) => names);
  expect(ofStops[2]).toBe(
    'those of every stop, jet injury, nozzle turns back, open end, parked nozzle, cross-bored gas, exhaust, sludge',
  );
  expect(ofStops[3]).toBe('those of every stop');
  expect(/exhaust: [^—]*— stops 1, 2, 3/.test(plain)).toBe(true);
});
