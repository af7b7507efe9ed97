import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { AttemptResult, LineKind, TaskKind } from '../../domain/words.js';
import type { ClientSummaryData, SummedHouse, SummedLine, SummedVisit } from '../../papers/clientSummary.js';
import { BEING_CHECKED } from '../../papers/clientWords.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';
import {
  dayOf,
  decisionOf,
  declinedProposals,
  doubtsOf,
  IN_FORCE,
  is,
  isIn,
  lastOf,
} from './clientRecords.js';
import { comingNow, houseDays } from './comingVisitsOf.js';
import { letterhead } from './letterhead.js';

/** Days, both included. */
interface Span {
  from: IsoDate;
  to: IsoDate;
}

/**
 * A client's year, up to today, house by house; of a house bought or sold in it, the client's own part.
 *
 * @throws {Refused} `not-found`.
 */
export async function clientSummaryOf(
  house: House,
  clientId: string,
  year: number,
  units: UnitSystem,
): Promise<ClientSummaryData> {
  const { rows } = house.stores;
  const asked = await rows.get('client', clientId);
  // What was a double points to the client that has its houses now.
  const client = asked?.['merged_into_id']
    ? await rows.get('client', String(asked['merged_into_id']))
    : asked;
  if (!client) throw new Refused({ code: 'not-found', resource: 'client', id: clientId });
  const today = dayOf(house, house.clock.now().toISOString());
  const [from, end] = [`${year}-01-01`, `${year}-12-31`];
  const whole: Span = { from, to: today < end && today >= from ? today : end };
  const owned = await rows.all('site_client', [is('client_id', client['id'])]);
  const houses: SummedHouse[] = [];
  for (const row of owned) {
    const span = partOf(whole, row);
    const site = span && (await rows.get('site', String(row['site_id'])));
    const still = row['to_day'] === null || String(row['to_day']) > today;
    if (site) houses.push(await houseOf(house, site, { span, today, still }));
  }
  return {
    ...(await letterhead(house.stores)),
    printedOn: today,
    units,
    clientName: String(client['name']),
    year,
    upTo: whole.to,
    houses: houses.sort((a, b) => a.address.localeCompare(b.address, 'en')),
  };
}

function partOf({ from, to }: Span, owned: Row): Span | null {
  const [begins, ends] = [owned['from_day'] as IsoDate | null, owned['to_day'] as IsoDate | null];
  const part = {
    from: begins !== null && begins > from ? begins : from,
    // A house is the next one's from the day on which it is no more this one's.
    to: ends !== null && ends <= to ? addDays(ends, -1) : to,
  };
  return part.from <= part.to ? part : null;
}

/** @param still Whether the house is still the client's: what comes next is nobody else's business. */
async function houseOf(
  house: House,
  site: Row,
  { span, today, still }: { span: Span; today: IsoDate; still: boolean },
): Promise<SummedHouse> {
  const { rows } = house.stores;
  const siteId = site['id'];
  const within = (at: unknown): boolean => at !== null && isWithin(span, dayOf(house, at));
  const every = await rows.all('line', [is('site_id', siteId)], 'name');
  const lines = every.filter((line) => line['archived_on'] === null);
  const orders = await rows.all('work_order', [is('site_id', siteId)], 'number');
  const ofOrders = isIn(
    'work_order_id',
    orders.map((order) => order['id']),
  );
  const tasks = await rows.all('work_order_task', [ofOrders], 'position');
  const tries = await rows.all('attempt', [ofOrders], 'started_at');
  const cleans = await rows.all(
    'clean',
    [
      isIn(
        'line_id',
        every.map((line) => line['id']),
      ),
      { column: 'withdrawn_at', is: 'null' },
    ],
    'cleaned_at',
  );
  const water = await rows.all('water_record', [ofOrders, is('phase', 'recorded')]);
  const year: YearWork = {
    orders,
    tasks,
    done: orders.filter((row) => row['state'] === 'done' && within(row['done_at'])),
    tries: tries.filter((row) => within(row['started_at'])),
    cleans: cleans.filter((row) => within(row['cleaned_at'])),
    water: water.filter((row) => within(row['at'])),
  };
  const names = new Map(every.map((line) => [line['id'], String(line['name'])]));
  return {
    address: `${String(site['address'])}, ${String(site['town'])}`,
    visits: visitsOf(house, year),
    lines: await linesOf(house, lines, year.cleans, within),
    ...waterOfYear(house, year),
    next: still ? await comingNow(house, lines, await houseDays(house, lines), today) : null,
    declined: (await rows.all('decision', [is('site_id', siteId)], 'decided_on'))
      .filter(
        (row) =>
          String(row['decided_on']) <= span.to &&
          (row['ended_on'] === null || String(row['ended_on']) > span.from),
      )
      .map((row) => decisionOf(row, names)),
    declinedProposals: await declinedProposals(house, siteId, names, span),
  };
}

