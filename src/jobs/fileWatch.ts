import type { Logger } from 'pino';
import { sweepFiles } from '../actions/files/sweepFiles.js';
import type { House } from '../actions/house.js';

const KEYS_TOLD = 20;
const SIX_HOURS_MS = 6 * 3_600_000;

/** Puts aside what broken uploads left, at the start and now and then. */
export function watchFiles({
  house,
  log,
  hasFiles,
}: {
  house: House;
  log: Logger;
  /** Whether the folder is still the one of this business: of another's nothing is moved. */
  hasFiles: () => Promise<boolean>;
}): { stop: () => void } {
  const sweepOurs = async () => {
    if (await hasFiles()) return sweepFiles(house);
    throw new Error('the folder of files does not bear the mark of this business');
  };
  const sweep = () => {
    sweepOurs()
      .then(({ lost, of, stopped }) => {
        const told = { files: lost.length, of, keys: lost.slice(0, KEYS_TOLD) };
        if (stopped)
          log.warn(
            told,
            'so many files that no record points to are no broken uploads: all stay; is this their database?',
          );
        else if (lost.length > 0)
          log.warn(told, 'files that no record points to were put aside, into the folder `aside`');
      })
      .catch((error: unknown) => log.warn({ err: error }, 'could not sweep files'));
  };
  const timer = setInterval(sweep, SIX_HOURS_MS);
  timer.unref();
  sweep();
  return { stop: () => clearInterval(timer) };
}
