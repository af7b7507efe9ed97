/**
 * Levenshtein distance: letters to change, add or drop; beyond two apart in length it is not reckoned, and 3 is told.
 */
export function lettersApart(a: string, b: string): number {
  if (Math.abs(a.length - b.length) > 2) return 3;
  let above = Array.from({ length: b.length + 1 }, (_, at) => at);
  for (let i = 1; i <= a.length; i += 1) {
    const row = [i];
    for (let j = 1; j <= b.length; j += 1) {
      const swap = (above[j - 1] ?? 0) + (a[i - 1] === b[j - 1] ? 0 : 1);
      row.push(Math.min(swap, (above[j] ?? 0) + 1, (row[j - 1] ?? 0) + 1));
    }
    above = row;
  }
  return above[b.length] ?? 0;
}

/** The name that was likely meant: the same but for capitals, holding the word, or up to two letters off; else null. */
export function nearestName(word: string, names: readonly string[]): string | null {
  const plain = (text: string): string => text.trim().toLowerCase();
  const asked = plain(word);
  const ranked = names
    .map((name) => ({ name, apart: plain(name).includes(asked) ? 0 : lettersApart(asked, plain(name)) }))
    .filter(({ apart }) => asked !== '' && apart <= 2)
    .sort((a, b) => a.apart - b.apart || (a.name < b.name ? -1 : 1));
  return ranked[0]?.name ?? null;
}
