import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { DEMO_TOWNS } from '../../src/demo/demoPlaces.js';
import { QUESTIONS } from '../../src/http/reports/all.js';
import { filterOf, reportQuery } from '../../src/http/reports/lineFilterQuery.js';

const readme = readFileSync(join(import.meta.dirname, '../../README.md'), 'utf8');
const asked = [...readme.matchAll(/\/v1\/reports\/([a-z-]+)(?:\.svg)?(?:\?([^"\s]*))?"/g)].map(
  ([, path = '', query = '']) => ({ path, query: Object.fromEntries(new URLSearchParams(query)) }),
);

test('the reports the README shows are there, and take what it asks with', () => {
  expect(asked.length).toBeGreaterThanOrEqual(3);
  for (const { path, query } of asked) {
    const question = QUESTIONS.find((each) => each.path === path);
    expect(question, path).toBeDefined();
    expect(reportQuery(question?.own ?? {}).safeParse(query).error, path).toBeUndefined();
  }
});

test('the places it names are places of the demo', () => {
  const filters = asked.map(({ query }) => filterOf(query));
  const towns = filters.flatMap(({ town }) => town ?? []);
  expect(towns.length).toBeGreaterThan(0);
  for (const town of towns) expect(DEMO_TOWNS.map(({ name }) => name)).toContain(town);
  const areas = DEMO_TOWNS.flatMap((town) => town.areas.map(({ name }) => name));
  for (const { area } of filters) if (area !== undefined) expect(areas).toContain(area);
});
