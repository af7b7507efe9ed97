import { shortNumber } from '../units/quantity.js';
import type { LineKind } from '../words.js';
import type { Reading } from './reading.js';

interface Misfit {
  /** Field of the reading. */
  field: string;
  detail: string;
  remedy: string;
}

/**
 * Why a reading cannot have been taken on a line: a draw-down tells of the line that the pump lifts into and of no
 * other; a nozzle goes no further than the line is long. Null when it can.
 */
export function misfit(reading: Reading, kind: LineKind, lengthM: number | null): Misfit | null {
  if (reading.method === 'pit_drawdown' && kind !== 'sump_discharge')
    return {
      field: 'method',
      detail: `a draw-down reads the discharge of a pit, and this is a ${kind.replace('_', ' ')}`,
      remedy: 'give the discharge line, or another method',
    };
  const beyond = beyondEnd(reading.nozzleStoppedAtM ?? null, lengthM);
  return beyond === null ? null : { field: 'nozzleStopped', ...beyond };
}

/** Why a place along a line is not on it. */
export function beyondEnd(atM: number | null, lengthM: number | null): Omit<Misfit, 'field'> | null {
  if (atM === null || lengthM === null || atM <= lengthM) return null;
  return {
    detail: `${shortNumber(atM)} m is further than the line is long (${shortNumber(lengthM)} m)`,
    remedy: 'a place on the line; or correct the length of the line first',
  };
}
