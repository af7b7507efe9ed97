import { Refused } from '../problems.js';

/** Work that only few may do at once; the others wait, and who has too much waiting is told to come again. */
export interface Turns {
  /**
   * @param who Whose work it is: each has so many places.
   * @param isGone Nobody waits for it any more: asked when its turn comes.
   * @throws {Refused} `busy`: no place is free.
   */
  take<T>(who: string, work: () => Promise<T>, isGone?: () => boolean): Promise<T>;
}

/** A photograph takes about half a second: who is last waits some five (common practice, no source). */
const LIMITS = { atOnce: 2, waiting: 16, each: 4 };

export function turns(limits = LIMITS): Turns {
  const placesOf = new Map<string, number>();
  const waiting: (() => void)[] = [];
  let atWork = 0;

  const enter = async (): Promise<void> => {
    if (atWork < limits.atOnce) atWork++;
    else await new Promise<void>((resolve) => waiting.push(resolve));
  };
  /** Hands the place on, so that nobody who comes now is before those who wait. */
  const leave = (): void => {
    const next = waiting.shift();
    if (next) next();
    else atWork--;
  };

  return {
    async take(who, work, isGone = () => false) {
      const own = placesOf.get(who) ?? 0;
      if (own >= limits.each) throw busy(`${own} files of yours are being looked at.`);
      if (atWork >= limits.atOnce && waiting.length >= limits.waiting)
        throw busy('Other files are being looked at.');
      placesOf.set(who, own + 1);
      try {
        await enter();
        try {
          if (isGone()) throw busy('The caller went away.');
          return await work();
        } finally {
          leave();
        }
      } finally {
        const left = (placesOf.get(who) ?? 1) - 1;
        if (left > 0) placesOf.set(who, left);
        else placesOf.delete(who);
      }
    },
  };
}

const busy = (because: string) =>
  new Refused({ code: 'busy', detail: `${because} Send the file again in a moment.` });
