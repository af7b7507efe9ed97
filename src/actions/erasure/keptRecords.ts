import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { KeepingSettings } from '../../domain/work/settings.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import type { Near, Search, Texts } from './wordsLeft.js';

/** What stays, why, and until when; null: for as long as the line lies there. */
export interface Kept {
  what: string;
  count: number;
  why: string;
  until: IsoDate | null;
}

/** Copies this service cannot reach. */
export const ELSEWHERE = [
  'Backups made before hold the person until they age out; after restoring an older one, erase again.',
  'Files exported or handed to the books, and papers that were printed or sent.',
  'Mails that were sent, and events that were delivered to webhooks.',
  'An import of an old file brings the person back: take the name out of the file too.',
  'Log files of the server may hold addresses that were searched for.',
] as const;

/** What the law or the trade asks to be kept, of the houses concerned; none of it names the person, unless it says so. */
export async function keptRecords(
  stores: Stores,
  {
    near,
    keeping,
    today,
    texts,
    search,
  }: { near: Near; keeping: KeepingSettings; today: IsoDate; texts: Texts; search: Search },
): Promise<Kept[]> {
  const { rows } = stores;
  const siteIds = [...near.siteIds];
  const inOrders = [{ column: 'work_order_id', is: 'in' as const, value: [...near.orderIds] }];
  const done = await rows.all('work_order', [
    { column: 'site_id', is: 'in', value: siteIds },
    { column: 'state', is: '=', value: 'done' },
  ]);
  const water = await rows.all('water_record', inOrders);
  const incidents = [
    ...(await rows.all('incident', [{ column: 'site_id', is: 'in', value: siteIds }])),
    ...(await rows.all('incident', [...inOrders, { column: 'site_id', is: 'null' }])),
  ];
  const safety = [
    ...(await rows.all('trench_check', inOrders)),
    ...(await rows.all('locate_ticket', inOrders)),
  ];
  const readings = await rows.count('inspection', [
    { column: 'line_id', is: 'in', value: [...near.lineIds] },
  ]);
  const shared = search.sharedReach.digits.length + search.sharedReach.emails.length;
  return [
    {
      what: 'houses',
      count: siteIds.length,
      why: 'The lines lie there, and stay; a house names nobody. Archive it where it is served no more.',
      until: null,
    },
    {
      what: 'readings',
      count: readings,
      why: 'They belong to the line: the next owner’s house floods as well.',
      until: null,
    },
    dated(
      'done_orders',
      done,
      'done_at',
      keeping.invoiceYears,
      today,
      'Invoices, by tax law: work, day and amount, without the name. The invoice itself is in your books.',
    ),
    dated(
      'water_records',
      water,
      'at',
      keeping.dischargeYears,
      today,
      'The discharge log, by law or permit: litres, receiver, day, without the name.',
    ),
    dated(
      'safety_records',
      safety,
      'created_at',
      keeping.incidentYears,
      today,
      'Trench checks and locate tickets: proof that the ground was opened safely.',
    ),
    {
      ...dated(
        'incidents',
        incidents,
        'happened_at',
        keeping.incidentYears,
        today,
        'Incidents must be reported and kept.',
      ),
      ...(texts.kept.length === 0
        ? {}
        : {
            why: 'Incidents must be reported and kept; these still hold the person’s words. Erase again after that day.',
          }),
    },
    {
      what: 'shared_numbers',
      count: shared,
      why: 'A phone number or address of the person is also that of another person on record, who did not ask.',
      until: null,
    },
  ].filter(({ count }) => count > 0);
}

/** Those still within their years, and when the last of them may go. */
function dated(
  what: string,
  all: readonly Row[],
  column: string,
  years: number,
  today: IsoDate,
  why: string,
): Kept {
  const keptDays = Math.round(365.25 * years);
  const days = all
    .flatMap((row) => (row[column] === null ? [] : [String(row[column]).slice(0, 10)]))
    .filter((day) => addDays(day, keptDays) > today)
    .sort();
  const last = days.at(-1);
  return { what, count: days.length, why, until: last === undefined ? null : addDays(last, keptDays) };
}
