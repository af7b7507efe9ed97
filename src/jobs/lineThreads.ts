import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { LineWork } from '../actions/night/lineWork.js';

export interface ThreadAsk {
  id: number;
  name: string;
  ask: unknown;
}

export type ThreadAnswer = { id: number } & ({ progress: number } | { answer: unknown } | { error: unknown });

/** More would only add memory: the database works beside them. */
const MOST_THREADS = 4;

/** The work makes many short-lived objects: room for them spares the collector's rounds. */
const YOUNG_MIB = 48;

/** A thread has earned what it takes to compile its work again when it has done so many lines. */
const LINES_PER_THREAD = 20_000;

/** As many threads as work on so many lines is worth. */
export function threadsFor(lines: number): number {
  const worthIt = Math.max(1, Math.ceil(lines / LINES_PER_THREAD));
  return Math.min(MOST_THREADS, availableParallelism(), worthIt);
}

interface Waiting {
  ask: ThreadAsk;
  transfer: ArrayBuffer[];
  onProgress: ((share: number) => void) | undefined;
  resolve: (answer: unknown) => void;
  reject: (error: unknown) => void;
}

/**
 * The night's work on lines, spread over threads. Each question is worked on whole by one thread and the answers are
 * the same on any, so their number changes nothing but the time.
 *
 * @param script Compiled `lineThread.js`.
 */
export function lineThreads(script: URL, count = threadsFor(Number.POSITIVE_INFINITY)): LineWork {
  const idle: Worker[] = [];
  const threads: Worker[] = [];
  const queue: Waiting[] = [];
  const busy = new Map<Worker, Waiting>();
  let nextId = 0;
  let broken: unknown;

  const giveWork = () => {
    while (queue.length > 0) {
      const worker = idle.pop() ?? (threads.length < count ? begin() : undefined);
      if (!worker) return;
      const next = queue.shift();
      if (!next) return;
      busy.set(worker, next);
      worker.postMessage(next.ask, next.transfer);
    }
  };
  const begin = (): Worker => {
    const worker = new Worker(script, { resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MIB } });
    threads.push(worker);
    worker.on('message', (told: ThreadAnswer) => {
      const waiting = busy.get(worker);
      if (!waiting || waiting.ask.id !== told.id) return;
      if ('progress' in told) {
        waiting.onProgress?.(told.progress);
        return;
      }
      busy.delete(worker);
      idle.push(worker);
      if ('error' in told) waiting.reject(told.error);
      else waiting.resolve(told.answer);
      giveWork();
    });
    worker.on('error', fail);
    return worker;
  };
  /** A thread that dies takes the night with it: its step is rolled back and may be run again. */
  const fail = (error: unknown) => {
    broken = error;
    for (const { reject } of [...busy.values(), ...queue]) reject(error);
    busy.clear();
    queue.length = 0;
  };

  return {
    inHand: 2 * count,
    run(name, ask, options = {}) {
      return new Promise((resolve, reject) => {
        if (broken) {
          reject(broken);
          return;
        }
        queue.push({
          ask: { id: nextId++, name, ask },
          transfer: options.transfer ?? [],
          onProgress: options.onProgress,
          resolve: resolve as (answer: unknown) => void,
          reject,
        });
        giveWork();
      });
    },
    async close() {
      await Promise.all(threads.map((worker) => worker.terminate()));
    },
  };
}
