import { type Outgoing, OutgoingFault } from '../actions/outgoing.js';
import type { Said, TravelTable } from '../actions/plans/planTools.js';
import type { TravelMatrix } from '../domain/routing/problem.js';
import { greatCircleTravel, type Point } from '../domain/work/travel.js';

export interface OsrmOptions {
  /** As `http://127.0.0.1:5000`. */
  url: string;
  profile: string;
  /** For all requests of one table together. */
  timeoutMs: number;
  /** The server's `--max-table-size`: it refuses more sources times destinations than the square of it. */
  tableSize?: number;
  outgoing: Outgoing;
}

const TABLE_SIZE = 100;
const REQUESTS_AT_ONCE = 4;
/** A table of 100 places is about 200 KB; of a server that takes 500, about 5 MB. */
const ANSWER_BYTES = 32 * 1024 * 1024;

interface TableAnswer {
  code: string;
  message?: string;
  durations?: (number | null)[][];
  distances?: (number | null)[][];
}

class TableFault extends Error {}

/**
 * Travel from a table server that speaks OSRM's HTTP API version 1:
 * `GET /table/v1/{profile}/{lon},{lat};…?sources=…&destinations=…&annotations=duration,distance`, answered by
 * `{ code: "Ok", durations, distances }` in seconds and metres, row-major, null where there is no way.
 * A large table is asked for in blocks of the server's table size each way, those left out in which no two places
 * are visited on one day. Where the server does not answer in time, or not so, travel falls back to
 * the great circle, all of it, with a warning; a pair without a way falls back alone.
 *
 * @see https://github.com/Project-OSRM/osrm-backend/blob/master/docs/http.md, "Table service"; the limit:
 * src/engine/plugins/table.cpp, "Too many table coordinates"
 */
export function osrmTravel(options: OsrmOptions): TravelTable {
  return async (points, days) => {
    const circle = greatCircleTravel(points);
    if (points.length < 2) return { matrix: circle, warnings: [] };
    try {
      const noWay = await fill(circle, points, days, options);
      return { matrix: circle, warnings: noWay === 0 ? [] : [withoutWay(noWay)] };
    } catch (error) {
      return { matrix: greatCircleTravel(points), warnings: [fellBack(options, error)] };
    }
  };
}

/** Overwrites the great-circle matrix by the server's figures; how many pairs have no way. */
async function fill(
  matrix: TravelMatrix,
  points: readonly Point[],
  days: ArrayLike<number> | undefined,
  options: OsrmOptions,
): Promise<number> {
  const signal = AbortSignal.timeout(options.timeoutMs);
  const blocks = blocksOf(points.length, Math.max(1, options.tableSize ?? TABLE_SIZE), days);
  let noWay = 0;
  let next = 0;
  const work = async () => {
    for (let block = blocks[next++]; block; block = blocks[next++])
      noWay += take(matrix, block, await askBlock(points, block, options, signal));
  };
  await Promise.all(Array.from({ length: Math.min(REQUESTS_AT_ONCE, blocks.length) }, work));
  return noWay;
}

interface Block {
  from: number[];
  to: number[];
}

/** All pairs that share a day in blocks of at most so many sources and destinations; places of like days side by side. */
function blocksOf(size: number, atMost: number, days: ArrayLike<number> | undefined): Block[] {
  const daysOf = (place: number) => days?.[place] ?? -1;
  const places = Array.from({ length: size }, (_, i) => i);
  if (days) places.sort((a, b) => daysOf(a) - daysOf(b) || a - b);
  const parts: number[][] = [];
  for (let at = 0; at < size; at += atMost) parts.push(places.slice(at, at + atMost));
  const shares = (from: number[], to: number[]) =>
    from.some((a) => to.some((b) => (daysOf(a) & daysOf(b)) !== 0));
  return parts.flatMap((from) => parts.flatMap((to) => (shares(from, to) ? [{ from, to }] : [])));
}

async function askBlock(
  points: readonly Point[],
  block: Block,
  { url, profile, outgoing, timeoutMs }: OsrmOptions,
  signal: AbortSignal,
): Promise<TableAnswer> {
  const used = [...new Set([...block.from, ...block.to])];
  const place = new Map(used.map((index, at) => [index, at]));
  const coordinates = used.map((index) => {
    const point = points[index];
    if (!point) throw new RangeError(`no point ${index}`);
    return `${point.longitude.toFixed(6)},${point.latitude.toFixed(6)}`;
  });
  const listed = (indices: readonly number[]) => indices.map((index) => place.get(index)).join(';');
  const query = `sources=${listed(block.from)}&destinations=${listed(block.to)}&annotations=duration,distance`;
  const address = `${url.replace(/\/+$/, '')}/table/v1/${encodeURIComponent(profile)}/${coordinates.join(';')}?${query}`;
  const { status, body } = await outgoing.call({
    method: 'GET',
    url: address,
    headers: { accept: 'application/json' },
    timeoutMs,
    atMostBytes: ANSWER_BYTES,
    signal,
  });
  const answer = readAnswer(body, status);
  if (answer.code !== 'Ok')
    throw new TableFault(`it answered ${answer.code}${answer.message ? `: ${answer.message}` : ''}`);
  return answer;
}

function readAnswer(text: string, status: number): TableAnswer {
  try {
    const answer: unknown = JSON.parse(text);
    if (typeof answer === 'object' && answer !== null && 'code' in answer) return answer as TableAnswer;
  } catch {
    // Told below.
  }
  throw new TableFault(`it answered status ${status} without a table`);
}

/** Puts one block's figures into the matrix; how many of its pairs have no way. */
function take(matrix: TravelMatrix, block: Block, { durations, distances }: TableAnswer): number {
  const { size, seconds, metres } = matrix;
  let noWay = 0;
  block.from.forEach((from, i) => {
    block.to.forEach((to, j) => {
      const duration = durations?.[i]?.[j];
      const distance = distances?.[i]?.[j];
      if (duration === undefined || distance === undefined)
        throw new TableFault('its table lacks durations or distances');
      if (duration === null || distance === null) {
        noWay += 1;
        return;
      }
      if (!(duration >= 0 && distance >= 0 && duration < 1e7 && distance < 1e9))
        throw new TableFault(`its table holds ${duration} s and ${distance} m`);
      seconds[from * size + to] = Math.round(duration);
      metres[from * size + to] = Math.round(distance);
    });
  });
  return noWay;
}

function fellBack({ url }: OsrmOptions, error: unknown): Said {
  const timedOut = error instanceof OutgoingFault && error.code === 'timeout';
  const because = timedOut
    ? 'it did not answer in time'
    : error instanceof TableFault
      ? error.message
      : error instanceof OutgoingFault && error.code !== 'unreachable'
        ? error.message
        : 'it cannot be reached';
  return {
    code: 'travel_fell_back',
    facts: { host: hostOf(url), because },
    text: `The table server ${hostOf(url)} gave no travel times (${because}); great-circle distance × 1.3 at 50 km/h is used instead.`,
  };
}

const withoutWay = (pairs: number): Said => ({
  code: 'travel_without_way',
  facts: { pairs },
  text: `${pairs} pairs of places have no way between them on the table server's roads; great-circle distance × 1.3 is used for those.`,
});

/** Without what may stand in front of the host: a name and password are nobody's business. */
const hostOf = (url: string): string => (URL.canParse(url) ? new URL(url).host : 'of the settings');
