import { parentPort } from 'node:worker_threads';
import { LINE_WORK, type LineWorkName } from '../actions/night/lineWork.js';
import type { ThreadAnswer, ThreadAsk } from './lineThreads.js';

/** A thread's side of the night's work on lines: one question, one answer. */
parentPort?.on('message', ({ id, name, ask }: ThreadAsk) => {
  const tell = (answer: ThreadAnswer, transfer: ArrayBuffer[] = []) =>
    parentPort?.postMessage(answer, transfer);
  try {
    const work = LINE_WORK[name as LineWorkName] as (
      ask: unknown,
      onProgress: (share: number) => void,
    ) => unknown;
    const answer = work(ask, (progress) => tell({ id, progress }));
    tell({ id, answer }, buffersOf(answer));
  } catch (error) {
    tell({ id, error });
  }
});

/** Memory of the numbers in an answer: handed over instead of copied. What is shared needs neither. */
function buffersOf(answer: unknown): ArrayBuffer[] {
  if (ArrayBuffer.isView(answer)) return answer.buffer instanceof ArrayBuffer ? [answer.buffer] : [];
  if (Array.isArray(answer)) return ArrayBuffer.isView(answer[0]) ? answer.flatMap(buffersOf) : [];
  if (answer !== null && typeof answer === 'object') return Object.values(answer).flatMap(buffersOf);
  return [];
}
