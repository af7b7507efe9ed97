import type { LineKind, Method, Phase } from '../../domain/words.js';
import type { House } from '../house.js';
import type { LinesAsked } from './lineFilter.js';

const DAY_MS = 86_400_000;

/** Open reviews of the lines asked for, most doubted first, and how many wait by method. */
export async function doubtedReadings({ stores, clock }: House, asked: LinesAsked) {
  const items = (await stores.reports.openReviews(asked)).map((row) => ({
    inspectionId: String(row['inspection_id']),
    lineId: String(row['line_id']),
    name: String(row['name']),
    kind: row['kind'] as LineKind,
    siteId: String(row['site_id']),
    address: String(row['address']),
    observedAt: String(row['observed_at']),
    method: row['method'] as Method | null,
    phase: row['phase'] as Phase,
    occlusion: row['occlusion'] === null ? null : Number(row['occlusion']),
    author: String(row['author']),
    crew: row['crew'] === null ? null : String(row['crew']),
    weight: Number(row['weight']),
    suspicion: String(row['suspicion']),
  }));
  const now = clock.now().getTime();
  const ages = new Map<string, number[]>();
  for (const { method, observedAt } of items) {
    const name = method ?? 'found plugged';
    ages.set(name, [...(ages.get(name) ?? []), Math.floor((now - Date.parse(observedAt)) / DAY_MS)]);
  }
  const byMethod = [...ages]
    .map(([method, days]) => ({ method, open: days.length, oldestDays: Math.max(0, ...days) }))
    .sort((a, b) => b.open - a.open || (a.method < b.method ? -1 : 1));
  return { lines: await stores.reports.count(asked), byMethod, items };
}
