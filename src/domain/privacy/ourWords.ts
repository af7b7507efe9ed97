import * as words from '../words.js';

/** Every word the records are written in: an enum's `hose_flush` and its parts. */
const OURS: ReadonlySet<string> = new Set(
  Object.values(words).flatMap((list: unknown) =>
    Array.isArray(list) ? list.flatMap((word: string) => [word, ...word.split('_')]) : [],
  ),
);

/** Whether a name means something else in the records than a person, as "Daylight" or "Floor Drain" would. */
export const isOurWord = (name: string): boolean =>
  name
    .trim()
    .toLowerCase()
    .split(/[\s_-]+/)
    .every((word) => OURS.has(word));
