import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { ENGINE_VERSION } from '../../domain/fouling/evidence.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House } from '../house.js';
import type { LineToDate } from '../night/dateLines.js';
import type { LinePolicy, SeasonsOfKinds } from '../night/linePolicy.js';
import { eventsOf, type NightEvent } from '../night/nightEvents.js';
import type { StoredFit } from '../night/nightStore.js';
import { surroundings } from '../night/surroundings.js';
import { withWorkLimits } from '../night/workLimits.js';

/** A line as the night dates it, with what happened to it; free to be changed. */
export type CopiedLine = LineToDate & { events: NightEvent[] };

/** What the night goes by, read once and held in memory: nothing done to it touches the books. */
export interface CopiedBooks {
  day: IsoDate;
  fit: StoredFit;
  settings: OwnerSettings;
  seasons: SeasonsOfKinds;
  /** By id. */
  lines: CopiedLine[];
}

/** As much of the house as copying its books takes: inside a transaction with the stores of that. */
export type NightHouse = Pick<House, 'stores' | 'zone'>;

/**
 * Copies what the night of a day would go by.
 *
 * @param only Ids of the lines wanted; absent: all.
 * @returns    Null before the first night.
 */
export async function copyBooks(
  { stores, zone }: NightHouse,
  day: IsoDate,
  settings: OwnerSettings,
  only?: ReadonlySet<string>,
): Promise<CopiedBooks | null> {
  const fit = await stores.night.lastFit(ENGINE_VERSION, day);
  if (fit === null) return null;
  const before = zone.instantOf(day, 0).toISOString();
  const booked = (await stores.night.bookedLines(day, before)).map(({ facts }) => facts);
  const { lines, reasons } = await withWorkLimits(stores, booked, settings);
  const around = await surroundings(stores, lines, settings, reasons, { day, before, zone });
  const wanted = only === undefined ? lines : lines.filter(({ lineId }) => only.has(lineId));
  const ids = wanted.map(({ lineId }) => lineId);
  const states = await stores.night.lineStates(ids);
  const olds = await stores.night.oldTrends();
  const events = await stores.night.eventsOf(ids, before, zone);
  const copied = wanted.flatMap((facts, i): CopiedLine[] => {
    const state = states.get(facts.lineId);
    if (!state) return [];
    return [
      {
        facts,
        state,
        policy: around.of(facts),
        policyHash: around.hashOf(facts),
        old: olds.get(facts.lineId) ?? null,
        events: eventsOf(events, i),
      },
    ];
  });
  return { day, fit, settings, seasons: around.seasons, lines: copied };
}

/** The line with other terms, decisions or surroundings. */
export const withPolicy = (line: CopiedLine, change: Partial<LinePolicy>): CopiedLine => ({
  ...line,
  policy: { ...line.policy, ...change },
});
