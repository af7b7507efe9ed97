/**
 * Arabic letters joined to their neighbours, by Unicode's presentation forms, for a face that has these and no rules of
 * its own. A letter's forms follow one another: isolated, final, initial, medial; which letter they are of their
 * compatibility decompositions say.
 *
 * @see The Unicode Standard, chapter 9.2 (Arabic joining), charts U+FB50 and U+FE70.
 */
const FORMS = new Map<string, string[]>();
/** The later block first: it has the forms of the Arabic language, the other one lists two of them again, alone. */
for (const [from, to] of [
  [0xfe80, 0xfefc],
  [0xfb50, 0xfbe7],
  [0xfbfc, 0xfbff],
] as const) {
  const known = new Set(FORMS.keys());
  for (let code = from; code <= to; code++) {
    const form = String.fromCodePoint(code);
    const letter = form.normalize('NFKC');
    if (letter !== form && !known.has(letter)) FORMS.set(letter, [...(FORMS.get(letter) ?? []), form]);
  }
}

const LAM = 'ل';
/** A stroke that joins both ways, and the mark that asks for it; the mark against joining has no forms and no glyph. */
const JOINS = /[\u0640\u200D]/;
const UNSEEN = /[\u200C\u200D]/g;
const isMark = (letter: string): boolean => /\p{M}/u.test(letter);

const joinsOn = (letter: string | undefined): boolean =>
  letter !== undefined && (JOINS.test(letter) || (FORMS.get(letter)?.length ?? 0) === 4);
const joinsBack = (letter: string | undefined): boolean =>
  letter !== undefined && (JOINS.test(letter) || (FORMS.get(letter)?.length ?? 0) >= 2);

/** One run of Arabic letters in the sequence they are read, each in the form that its neighbours give it. */
export function joinedArabic(words: string): string {
  const letters = [...words];
  const solid = letters.flatMap((letter, i) => (isMark(letter) ? [] : [i]));
  const neighbour = (i: number, step: 1 | -1) => letters[solid[solid.indexOf(i) + step] ?? -1];
  const taken = new Set<number>();
  const formed = letters.map((letter, i) => {
    if (taken.has(i)) return '';
    if (isMark(letter)) return letter;
    const isAfter = joinsOn(neighbour(i, -1)) && joinsBack(letter);
    const both =
      letter === LAM && letters[i + 1] !== undefined ? FORMS.get(letter + letters[i + 1]) : undefined;
    if (both) {
      taken.add(i + 1);
      return both[isAfter ? 1 : 0] ?? letter;
    }
    const forms = FORMS.get(letter);
    const isBefore = joinsOn(letter) && joinsBack(neighbour(i, 1));
    if (!forms) return letter;
    return forms[(isAfter ? 1 : 0) + (isBefore ? 2 : 0)] ?? forms[0] ?? letter;
  });
  return formed.join('').replace(UNSEEN, '');
}
