declare const escaped: unique symbol;

/** Text that is safe to stand in SVG or HTML as it is: only this module makes it. */
export type Markup = string & { readonly [escaped]: true };

export type Attributes = Readonly<Record<string, string | number | null>>;

export const NOTHING = '' as Markup;

/** What XML 1.0 does not allow in a document at all: control characters, lone surrogates, two non-characters. */
const NOT_IN_XML =
  // biome-ignore lint/suspicious/noControlCharactersInRegex: the control characters are what it looks for
  /[\u0000-\u0008\u000B\u000C\u000E-\u001F\uFFFE\uFFFF]|[\uD800-\uDBFF](?![\uDC00-\uDFFF])|(?<![\uD800-\uDBFF])[\uDC00-\uDFFF]/g;

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
};

/** Anyone's words, made safe for text and for attributes. */
export function text(words: string): Markup {
  const clean = words.replace(NOT_IN_XML, '\uFFFD');
  return clean.replace(/[&<>"']/g, (sign) => ENTITIES[sign] ?? sign) as Markup;
}

/** The words that `text` made safe. */
export const asRead = (markup: string): string =>
  Object.entries(ENTITIES).reduceRight((words, [sign, entity]) => words.replaceAll(entity, sign), markup);

/**
 * One element, closing itself when empty. An attribute that is null is left out; numbers are cut to a hundredth.
 *
 * @throws {RangeError} When a number is not finite: a chart never draws what it cannot place.
 */
export function tag(name: string, attributes: Attributes, ...children: readonly Markup[]): Markup {
  const inside = children.join('');
  return inside === '' ? (`${open(name, attributes)}/>` as Markup) : element(name, attributes, ...children);
}

/** An element of HTML that is closed by a tag of its own even when empty (`<td></td>`). */
export function element(name: string, attributes: Attributes, ...children: readonly Markup[]): Markup {
  return `${open(name, attributes)}>${children.join('')}</${name}>` as Markup;
}

function open(name: string, attributes: Attributes): string {
  const written = Object.entries(attributes)
    .filter((entry): entry is [string, string | number] => entry[1] !== null)
    .map(([key, value]) => ` ${key}="${typeof value === 'number' ? px(value) : text(value)}"`);
  return `<${name}${written.join('')}`;
}

export function join(parts: readonly Markup[]): Markup {
  return parts.join('') as Markup;
}

/** A length as written into a picture: at most two decimals, never an exponent, never "-0". */
export function px(value: number): string {
  if (!Number.isFinite(value)) throw new RangeError(`not a number that can be drawn: ${value}`);
  const rounded = Math.round(value * 100) / 100;
  return String(rounded === 0 ? 0 : rounded);
}
