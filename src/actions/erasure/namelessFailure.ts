import { Refused } from '../problems.js';

/** What the work throws, without a word of the person it was about: kind, code and where in the code. */
export async function failingNameless<T>(work: () => Promise<T>): Promise<T> {
  try {
    return await work();
  } catch (error) {
    if (error instanceof Refused || !(error instanceof Error)) throw error;
    throw nameless(error);
  }
}

function nameless(error: Error): Error {
  const code = 'code' in error && typeof error.code === 'string' ? ` ${error.code}` : '';
  const failure = new Error(`erasing failed, nothing was changed (${error.name}${code})`);
  const places = (error.stack ?? '').split('\n').filter((line) => /^\s+at /.test(line));
  failure.stack = [`Error: ${failure.message}`, ...places].join('\n');
  return failure;
}
