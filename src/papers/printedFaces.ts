/** What is known of the faces of a print, read from their files. */
export interface PrintedFaces {
  /** Whether the first face draws a character (code point), bold too. */
  firstHas: (character: number) => boolean;
  /** For characters the first one lacks: its TrueType file, read only when one is met. */
  second: () => { file: string; has: (character: number) => boolean };
}

/** Scripts of the first face, as far as can be told without its file. */
const OF_FIRST =
  /[\p{Script=Latin}\p{Script=Greek}\p{Script=Cyrillic}\p{Script=Armenian}\p{Script=Georgian}\p{Script=Hebrew}\p{Script=Arabic}]|[^\p{L}\u{1F000}-\u{1FAFF}]/u;

/** Without files of faces: the first one alone. */
export const FIRST_ALONE: PrintedFaces = {
  firstHas: (character) => OF_FIRST.test(String.fromCodePoint(character)),
  second: () => ({ file: '', has: () => false }),
};