const isWithin = ({ from, to }: Span, day: IsoDate): boolean => day >= from && day <= to;

/** What was done at one house in the year: `orders` and `tasks` of all times, the rest of the year. */
interface YearWork {
  orders: readonly Row[];
  tasks: readonly Row[];
  done: readonly Row[];
  tries: readonly Row[];
  cleans: readonly Row[];
  water: readonly Row[];
}

/** A visit is a day with an order done or a clean recorded; days on which somebody came in vain stand beside them. */
function visitsOf(house: House, { orders, tasks, done, tries, cleans }: YearWork): SummedVisit[] {
  const counted = new Set([
    ...done.map((row) => dayOf(house, row['done_at'])),
    ...cleans.map((row) => dayOf(house, row['cleaned_at'])),
  ]);
  const days = new Set([...counted, ...tries.map((row) => dayOf(house, row['started_at']))]);
  return [...days].sort().map((on): SummedVisit => {
    const of = (all: readonly Row[], at: string) => all.filter((row) => dayOf(house, row[at]) === on);
    const [finished, tried, cleaned] = [
      of(done, 'done_at'),
      of(tries, 'started_at'),
      of(cleans, 'cleaned_at'),
    ];
    const ids = new Set([
      ...finished.map((row) => row['id']),
      ...[...tried, ...cleaned].flatMap((row) => row['work_order_id'] ?? []),
    ]);
    const own = orders.filter((order) => ids.has(order['id']));
    const byOrder = tasks.filter((task) => ids.has(task['work_order_id'])).map((task) => task['kind']);
    const byHand = cleaned.filter((row) => row['work_order_id'] === null).flatMap((row) => row['task'] ?? []);
    const last = tried.at(-1)?.['result'] as AttemptResult | null | undefined;
    return {
      on,
      counts: counted.has(on),
      orderNumbers: own.map((order) => Number(order['number'])),
      tasks: [...byOrder, ...byHand] as TaskKind[],
      result: last ?? (counted.has(on) ? 'done' : null),
    };
  });
}

/** Water of orders, and of cleans that no order tells of, as far as somebody wrote it down. */
function waterOfYear(
  house: House,
  { cleans, water }: YearWork,
): Pick<SummedHouse, 'waterLitres' | 'sludgeLitres' | 'visitsWithoutWater'> {
  const alone = cleans.filter((row) => row['work_order_id'] === null);
  const sum = (rows: readonly Row[], column: string) =>
    rows.reduce((total, row) => total + Number(row[column] ?? 0), 0);
  const wet = new Set([
    ...water
      .filter((row) => row['water_l'] !== null || row['receiver'] === 'none')
      .map((row) => dayOf(house, row['at'])),
    ...alone.filter((row) => row['water_l'] !== null).map((row) => dayOf(house, row['cleaned_at'])),
  ]);
  const days = new Set(cleans.map((row) => dayOf(house, row['cleaned_at'])));
  return {
    waterLitres: sum(water, 'water_l') + sum(alone, 'water_l'),
    sludgeLitres: sum(water, 'sludge_l'),
    visitsWithoutWater: [...days].filter((day) => !wet.has(day)).length,
  };
}

async function linesOf(
  house: House,
  lines: readonly Row[],
  cleans: readonly Row[],
  within: (at: unknown) => boolean,
): Promise<SummedLine[]> {
  const { rows } = house.stores;
  const ids = lines.map((line) => line['id']);
  const readings = await rows.all('inspection', [isIn('line_id', ids), ...IN_FORCE], 'observed_at');
  const doubts = await doubtsOf(house, ids);
  return lines.map((line) => {
    const ofLine = (row: Row) => row['line_id'] === line['id'];
    const read = readings.filter((row) => ofLine(row) && within(row['observed_at']));
    const own = read.filter((row) => !doubts.has(row['id']));
    const isChecked = (after: boolean): boolean =>
      read.some((row) => doubts.get(row['id']) === 'open' && (row['phase'] === 'after_cleaning') === after);
    const found = own.flatMap((row) =>
      row['phase'] !== 'after_cleaning' && typeof row['occlusion'] === 'number' ? [row['occlusion']] : [],
    );
    const left = (lastOf(own, (row) => row['phase'] === 'after_cleaning')?.['occlusion'] ?? null) as
      | number
      | null;
    return {
      name: String(line['name']),
      kind: line['kind'] as LineKind,
      cleans: cleans.filter(ofLine).length,
      fullest: found.length > 0 ? Math.max(...found) : isChecked(false) ? BEING_CHECKED : null,
      timesPlugged: own.filter((row) => row['plugged'] === true).length,
      left: left ?? (isChecked(true) ? BEING_CHECKED : null),
    };
  });
}
