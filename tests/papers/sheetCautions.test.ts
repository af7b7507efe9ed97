import { expect, test } from 'vitest';
import { TASK_KINDS } from '../../src/domain/words.js';
import { cautionsOf } from '../../src/domain/work/cautions.js';
import { paperHtml } from '../../src/papers/paperHtml.js';
import { routeSheet } from '../../src/papers/routeSheet.js';
import { stopCautions } from '../../src/papers/sheetCautions.js';
import { ROUTE_SHEET_SAMPLE } from './routeSheetSample.js';

const TASKS = ['inspect', 'jet', 'dig_and_replace'] as const;
const FACTS = { enterablePit: true, sanitaryTie: true, floodedBasement: true };

test('every caution of a stop is laid out once, a task’s own with the task, local codes with the visit', () => {
  for (const tasks of [[...TASKS], [...TASK_KINDS], ['jet'] as const]) {
    const { ofVisit, ofTasks } = stopCautions(tasks, FACTS);
    const texts = [...ofVisit, ...ofTasks.flat()].map(({ text }) => text).sort();
    expect(texts).toEqual(
      cautionsOf(tasks, FACTS)
        .map(({ text }) => text)
        .sort(),
    );
    expect(ofVisit.at(-1)?.text).toContain('local codes');
  }
  const { ofVisit, ofTasks } = stopCautions(TASKS, FACTS);
  expect(ofTasks[0]).toEqual([]);
  expect(ofTasks[1]?.some(({ text }) => text.includes('A water jet pierces skin'))).toBe(true);
  expect(ofTasks[2]?.some(({ source }) => source === '29 CFR 1926.652(a)(1), (b)(1)')).toBe(true);
  // jet and dig both warn of an open end: it stands once, with the visit
  expect(ofVisit.some(({ text }) => text.includes('open end'))).toBe(true);
});

test('the route sheet prints the cautions of a stop with their sources', () => {
  const [stop] = ROUTE_SHEET_SAMPLE.route.stops.filter(({ visit }) => visit !== null);
  if (!stop?.visit) throw new Error('the sample has a visit');
  const { ofVisit, ofTasks } = stopCautions(TASKS, FACTS);
  const visit = {
    ...stop.visit,
    cautions: ofVisit,
    tasks: TASKS.map((kind, i) => ({
      kind,
      target: 'drain',
      minutes: 10,
      plan: [],
      cautions: ofTasks[i] ?? [],
    })),
  };
  const html = paperHtml(
    routeSheet({
      ...ROUTE_SHEET_SAMPLE,
      route: { ...ROUTE_SHEET_SAMPLE.route, stops: [{ ...stop, visit }] },
    }),
  );
  const plain = html.replaceAll('&quot;', '"').replaceAll('&#39;', "'");
  for (const { text, source } of cautionsOf(TASKS, FACTS)) {
    expect(plain, text).toContain(text);
    if (source.startsWith('29 CFR')) expect(plain).toContain(source);
  }
});
