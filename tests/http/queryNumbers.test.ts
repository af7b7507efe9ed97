import { beforeAll, expect, test } from 'vitest';
import { type ReportedLines, reportedLines, TODAY } from '../setup/reportedLines.js';

let t: ReportedLines;
beforeAll(async () => {
  t = await reportedLines();
}, 60_000);

const ask = (url: string) => t.call('owner', { method: 'GET', url: `/v1/${url}` });

test.each([
  ['reports/fouling-rates?ironFrom=', 'ironFrom'],
  ['reports/fouling-rates?ageFrom=0x10', 'ageFrom'],
  ['reports/fouling-rates?ageTo=1e2', 'ageTo'],
  ['reports/due-weeks?weeks=', 'weeks'],
  ['sites?limit=', 'limit'],
  ['sites?limit=%205', 'limit'],
  ['clients/019abcde-0000-7000-8000-000000000001/summary?year=', 'year'],
])('an empty box or another writing of a number is refused, not taken for zero: %s', async (url, name) => {
  const { status, body } = await ask(url);
  expect(status).toBe(400);
  expect(body.errors[0].pointer).toContain(name);
});

test('digits are numbers as before', async () => {
  expect((await ask('reports/fouling-rates?ironFrom=0.5&ageTo=20')).status).toBe(200);
  expect((await ask('reports/due-weeks')).status).toBe(200);
});

test('a year of a question ends today and has no day twice; a period that begins after its end is refused', async () => {
  const site = await t.site();
  const line = await t.line(site);
  await t.clean(line, '2025-10-01');
  await t.clean(line, '2025-10-02');
  const { body } = await ask('reports/clean-results');
  const { body: said } = await ask(`reports/clean-results?fromDay=2025-10-02&toDay=${TODAY}`);
  expect(body).toEqual(said);
  const ahead = await ask('reports/done-work?fromDay=2027-01-01');
  expect(ahead.status).toBe(422);
  expect(ahead.body.errors[0]).toMatchObject({ pointer: '#/fromDay', remedy: `a day up to ${TODAY}` });
});

test('no paper of a year that has not begun', async () => {
  const { status, body } = await ask('clients/019abcde-0000-7000-8000-000000000001/summary?year=2027');
  expect(status).toBe(422);
  expect(body.errors[0]).toMatchObject({ pointer: '#/year', remedy: 'a year up to 2026' });
});
