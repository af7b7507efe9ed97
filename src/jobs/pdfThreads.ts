import { Worker } from 'node:worker_threads';
import type { PaperPrinter } from '../actions/papers/paperPrinter.js';
import { Refused } from '../actions/problems.js';
import type { Paper } from '../papers/paper.js';
import type { PrintedPaper } from './pdfThread.js';

/** So many papers may wait behind the one being printed, and so long may one take (common practice, no source). */
const LIMITS = { waiting: 4, seconds: 60 };

interface Waiting {
  paper: Paper;
  resolve: (pdf: Uint8Array) => void;
  reject: (error: unknown) => void;
}

const busy = (detail: string) => new Refused({ code: 'busy', detail });

/**
 * Prints on a thread of its own, one paper at a time, so that a long paper keeps nobody waiting but those who want
 * one too. The thread begins with the first paper; one that takes too long ends with its thread.
 *
 * @param script Compiled `pdfThread.js`.
 */
export function pdfThread(script: URL, limits = LIMITS): PaperPrinter & { close(): Promise<void> } {
  const queue: Waiting[] = [];
  let worker: Worker | null = null;
  let atWork: { asked: Waiting; clock: NodeJS.Timeout } | null = null;

  const settle = (settled: (asked: Waiting) => void) => {
    if (atWork === null) return;
    const { asked, clock } = atWork;
    clearTimeout(clock);
    atWork = null;
    settled(asked);
    printNext();
  };
  /** Whatever becomes of it, its paper is answered for and the next one gets a new thread. */
  const drop = (error: unknown) => {
    void worker?.terminate();
    worker = null;
    settle(({ reject }) => reject(error));
  };
  const begin = (): Worker => {
    const begun = new Worker(script);
    begun.unref();
    begun.on('message', (told: PrintedPaper) =>
      settle(({ resolve, reject }) => ('pdf' in told ? resolve(told.pdf) : reject(told.error))),
    );
    begun.on('error', (error) => {
      if (begun === worker) drop(error);
    });
    begun.on('exit', (code) => {
      if (begun === worker) drop(new Error(`the printer's thread ended with ${code}`));
    });
    return begun;
  };
  const printNext = () => {
    const asked = atWork === null ? queue.shift() : undefined;
    if (asked === undefined) return;
    worker ??= begin();
    const clock = setTimeout(
      () =>
        drop(
          busy(
            `The paper took more than ${limits.seconds} seconds to print. Ask for a shorter period, or for HTML.`,
          ),
        ),
      limits.seconds * 1000,
    );
    atWork = { asked, clock };
    worker.postMessage(asked.paper);
  };

  return {
    print: (paper) =>
      new Promise((resolve, reject) => {
        if (queue.length >= limits.waiting) {
          reject(busy('Other papers are being printed. Ask again in a moment, or for HTML.'));
          return;
        }
        queue.push({ paper, resolve, reject });
        printNext();
      }),
    async close() {
      const ended = worker;
      worker = null;
      for (const { reject } of queue.splice(0)) reject(busy('The service is closing.'));
      settle(({ reject }) => reject(busy('The service is closing.')));
      await ended?.terminate();
    },
  };
}
