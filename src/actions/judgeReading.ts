import type { Stores } from './house.js';
import type { Actor, Row } from './ports.js';
import { Refused } from './problems.js';

/**
 * A person's word on a doubted reading: dismissed, it counts no more; confirmed, it counts as it was read.
 * A verdict can be changed; the next night goes by the last one.
 */
export async function judgeReading(
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  inspectionId: string,
  verdict: 'confirmed' | 'dismissed' | 'open',
  at: Date,
): Promise<Row> {
  const row = await stores.reviews.judge(
    inspectionId,
    verdict,
    verdict === 'open' ? null : actor.name,
    verdict === 'open' ? null : at.toISOString(),
  );
  if (!row) throw new Refused({ code: 'not-found', resource: 'reading_review', id: inspectionId });
  return row;
}
