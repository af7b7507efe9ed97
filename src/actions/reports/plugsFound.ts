import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import { FORESEEN, type Foreseen, foreseenPlug } from '../../domain/fouling/foreseenPlug.js';
import type { LineKind, PlugCause } from '../../domain/words.js';
import type { House } from '../house.js';
import type { Row } from '../ports.js';
import { inPeriod, type LinesAsked, type Period } from './lineFilter.js';

export interface PlugFound {
  inspectionId: string;
  lineId: string;
  name: string;
  kind: LineKind;
  siteId: string;
  address: string;
  foundOn: IsoDate;
  cause: PlugCause;
  foreseen: Foreseen;
  /** Of the newest forecast before. */
  forecastOf: IsoDate | null;
  dueOn: IsoDate | null;
  /** A person has still to judge whether the reading is right. */
  doubted: boolean;
}

/** Lines found plugged by fouling, and whether the service had seen it coming; newest first. */
export async function plugsFound(
  { stores, zone }: House,
  asked: LinesAsked,
  period: Period,
): Promise<{ lines: number; counts: Record<Foreseen, number>; items: PlugFound[] }> {
  const past = inPeriod(asked, period);
  const items = (await stores.reports.plugs(past, period, zone.name)).map(plugOf);
  const counts = Object.fromEntries(
    FORESEEN.map((each) => [each, items.filter(({ foreseen }) => foreseen === each).length]),
  ) as Record<Foreseen, number>;
  return { lines: await stores.reports.count(past), counts, items };
}

function plugOf(row: Row): PlugFound {
  const dayOrNull = (value: unknown) => (value === null ? null : String(value));
  const [asOf, dueOn] = [dayOrNull(row['as_of']), dayOrNull(row['due_on'])];
  const foundOn = String(row['found_on']);
  const forecast =
    asOf === null
      ? null
      : {
          asOfDay: dayNumber(asOf),
          dueDay: dueOn === null ? null : dayNumber(dueOn),
          dueRule: row['due_rule'] as DueRule | null,
          actionChances: row['action_chances'] as number[],
        };
  return {
    inspectionId: String(row['inspection_id']),
    lineId: String(row['line_id']),
    name: String(row['name']),
    kind: row['kind'] as LineKind,
    siteId: String(row['site_id']),
    address: String(row['address']),
    foundOn,
    cause: row['cause'] as PlugCause,
    foreseen: foreseenPlug(forecast, dayNumber(foundOn)),
    forecastOf: asOf,
    dueOn,
    doubted: row['doubted'] === true,
  };
}
