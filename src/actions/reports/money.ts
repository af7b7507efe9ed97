import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { TaskKind } from '../../domain/words.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import type { LinesAsked, Period } from './lineFilter.js';

const textOrNull = (value: unknown): string | null => (value === null ? null : String(value));
const numberOrNull = (value: unknown): number | null => (value === null ? null : Number(value));

export interface Earning {
  /** Of the line, site or client; null: no client on record. */
  id: string | null;
  name: string;
  address: string | null;
  lines: number;
  visits: number;
  unbilledVisits: number;
  /** Billable, and nothing agreed on record. */
  unpricedVisits: number;
  /** On site and on the way, where written down. */
  hours: number;
  costMinor: number;
  earnedMinor: number;
  marginMinor: number;
}

/** What lines, sites or clients cost and brought in a period; those that lose most first. */
export async function earnings(
  { stores, zone }: House,
  asked: LinesAsked,
  period: Period,
  by: 'line' | 'site' | 'client',
): Promise<{ lines: number; costMinor: number; earnedMinor: number; items: Earning[] }> {
  const { costs } = await ownerSettings(stores);
  const rows = await stores.reports.earnings({
    asked,
    period,
    zone: zone.name,
    by,
    visitMinor: costs.visitMinor,
  });
  const items = rows.map((row): Earning => {
    const [costMinor, earnedMinor] = [
      Math.round(Number(row['cost_minor'])),
      Math.round(Number(row['earned_minor'])),
    ];
    return {
      id: textOrNull(row['id']),
      name: String(row['name']),
      address: textOrNull(row['address']),
      lines: Number(row['lines']),
      visits: Number(row['visits']),
      unbilledVisits: Number(row['unbilled']),
      unpricedVisits: Number(row['unpriced']),
      hours: Number(row['hours'] ?? 0),
      costMinor,
      earnedMinor,
      marginMinor: earnedMinor - costMinor,
    };
  });
  // Rounded once: what lines share does not come out even.
  const sum = (column: string) => Math.round(rows.reduce((total, row) => total + Number(row[column]), 0));
  return {
    lines: await stores.reports.count(asked),
    costMinor: sum('cost_minor'),
    earnedMinor: sum('earned_minor'),
    items,
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
}

/** What came back, by the crew and task that had worked there before. */
export async function returnWork(
  { stores, zone }: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; items: ReturnWork[] }> {
  const items = (await stores.reports.returnWork(asked, period, zone.name)).map((row): ReturnWork => {
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
    };
  });
  return { lines: await stores.reports.count(asked), items };
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

/** Done orders with what was agreed for each, for the books. */
export async function doneWork(
  { stores, zone }: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; totalMinor: number; withoutPrice: number; items: DoneOrder[] }> {
  const items = (await stores.reports.doneWork(asked, period, zone.name)).map(doneOrder);
  return {
    lines: await stores.reports.count(asked),
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
