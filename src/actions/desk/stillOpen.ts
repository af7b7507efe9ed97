import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { addDays } from '../../domain/calendar/isoDate.js';
import { waitsInWords } from '../../domain/work/waitsInWords.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { type Problem, Refused } from '../problems.js';

/** What a phone sent of a day and nobody has settled. */
export interface OpenItem {
  /** Of the item, or of the conflict. */
  id: string;
  kind: string;
  state: 'waiting' | 'refused' | 'conflict';
  author: string;
  /** Null: sent by no member of a crew. */
  crewId: string | null;
  workOrderId: string | null;
  number: number | null;
  happenedAt: string;
  /** What it waits for, or why it was not taken. */
  text: string;
}

/** A call that wants a crew by an instant and is on no route. */
export interface OpenCall {
  workOrderId: string;
  number: number;
  address: string;
  town: string;
  respondBy: string;
  overdue: boolean;
}

/** What is still open of a day when it is to be closed. */
export interface StillOpen {
  onPhones: OpenItem[];
  calls: OpenCall[];
}

/** Items of the day that wait or were refused, conflicts nobody settled, and calls to be answered by its end. */
export async function stillOpen(house: House, stores: Stores, day: IsoDate): Promise<StillOpen> {
  const from = house.zone.instantOf(day, 0);
  const to = house.zone.instantOf(addDays(day, 1), 0);
  const items = await stores.desk.openItems(day, from.toISOString(), to.toISOString());
  const now = house.clock.now();
  const unplaced = await stores.desk.unplaced();
  return {
    onPhones: items.map(openItem),
    calls: unplaced.flatMap((row): OpenCall[] => {
      const by = row['respond_by'] === null ? null : new Date(String(row['respond_by']));
      if (by === null || by >= to) return [];
      return [
        {
          workOrderId: String(row['id']),
          number: Number(row['number']),
          address: String(row['address']),
          town: String(row['town']),
          respondBy: by.toISOString(),
          overdue: by < now,
        },
      ];
    }),
  };
}

const openItem = (row: Row): OpenItem => ({
  id: String(row['id']),
  kind: String(row['kind']),
  state: row['state'] as OpenItem['state'],
  author: String(row['author']),
  crewId: row['crew_id'] === null ? null : String(row['crew_id']),
  workOrderId: row['work_order_id'] === null ? null : String(row['work_order_id']),
  number: row['number'] === null ? null : Number(row['number']),
  happenedAt: new Date(String(row['happened_at'])).toISOString(),
  text: textOf(row),
});

function textOf(row: Row): string {
  if (row['state'] === 'waiting')
    return waitsInWords(row['waits_for'] as string[]) ?? 'Its turn comes at the next sync.';
  if (row['because'] !== null) return String(row['because']);
  return row['problem'] === null
    ? 'its id was taken by other content'
    : new Refused(row['problem'] as Problem).message;
}
