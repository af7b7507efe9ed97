import type { Draft } from './asks.js';

/** How often what a reading request stands on is used. */
const USES = 8;

/**
 * What requests stand on and did not use up: a refused request changed nothing, and one that reads never does.
 */
export class Spares {
  private readonly kept = new Map<string, { draft: Partial<Draft>; uses: number }>();

  /** @returns What was kept for the operation, once. */
  take(operation: string): { draft: Partial<Draft>; uses: number } | undefined {
    const spare = this.kept.get(operation);
    this.kept.delete(operation);
    return spare;
  }

  keep(operation: string, draft: Partial<Draft>, uses: number): void {
    if (uses < USES) this.kept.set(operation, { draft, uses: uses + 1 });
  }
}
