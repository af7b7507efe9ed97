import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { binomialInterval } from '../../domain/statistics/binomialInterval.js';
import type { TaskKind } from '../../domain/words.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { inPeriod, type LinesAsked, type Period } from './lineFilter.js';
import type { WorkAsked } from './reportStore.js';

const textOrNull = (value: unknown): string | null => (value === null ? null : String(value));
const numberOrNull = (value: unknown): number | null => (value === null ? null : Number(value));

export interface Earning {
  /** Of the line, site or client; null: none on record. */
  id: string | null;
  name: string;
  address: string | null;
  lines: number;
  visits: number;
  unbilledVisits: number;
  /** Billable, and nothing agreed on record. */
  unpricedVisits: number;
  /** Nobody wrote down how long they took: an ordinary visit was taken. */
  visitsWithoutHours: number;
  /** On site and on the way, where written down. */
  hours: number;
  /** Of all visits. */
  costMinor: number;
  /** Of the cost: that of visits without a price. */
  unpricedCostMinor: number;
  earnedMinor: number;
  /** Earned less the cost of the visits that have a price; null where none has. */
  marginMinor: number | null;
}

/** What lines, sites or clients cost and brought in a period; those that lose most first, those without a price last. */
export async function earnings(
  house: House,
  asked: LinesAsked,
  period: Period,
  by: 'line' | 'site' | 'client',
): Promise<{
  lines: number;
  costMinor: number;
  unpricedCostMinor: number;
  earnedMinor: number;
  marginMinor: number;
  items: Earning[];
}> {
  const { stores } = house;
  const work = await workAsked(house, asked, period);
  const rows = await stores.reports.earnings({ ...work, by });
  const items = rows.map(earningOf);
  // Rounded once: what lines share does not come out even.
  const sum = (column: string) => Math.round(rows.reduce((total, row) => total + Number(row[column]), 0));
  const sums = {
    costMinor: sum('cost_minor'),
    unpricedCostMinor: sum('unpriced_cost_minor'),
    earnedMinor: sum('earned_minor'),
  };
  return {
    lines: await stores.reports.count(work.asked),
    ...sums,
    marginMinor: sums.earnedMinor - (sums.costMinor - sums.unpricedCostMinor),
    items,
  };
}

function earningOf(row: Row): Earning {
  const money = (column: string) => Math.round(Number(row[column]));
  const [visits, unpricedVisits] = [Number(row['visits']), Number(row['unpriced'])];
  const margin =
    Number(row['earned_minor']) - (Number(row['cost_minor']) - Number(row['unpriced_cost_minor']));
  return {
    id: textOrNull(row['id']),
    name: String(row['name']),
    address: textOrNull(row['address']),
    lines: Number(row['lines']),
    visits,
    unbilledVisits: Number(row['unbilled']),
    unpricedVisits,
    visitsWithoutHours: Number(row['without_hours']),
    hours: Number(row['hours'] ?? 0),
    costMinor: money('cost_minor'),
    unpricedCostMinor: money('unpriced_cost_minor'),
    earnedMinor: money('earned_minor'),
    marginMinor: unpricedVisits === visits ? null : Math.round(margin),
  };
}

async function workAsked({ stores, zone }: House, asked: LinesAsked, period: Period): Promise<WorkAsked> {
  const { costs, routes } = await ownerSettings(stores);
  return {
    asked: inPeriod(asked, period),
    period,
    zone: zone.name,
    prices: { visitMinor: costs.visitMinor, crewHourMinor: routes.crewHourMinor },
  };
}

export interface ReturnWork {
  crewId: string | null;
  crew: string | null;
  task: TaskKind;
  /** Orders with this task done by the crew in the period. */
  done: number;
  /** Orders that came back for one of them. */
  returns: number;
  warranty: number;
  goodwill: number;
  share: number;
  /** 95 % interval of the share. */
  low: number;
  high: number;
}

/** What came back, by the crew and task that had worked there before. */
export async function returnWork(
  house: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; items: ReturnWork[] }> {
  const { reports } = house.stores;
  const work = await workAsked(house, asked, period);
  const items = (await reports.returnWork(work)).map((row): ReturnWork => {
    const [done, returns] = [Number(row['done']), Number(row['returns'])];
    return {
      crewId: textOrNull(row['crew_id']),
      crew: textOrNull(row['crew']),
      task: row['task'] as TaskKind,
      done,
      returns,
      warranty: Number(row['warranty']),
      goodwill: Number(row['goodwill']),
      share: done === 0 ? 0 : Math.min(1, returns / done),
      ...(done === 0 ? { low: 0, high: 1 } : binomialInterval(Math.min(returns, done), done)),
    };
  });
  return { lines: await reports.count(work.asked), items };
}

export interface DoneOrder {
  number: number;
  workOrderId: string;
  doneOn: IsoDate;
  clientId: string | null;
  client: string | null;
  siteId: string;
  address: string;
  town: string;
  crew: string | null;
  tasks: string;
  hours: number | null;
  priceBasis: string;
  /** Agreed for the order, else by the care terms of the day; null where nothing was agreed. */
  agreedMinor: number | null;
  /** Agreed on site for added tasks. */
  addedMinor: number;
  billed: boolean;
  totalMinor: number;
  /** Number of the order it returned for. */
  returnsFor: number | null;
}

/** Every order done in a period with what was agreed for each, for the books; a filter narrows to the work on its lines. */
export async function doneWork(
  house: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; totalMinor: number; withoutPrice: number; items: DoneOrder[] }> {
  const { reports } = house.stores;
  const work = await workAsked(house, asked, period);
  const items = (await reports.doneWork(work)).map(doneOrder);
  return {
    lines: await reports.count(work.asked),
    totalMinor: items.reduce((sum, { totalMinor }) => sum + totalMinor, 0),
    withoutPrice: items.filter(({ agreedMinor, billed }) => billed && agreedMinor === null).length,
    items,
  };
}

const doneOrder = (row: Row): DoneOrder => ({
  number: Number(row['number']),
  workOrderId: String(row['work_order_id']),
  doneOn: String(row['day']),
  clientId: textOrNull(row['client_id']),
  client: textOrNull(row['client']),
  siteId: String(row['site_id']),
  address: String(row['address']),
  town: String(row['town']),
  crew: textOrNull(row['crew']),
  tasks: String(row['tasks'] ?? ''),
  hours: numberOrNull(row['hours']),
  priceBasis: String(row['price_basis']),
  agreedMinor: numberOrNull(row['agreed_minor']),
  addedMinor: Number(row['added_minor']),
  billed: row['billed'] === true,
  totalMinor: Number(row['earned_minor']),
  returnsFor: numberOrNull(row['returns_for']),
});
