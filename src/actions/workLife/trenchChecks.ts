import {
  type CheckOnRecord,
  checkLapsed,
  deeperThanChecked,
  type TrenchSeen,
  trenchFaults,
} from '../../domain/work/trenchRules.js';
import type { House, Stores } from '../house.js';
import { mayWorkOnOrder } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';

export interface NewTrenchCheck extends TrenchSeen {
  id: string;
  workOrderId: string;
  checkedAt: string;
  checkedBy: string;
  note: string | null;
}

/** Records what a competent person saw of a trench. A check that found a fault stays on record as failed. */
export async function recordTrenchCheck(
  house: House,
  stores: Stores,
  actor: Actor,
  check: NewTrenchCheck,
): Promise<Row> {
  const order = await stores.rows.get('work_order', check.workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: check.workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, check.checkedAt);
  if (Date.parse(check.checkedAt) > house.clock.now().getTime() + 5 * 60_000)
    throw ruleBroken('trench-check', '#/checkedAt', 'lies in the future', 'the moment of the check');
  const faults = trenchFaults(check);
  return stores.rows.insert('trench_check', {
    id: check.id,
    work_order_id: check.workOrderId,
    checked_at: check.checkedAt,
    checked_by: check.checkedBy,
    depth_m: check.depthM,
    protection: check.protection,
    exit_within_m: check.exitWithinM,
    spoil_back_m: check.spoilBackM,
    oxygen_percent: check.oxygenPercent,
    water_gathers: check.waterGathers,
    signs_of_cave_in: check.signsOfCaveIn,
    slope_ratio: check.slopeRatio,
    ladder_above_m: check.ladderAboveM,
    passed: faults.length === 0,
    faults: JSON.stringify(faults),
    note: check.note,
  });
}

/** How deep a trench is now, as its crew sees it. */
export interface TrenchDepth {
  id: string;
  workOrderId: string;
  seenAt: string;
  depthM: number;
}

/**
 * How deep a trench is now. Past what was checked, after rain or in another shift it stands on record as a check that failed: nobody goes on, and the dig
 * does not end, before a competent person checked it again.
 *
 * @returns The check on record, or the one that still holds; null: nobody checked it yet.
 */
export async function recordTrenchDepth(
  house: House,
  stores: Stores,
  actor: Actor,
  { id, workOrderId, seenAt, depthM }: TrenchDepth,
): Promise<Row | null> {
  const order = await stores.rows.lock('work_order', workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, seenAt);
  if (Date.parse(seenAt) > house.clock.now().getTime() + 5 * 60_000)
    throw ruleBroken('trench-depth', '#/seenAt', 'lies in the future', 'the moment it was measured');
  const checks = (
    await stores.rows.all(
      'trench_check',
      [
        { column: 'work_order_id', is: '=', value: workOrderId },
        { column: 'checked_at', is: '<=', value: seenAt },
      ],
      'checked_at',
    )
  ).reverse();
  const newest = checks[0] ?? null;
  const passed = checks.find((check) => check['passed'] === true);
  const checkedM = passed?.['depth_m'] == null ? null : Number(passed['depth_m']);
  const moment = {
    atMs: Date.parse(seenAt),
    day: house.zone.dayOf(new Date(seenAt)),
    startedMs: order['started_at'] === null ? null : Date.parse(String(order['started_at'])),
    lastRainMs: await rainAt(stores, order, seenAt),
  };
  const lapsed = newest?.['passed'] === true ? checkLapsed(checkOnRecord(house, newest), moment) : null;
  const fault = lapsed ?? deeperThanChecked(depthM, checkedM);
  if (fault === null) return newest;
  return stores.rows.insert('trench_check', {
    id,
    work_order_id: workOrderId,
    checked_at: seenAt,
    checked_by: actor.name,
    depth_m: depthM,
    protection: newest?.['protection'] ?? 'none',
    passed: false,
    faults: JSON.stringify([fault]),
    note: 'depth reported by the crew',
  });
}

/** Last end of rain at the house of an order up to an instant, ms; null: none on record. */
export async function rainAt(stores: Stores, order: Row, until: string): Promise<number | null> {
  const site = (await stores.rows.get('site', String(order['site_id']))) ?? {};
  const rain = await stores.workLife.lastRain(String(site['area']), until);
  return rain === null ? null : Date.parse(rain);
}

export const checkOnRecord = (house: House, row: Row): CheckOnRecord => ({
  checkedAtMs: Date.parse(String(row['checked_at'])),
  day: house.zone.dayOf(new Date(String(row['checked_at']))),
  passed: row['passed'] === true,
  depthM: row['depth_m'] === null ? null : Number(row['depth_m']),
});
