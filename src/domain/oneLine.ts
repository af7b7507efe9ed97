/** Characters that end a line or steer a terminal (Unicode 16: Cc, Zl, Zp). */
const STRANGE: readonly [RegExp, string][] = [
  [/[\r\n\u0085\u2028\u2029]/u, 'a line break'],
  [/\p{Cc}/u, 'a control character'],
];
/** Say which way a word without letters runs; they reach no further (UAX 9, 2.6). */
const MARKS = '\u061c\u200e\u200f';
const ENDS = new RegExp(`^[${MARKS}\\t]+|[${MARKS}\\t]+$`, 'gu');
const EVERY_MARK = new RegExp(`[${MARKS}\u202a-\u202e\u2066-\u2069]`, 'gu');
/** What embeds or isolates, and what ends it; U+202D and U+202E are for no plain text (UAX 9, 2.1 to 2.5). */
const CLOSED_BY: Readonly<Record<string, string>> = {
  '\u202a': '\u202c',
  '\u202b': '\u202c',
  '\u2066': '\u2069',
  '\u2067': '\u2069',
  '\u2068': '\u2069',
};

/** No name, number or address is longer; what is, is left as it came and refused for its length. */
const LONGEST = 1_000;

/** A text of one line without what came along as it was copied: marks and pairs around the whole of it, tabs as blanks. */
export function plainLine(text: string): string {
  if (text.length > LONGEST) return text;
  const bare = text.replace(ENDS, '');
  const inside = bare.slice(1, -1);
  if (CLOSED_BY[bare[0] ?? ''] === bare.at(-1) && bare.length > 1 && unpaired(inside) === null)
    return plainLine(inside);
  return bare.replace(/\t+/g, ' ');
}

/** A number for a telephone, likewise; it runs from left to right without being told so. */
export const plainPhone = (text: string): string =>
  text.length > LONGEST ? text : plainLine(text.replace(EVERY_MARK, ''));

/** What a text holds that no name, number or address on one line does; null: nothing. */
export function notOfOneLine(text: string): string | null {
  for (const [signs, what] of STRANGE) {
    const found = signs.exec(text);
    if (found) return saidAt(text, what, found.index);
  }
  const at = unpaired(text);
  return at === null ? null : saidAt(text, 'a direction mark, which makes other text look turned round', at);
}

/** Where a sign turns what stands after the text too, or letters against their way; null: nowhere. */
function unpaired(text: string): number | null {
  const open: { at: number; closedBy: string }[] = [];
  for (const { 0: sign, index: at } of text.matchAll(/[\u202a-\u202e\u2066-\u2069]/gu)) {
    const closedBy = CLOSED_BY[sign];
    if (closedBy !== undefined) open.push({ at, closedBy });
    else if (open.pop()?.closedBy !== sign) return at;
  }
  return open[0]?.at ?? null;
}

const saidAt = (text: string, what: string, at: number): string =>
  `${what} (${codePoint(text[at] ?? '')}) at character ${at + 1}`;

const codePoint = (sign: string): string =>
  `U+${(sign.codePointAt(0) ?? 0).toString(16).toUpperCase().padStart(4, '0')}`;
