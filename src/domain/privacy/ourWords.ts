import * as words from '../words.js';

/** Every word the records are written in: an enum's `hose_flush` and its parts. */
const OURS: ReadonlySet<string> = new Set(
  Object.values(words).flatMap((list: unknown) =>
    Array.isArray(list) ? list.flatMap((word: string) => [word, ...word.split('_')]) : [],
  ),
);

/** Whether a word means something else in the records than a person, as "Daylight" or "Jet" would. */
export const isOurWord = (text: string): boolean => OURS.has(text.trim().toLowerCase());
