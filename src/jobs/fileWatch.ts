import type { Logger } from 'pino';
import { sweepFiles } from '../actions/files/sweepFiles.js';
import type { House } from '../actions/house.js';

const SIX_HOURS_MS = 6 * 3_600_000;

/** Sweeps what broken uploads left, at the start and now and then. */
export function watchFiles({ house, log }: { house: House; log: Logger }): { stop: () => void } {
  const sweep = () => {
    sweepFiles(house)
      .then((swept) => {
        if (swept > 0) log.info({ swept }, 'files that no record pointed to were removed');
      })
      .catch((error: unknown) => log.warn({ err: error }, 'could not sweep files'));
  };
  const timer = setInterval(sweep, SIX_HOURS_MS);
  timer.unref();
  sweep();
  return { stop: () => clearInterval(timer) };
}
