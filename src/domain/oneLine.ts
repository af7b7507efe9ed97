/** Characters that end a line, steer a terminal, or turn the direction of what follows (Unicode 16: Cc, Zl, Zp; UAX 9). */
const STRANGE: readonly [RegExp, string][] = [
  [/[\r\n\u0085\u2028\u2029]/u, 'a line break'],
  [
    /[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]/u,
    'a direction mark, which makes other text look turned round',
  ],
  [/\p{Cc}/u, 'a control character'],
];

/** What a text holds that no name, number or address on one line does; null: nothing. */
export function notOfOneLine(text: string): string | null {
  for (const [signs, what] of STRANGE) {
    const found = signs.exec(text);
    if (found) return `${what} (${codePoint(found[0])}) at character ${found.index + 1}`;
  }
  return null;
}

const codePoint = (sign: string): string =>
  `U+${(sign.codePointAt(0) ?? 0).toString(16).toUpperCase().padStart(4, '0')}`;
