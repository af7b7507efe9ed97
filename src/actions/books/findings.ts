import { v7 as newId } from 'uuid';
import { CONVERSION_VERSION, occlusionOf } from '../../domain/readings/occlusionOf.js';
import type { LineRow, ReadingRow } from '../clientBase.js';
import type { Row } from '../ports.js';

export interface Bringing {
  author: string;
  source: string;
}

/** @throws {RangeError} When the reading's method and occlusion do not go together. */
export function inspectionRow(
  lineId: string,
  reading: ReadingRow,
  line: LineRow | undefined,
  crewId: string | null,
  { author, source }: Bringing,
): Row {
  const { method } = reading;
  const got =
    reading.occlusion === null || method === null
      ? null
      : occlusionOf(
          { method, share: reading.occlusion },
          {
            kind: line?.kind ?? 'footing_drain',
            material: line?.material ?? 'unknown',
            boreMm: line?.boreMm ?? null,
            slope: line?.slopePct == null ? null : line.slopePct / 100,
            cleanDrawdownMmPerMinute: null,
          },
        );
  if (got && !got.ok)
    throw new RangeError(`reading of ${reading.lineId} at ${reading.observedAt}: ${got.faults[0]?.detail}`);
  return {
    id: newId(),
    line_id: lineId,
    observed_at: reading.observedAt,
    received_at: reading.observedAt,
    author,
    crew_id: crewId,
    phase: reading.phase,
    method,
    raw: reading.occlusion === null ? {} : { method, share: reading.occlusion },
    conversion_version: CONVERSION_VERSION,
    occlusion: got?.occlusion ?? null,
    standard_error: got?.standardError ?? null,
    bound: got?.bound ?? 'exact',
    plugged: reading.plugged,
    plug_cause: reading.plugged ? (reading.plugCause ?? 'unknown') : null,
    deposit: reading.deposit,
    distance_m: reading.distanceM,
    notes: JSON.stringify(got?.notes ?? []),
    note: reading.note,
    source,
  };
}

export const cleanRow = (
  lineId: string,
  at: string,
  crewId: string | null,
  { author, source }: Bringing,
): Row => ({
  id: newId(),
  line_id: lineId,
  cleaned_at: at,
  received_at: at,
  author,
  crew_id: crewId,
  inferred: true,
  source,
});
