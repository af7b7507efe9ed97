import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';

/** What was merged stays as it was; the client it points to is changed. @throws {Refused} `rule-broken`. */
export function refuseMerged(old: Row | null): void {
  const kept = old?.['merged_into_id'] ?? null;
  if (kept === null) return;
  throw ruleBroken('merged', '#', `was merged into client ${String(kept)}`, `change client ${String(kept)}`);
}
