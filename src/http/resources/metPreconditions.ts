import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import type { PreconditionKind } from '../../domain/words.js';
import { missingFacts } from '../../domain/work/preconditionRules.js';

/** A precondition is met with what makes it true: a quote with its lines, its most, by whom and when. */
export function refuseUnmet(row: Row): void {
  if (row['state'] !== 'met') return;
  const missing = missingFacts(
    row['kind'] as PreconditionKind,
    (row['facts'] ?? {}) as Record<string, unknown>,
  );
  if (missing.length > 0)
    throw ruleBroken(
      'preconditions',
      '#/facts',
      `${missing.join(', ')} missing`,
      `say ${missing.join(', ')}, or waive it`,
    );
}
