import type { Basement } from '../words.js';
import { NOTHING_ANSWERED, triage } from './callTriage.js';
import type { CallSettings } from './settings.js';

/** A pit that nothing empties any more. */
export interface PitFilling {
  /** Null: unknown, so it is taken to run in. */
  inflowLps: number | null;
  /** Null: as an ordinary pit holds. */
  holdsL: number | null;
  basement: Basement;
  /** A backup pump was seen to work: its battery lasts hours, not days. */
  backupWorks: boolean;
}

/** A sump holds 15 to 25 gal (NDSU Extension, 2005): 20. */
const PIT_L = 20 * 3.785411784;

/** What a round pit holds, L; null where it was not measured. */
export const pitHoldsL = (diameterMm: number | null, depthMm: number | null): number | null =>
  diameterMm === null || depthMm === null ? null : (Math.PI / 4) * diameterMm ** 2 * depthMm * 1e-6;

/**
 * How soon somebody must be there, minutes, by what runs in and what it would flood. A pit that is full before an
 * alarm would be answered is water rising, in the owner's minutes for such a call; else it is an alarm.
 */
export function respondWithinMinutes(
  { inflowLps, holdsL, basement, backupWorks }: PitFilling,
  calls: Pick<CallSettings, 'respondWithinMinutes' | 'finishedBasementFactor'>,
): number {
  const fullInMinutes = inflowLps === null ? 0 : (holdsL ?? PIT_L) / (inflowLps * 60);
  const floods = basement !== 'none' && !backupWorks && fullInMinutes < calls.respondWithinMinutes.alarm;
  return triage(
    floods ? 'water_rising' : 'alarm',
    { ...NOTHING_ANSWERED, waterInHouse: floods ? 'yes' : 'no' },
    basement,
    calls,
  ).respondWithinMinutes;
}
