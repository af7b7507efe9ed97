/** The process is told to end: long work is given up where it stands, and another takes it up. */
export class Stopped extends Error {
  constructor() {
    super('the service is stopping: the work is handed back');
    this.name = 'Stopped';
  }
}

/**
 * What the work comes to, unless the process is told to end first; the work is left alone then.
 *
 * @throws {Stopped}
 */
export async function unlessStopped<T>(work: Promise<T>, signal: AbortSignal | undefined): Promise<T> {
  if (signal === undefined) return work;
  let hear = () => {};
  const stopped = new Promise<never>((_resolve, reject) => {
    hear = () => reject(new Stopped());
    if (signal.aborted) hear();
    else signal.addEventListener('abort', hear, { once: true });
  });
  try {
    return await Promise.race([work, stopped]);
  } finally {
    signal.removeEventListener('abort', hear);
  }
}
