import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { AttemptResult, LineKind, TaskKind } from '../../domain/words.js';
import type { ClientSummaryData, SummedHouse, SummedLine } from '../../papers/clientSummary.js';
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
  nextOf,
} from './clientRecords.js';
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
    if (site) houses.push(await houseOf(house, site, span, still));
  }
  return {
    ...(await letterhead(house.stores)),
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
async function houseOf(house: House, site: Row, span: Span, still: boolean): Promise<SummedHouse> {
  const { rows } = house.stores;
  const siteId = site['id'];
  const within = (at: unknown): boolean => {
    const day = dayOf(house, at);
    return day >= span.from && day <= span.to;
  };
  const lines = await rows.all(
    'line',
    [is('site_id', siteId), { column: 'archived_on', is: 'null' }],
    'name',
  );
  const orders = await rows.all('work_order', [is('site_id', siteId)], 'number');
  const orderIds = orders.map((order) => order['id']);
  const tasks = await rows.all('work_order_task', [isIn('work_order_id', orderIds)], 'position');
  const tries = (await rows.all('attempt', [isIn('work_order_id', orderIds)], 'started_at')).filter((row) =>
    within(row['started_at']),
  );
  const water = (
    await rows.all('water_record', [isIn('work_order_id', orderIds), is('phase', 'recorded')])
  ).filter((row) => within(row['at']));
  const sum = (column: string) => water.reduce((total, row) => total + Number(row[column] ?? 0), 0);
  const names = new Map(lines.map((line) => [line['id'], String(line['name'])]));
  return {
    address: `${String(site['address'])}, ${String(site['town'])}`,
    visits: tries.map((row) => ({
      on: dayOf(house, row['started_at']),
      orderNumber: Number(orders.find((order) => order['id'] === row['work_order_id'])?.['number']),
      tasks: tasks
        .filter((task) => task['work_order_id'] === row['work_order_id'])
        .map((task) => task['kind'] as TaskKind),
      result: row['result'] as AttemptResult | null,
    })),
    lines: (await linesOf(house, lines, within)).map((line) =>
      still ? line : { ...line, next: null, dated: false },
    ),
    waterLitres: sum('water_l'),
    sludgeLitres: sum('sludge_l'),
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

async function linesOf(
  house: House,
  lines: readonly Row[],
  within: (at: unknown) => boolean,
): Promise<SummedLine[]> {
  const { rows } = house.stores;
  const ids = lines.map((line) => line['id']);
  const readings = await rows.all('inspection', [isIn('line_id', ids), ...IN_FORCE], 'observed_at');
  const doubts = await doubtsOf(house, ids);
  const cleans = await rows.all(
    'clean',
    [isIn('line_id', ids), { column: 'withdrawn_at', is: 'null' }],
    'cleaned_at',
  );
  const trends = new Map((await rows.all('trend_list', [isIn('id', ids)])).map((row) => [row['id'], row]));
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
    const newest = lastOf(cleans, ofLine);
    const trend = trends.get(line['id']);
    return {
      name: String(line['name']),
      kind: line['kind'] as LineKind,
      cleans: cleans.filter((row) => ofLine(row) && within(row['cleaned_at'])).length,
      fullest: found.length > 0 ? Math.max(...found) : isChecked(false) ? BEING_CHECKED : null,
      timesPlugged: own.filter((row) => row['plugged'] === true).length,
      left: left ?? (isChecked(true) ? BEING_CHECKED : null),
      next: nextOf(trend, newest && dayOf(house, newest['cleaned_at'])),
      dated: trend !== undefined,
    };
  });
}
