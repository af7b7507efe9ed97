import { parentPort, workerData } from 'node:worker_threads';
import { afterIterations, afterSeconds, unlessCancelled } from '../domain/routing/budget.js';
import { solve } from '../domain/routing/solve.js';
import type { ThreadAnswer, ThreadAsk } from './routeThreads.js';

const TELL_EVERY_MS = 250;

const { problem, seed, seconds, iterations, start, cancelled } = workerData as ThreadAsk;
const now = () => performance.now();
let toldAt = -Infinity;
const tell = (answer: ThreadAnswer) => parentPort?.postMessage(answer);
const plan = solve(problem, {
  seed,
  stop: unlessCancelled(
    iterations === undefined ? afterSeconds(seconds, now) : afterIterations(iterations),
    () => Atomics.load(cancelled, 0) === 1,
  ),
  ...(start ? { start } : {}),
  onProgress: (progress) => {
    if (now() - toldAt < TELL_EVERY_MS) return;
    toldAt = now();
    tell({ progress });
  },
});
tell({ plan });
