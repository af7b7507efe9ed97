import type { EvidenceEvent, LineEvidence, ReadingEvent } from '../../../src/domain/fouling/evidence.js';

/** A footing drain known clean on day 0, and what happened to it since. */
export const newPipe = (events: EvidenceEvent[], startDay = 0): LineEvidence => ({
  lineId: 'L',
  siteId: 'S',
  area: '',
  kind: 'footing_drain',
  material: 'pvc',
  boreMm: 100,
  ironMgL: null,
  start: { kind: 'clean', day: startDay },
  events,
});

/** Looked at by camera before a clean, off by 5 % of the bore. */
export const reading = (day: number, occlusion: number, over: Partial<ReadingEvent> = {}): ReadingEvent => ({
  kind: 'reading',
  day,
  occlusion,
  sd: 0.05,
  bound: 'exact',
  method: 'camera',
  phase: 'before_cleaning',
  id: `${day}`,
  ...over,
});
