import type { House } from '../house.js';
import { type LineWork, ownThread } from './lineWork.js';

/** One block is done before a thread has begun. */
const FEW_LINES = 500;

/**
 * Hands of one night, from step to step: a thread has to compile for itself all that it runs, so it is begun once, and
 * only for more lines than the own thread has done by then.
 */
export class NightHands {
  private threads: LineWork | null = null;

  private readonly house: Pick<House, 'lineWork'>;

  constructor(house: Pick<House, 'lineWork'>) {
    this.house = house;
  }

  forLines(lines: number): LineWork {
    if (lines <= FEW_LINES || !this.house.lineWork) return ownThread();
    this.threads ??= this.house.lineWork(lines);
    return this.threads;
  }

  async close(): Promise<void> {
    const { threads } = this;
    this.threads = null;
    await threads?.close();
  }
}
