import type { Stores } from '../../actions/house.js';
import { openWorkingDays, unkeepable } from '../../actions/plans/keepable.js';
import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';

/** Terms and decisions of a site are about its own lines. @throws {Refused} `rule-broken`. */
export async function refuseForeignLines(stores: Stores, row: Row): Promise<void> {
  const ids = (row['line_ids'] ?? []) as readonly string[];
  if (ids.length === 0) return;
  const lines = await stores.rows.all('line', [
    { column: 'id', is: 'in', value: ids },
    { column: 'site_id', is: '=', value: row['site_id'] },
  ]);
  const own = new Set(lines.map((line) => line['id']));
  const at = ids.findIndex((id) => !own.has(id));
  if (at >= 0)
    throw ruleBroken(
      'lines-of-the-site',
      `#/lineIds/${at}`,
      `${ids[at]} is no line of this site`,
      'ids of lines of the site; none for all of them',
    );
}

/** What leads into a line or pit stands on its site. @throws {Refused} `rule-broken`. */
export async function refuseForeignThings(stores: Stores, row: Row): Promise<void> {
  for (const thing of ['line', 'pit'] as const) {
    const id = row[`${thing}_id`];
    if (id === null || id === undefined) continue;
    const found = await stores.rows.get(thing, String(id));
    // One that is not there is refused by the database, with its own words.
    if (found && found['site_id'] !== row['site_id'])
      throw ruleBroken(
        'things-of-the-site',
        `#/${thing}Id`,
        `the ${thing} stands on another site`,
        `a ${thing} of the site`,
      );
  }
}

/** A promise is of a day to come, one at a time, on work that still comes. @throws {Refused} `rule-broken`. */
export async function refusePromise(stores: Stores, row: Row, old: Row | null, today: string): Promise<void> {
  const refuse = (field: string, detail: string, remedy: string) =>
    ruleBroken('promise', `#/${field}`, detail, remedy);
  const day = String(row['day']);
  if (day < today && row['day'] !== old?.['day'])
    throw refuse('day', `${day} is over`, `a day from ${today} on`);
  if (old !== null || row['ended_at'] != null) return;
  // Held until the end of the transaction: of two promises at once one waits, and is refused.
  const order = await stores.rows.lock('work_order', String(row['work_order_id']));
  if (order && (order['state'] === 'done' || order['state'] === 'withdrawn'))
    throw refuse(
      'workOrderId',
      `the order is ${order['state']}`,
      'an order that is wanted, placed or under way',
    );
  await refuseUnkeepable(stores, row, order, refuse);
  const open = await stores.rows.count('promise', [
    { column: 'work_order_id', is: '=', value: row['work_order_id'] },
    { column: 'ended_at', is: 'null' },
  ]);
  if (open > 0)
    throw refuse('workOrderId', 'the client was promised a day already', 'end that promise first (endedAt)');
}

/** A day or hours no crew could keep are no promise. */
async function refuseUnkeepable(
  stores: Stores,
  row: Row,
  order: Row | null,
  refuse: (field: string, detail: string, remedy: string) => Error,
): Promise<void> {
  if (!order) return;
  const site = await stores.rows.get('site', String(order['site_id']));
  const hours = (site?.['hours'] ?? []) as { weekday: string; from: string; to: string }[];
  const time = (column: string) => (row[column] == null ? null : String(row[column]));
  const told = { day: String(row['day']), from: time('from_time'), to: time('to_time') };
  const fault = unkeepable(await openWorkingDays(stores), hours, told);
  if (fault)
    throw refuse(
      fault.part === 'day' ? 'day' : told.from === null ? 'toTime' : 'fromTime',
      fault.detail,
      fault.remedy,
    );
}
