import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import { greatCircleTravel } from '../../src/domain/work/travel.js';
import { readAllowed } from '../../src/outside/addressRules.js';
import { osrmTravel } from '../../src/outside/osrmTravel.js';
import { outgoingCalls } from '../../src/outside/outgoing.js';

const closing: (() => Promise<void>)[] = [];
afterEach(async () => {
  for (const close of closing.splice(0)) await close();
});

async function listen(answer: (request: IncomingMessage, response: ServerResponse) => void) {
  const server = createServer(answer);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  closing.push(
    () =>
      new Promise((resolve) => {
        server.closeAllConnections();
        server.close(() => resolve());
      }),
  );
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

/**
 * A table service as OSRM publishes it (docs/http.md, "Table service"): refuses what it refuses, and answers
 * durations and distances of its own that no great circle gives: 1 s and 10 m per millionth of a degree east.
 */
function tableService(options: { maxTableSize?: number; island?: string } = {}) {
  const asked: string[] = [];
  const serve = (request: IncomingMessage, response: ServerResponse) => {
    asked.push(request.url ?? '');
    const send = (status: number, body: object) =>
      response.writeHead(status, { 'content-type': 'application/json' }).end(JSON.stringify(body));
    const url = new URL(request.url ?? '/', 'http://loopback');
    const [, service, version, profile, list] = url.pathname.split('/');
    if (service !== 'table') return send(400, { code: 'InvalidService' });
    if (version !== 'v1') return send(400, { code: 'InvalidVersion' });
    if (!profile || !list || !/^(-?\d+(\.\d+)?,-?\d+(\.\d+)?;?)+$/.test(list))
      return send(400, { code: 'InvalidQuery', message: 'Query string malformed' });
    const places = list.split(';');
    const indices = (name: string) => {
      const given = url.searchParams.get(name);
      return given === null || given === 'all' ? places.map((_, i) => i) : given.split(';').map(Number);
    };
    const [sources, destinations] = [indices('sources'), indices('destinations')];
    if ([...sources, ...destinations].some((index) => !(index >= 0 && index < places.length)))
      return send(400, { code: 'InvalidOptions' });
    // As src/engine/plugins/table.cpp of OSRM counts: sources times destinations against the square of the limit.
    if (sources.length * destinations.length > (options.maxTableSize ?? 100) ** 2)
      return send(400, { code: 'TooBig', message: 'Too many table coordinates' });
    const wanted = (url.searchParams.get('annotations') ?? 'duration').split(',');
    const east = (index: number) => Math.round(Number(places[index]?.split(',')[0]) * 1e6);
    const cell = (each: number) => (from: number, to: number) =>
      from !== to && [places[from], places[to]].includes(options.island)
        ? null
        : Math.abs(east(from) - east(to)) * each + 0.4;
    const table = (value: (from: number, to: number) => number | null) =>
      sources.map((from) => destinations.map((to) => value(from, to)));
    const waypoints = (which: number[]) =>
      which.map((i) => ({ location: places[i]?.split(',').map(Number), name: '', hint: '', distance: 0 }));
    return send(200, {
      code: 'Ok',
      ...(wanted.includes('duration') ? { durations: table(cell(1)) } : {}),
      ...(wanted.includes('distance') ? { distances: table(cell(10)) } : {}),
      sources: waypoints(sources),
      destinations: waypoints(destinations),
    });
  };
  return { serve, asked };
}

const points = (count: number) =>
  Array.from({ length: count }, (_, i) => ({ latitude: 44, longitude: -90 + i / 1e6 }));
const outgoing = outgoingCalls({ allowed: readAllowed('127.0.0.1') });
const options = (url: string) => ({ url, profile: 'driving', timeoutMs: 5_000, outgoing });

test('takes seconds and metres from the server, longitude first', async () => {
  const { serve, asked } = tableService();
  const { matrix, warnings } = await osrmTravel(options(await listen(serve)))(points(3));
  expect(warnings).toEqual([]);
  expect([...matrix.seconds]).toEqual([0, 1, 2, 1, 0, 1, 2, 1, 0]);
  expect([...matrix.metres]).toEqual([0, 10, 20, 10, 0, 10, 20, 10, 0]);
  expect(asked[0]).toMatch(
    /^\/table\/v1\/driving\/-90\.000000,44\.000000;.*\?sources=0;1;2&destinations=0;1;2&annotations=duration,distance$/,
  );
});

test('asks for a large table in blocks that the server allows, every pair once, and puts them together', async () => {
  const { serve, asked } = tableService();
  const { matrix, warnings } = await osrmTravel(options(await listen(serve)))(points(230));
  expect(warnings).toEqual([]);
  // Parts of 100, 100 and 30: 3 × 3 blocks of at most 100 × 100, the most OSRM takes by default.
  expect(asked).toHaveLength(9);
  const cells = asked.map((url) => {
    const query = new URL(url, 'http://loopback').searchParams;
    return ['sources', 'destinations'].map((name) => query.get(name)?.split(';').length ?? 0);
  });
  expect(cells.reduce((sum, [from = 0, to = 0]) => sum + from * to, 0)).toBe(230 * 230);
  for (let from = 0; from < 230; from++)
    for (let to = 0; to < 230; to++)
      if (matrix.seconds[from * 230 + to] !== Math.abs(from - to))
        throw new Error(`${from} to ${to}: ${matrix.seconds[from * 230 + to]}`);
});

test('a server that takes less than it is asked for says so, and travel falls back', async () => {
  const { serve } = tableService({ maxTableSize: 10 });
  const url = await listen(serve);
  const small = await osrmTravel({ ...options(url), tableSize: 10 })(points(23));
  expect(small.warnings).toEqual([]);
  const { warnings } = await osrmTravel(options(url))(points(23));
  expect(warnings[0]?.text).toContain('it answered TooBig: Too many table coordinates');
});

test('places that share no day are not asked for', async () => {
  const { serve, asked } = tableService();
  // A depot, then orders that are open on the first day, and as many on the second.
  const days = Array.from({ length: 201 }, (_, i) => (i === 0 ? 3 : i <= 100 ? 1 : 2));
  const { matrix } = await osrmTravel(options(await listen(serve)))(points(201), days);
  // Sorted: 100 of the first day, 100 of the second, the depot: 9 blocks less the two between the days.
  expect(asked).toHaveLength(7);
  expect(matrix.seconds[1 * 201 + 100]).toBe(99);
  expect(matrix.seconds[0 * 201 + 200]).toBe(200);
  expect(matrix.seconds[1 * 201 + 200]).toBe(greatCircleTravel(points(201)).seconds[1 * 201 + 200]);
});

test('a pair without a way falls back alone, and is counted', async () => {
  const { serve } = tableService({ island: '-89.999998,44.000000' });
  const { matrix, warnings } = await osrmTravel(options(await listen(serve)))(points(3));
  expect(warnings).toMatchObject([{ code: 'travel_without_way', facts: { pairs: 4 } }]);
  expect(matrix.seconds[1]).toBe(1);
  expect(matrix.metres[2]).toBe(greatCircleTravel(points(3)).metres[2]);
});

const FALLS = [
  [
    'answers with an error',
    (_: IncomingMessage, r: ServerResponse) => r.writeHead(400).end('{"code":"NoTable","message":"no"}'),
    'it answered NoTable: no',
  ],
  [
    'answers with a page',
    (_: IncomingMessage, r: ServerResponse) => r.writeHead(502).end('<html>'),
    'it answered status 502 without a table',
  ],
  [
    'leaves distances out',
    (_: IncomingMessage, r: ServerResponse) => r.end('{"code":"Ok","durations":[[0,1],[1,0]]}'),
    'its table lacks durations or distances',
  ],
  [
    'answers nonsense',
    (_: IncomingMessage, r: ServerResponse) =>
      r.end('{"code":"Ok","durations":[[0,-1],[1,0]],"distances":[[0,1],[1,0]]}'),
    'its table holds -1 s and 1 m',
  ],
] as const;
test.each(FALLS)('a server that %s: great circle, with a warning', async (_, answer, because) => {
  const { matrix, warnings } = await osrmTravel(options(await listen(answer)))(points(2));
  expect(matrix).toEqual(greatCircleTravel(points(2)));
  expect(warnings).toMatchObject([{ code: 'travel_fell_back', facts: { because } }]);
});

test('a server that is silent or away does not hold the plan up', async () => {
  const silent = await listen(() => undefined);
  const startedAt = performance.now();
  const slow = await osrmTravel({ ...options(silent), timeoutMs: 200 })(points(2));
  expect(performance.now() - startedAt).toBeLessThan(3_000);
  expect(slow.warnings).toMatchObject([{ facts: { because: 'it did not answer in time' } }]);
  const away = await osrmTravel(options('http://127.0.0.1:9'))(points(2));
  expect(away.warnings).toMatchObject([{ facts: { because: 'it cannot be reached' } }]);
});

test('a server inside that nobody allowed is not asked', async () => {
  const { serve, asked } = tableService();
  const url = await listen(serve);
  const strict = outgoingCalls({ allowed: readAllowed('') });
  const { warnings } = await osrmTravel({ ...options(url), outgoing: strict })(points(2));
  expect(warnings).toMatchObject([
    { code: 'travel_fell_back', facts: { because: 'it does not begin with https://' } },
  ]);
  expect(asked).toEqual([]);
});
