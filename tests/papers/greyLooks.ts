import { all, type Node, readXml } from './readSvg.js';

/** How a mark looks when colour is taken away. */
interface Look {
  /** Element, dash, thickness and, for closed shapes, how the outline runs. */
  shape: string;
  fill: string;
  stroke: string;
}

const MARKS = ['path', 'rect', 'line', 'circle', 'polyline', 'polygon'];
/** Grey prints keep steps of about a tenth of the way from black to white apart. */
const LEAST_STEP = 10;

/** Pairs of colours in a picture that only hue tells apart: same shape, dash and thickness, alike in lightness. */
export function alikeInGrey(source: string): string[] {
  const looks = distinct(MARKS.flatMap((name) => all(readXml(source), name)).map(lookOf));
  return looks.flatMap((one, i) =>
    looks
      .slice(i + 1)
      .filter((other) => other.shape === one.shape && isSameTone(one, other))
      .map((other) => `${one.shape}: ${one.fill}/${one.stroke} and ${other.fill}/${other.stroke}`),
  );
}

function lookOf({ name, attributes }: Node): Look {
  const isClosed = name !== 'path' || /z\s*$/i.test(attributes['d'] ?? '');
  return {
    shape: [
      name,
      isClosed ? 'closed' : 'open',
      attributes['stroke-dasharray'] ?? 'solid',
      Math.round(Number(attributes['stroke-width'] ?? 1) * 2),
    ].join(' '),
    fill: attributes['fill'] ?? '#000000',
    stroke: attributes['stroke'] ?? 'none',
  };
}

function isSameTone(one: Look, other: Look): boolean {
  return isNear(one.fill, other.fill) && isNear(one.stroke, other.stroke);
}

function isNear(a: string, b: string): boolean {
  if (a === 'none' || b === 'none') return a === b;
  return Math.abs(lightness(a) - lightness(b)) < LEAST_STEP;
}

/** CIE L* of an sRGB colour `#rrggbb`, 0 to 100 (IEC 61966-2-1, CIE 15). */
export function lightness(colour: string): number {
  const [r = 0, g = 0, b = 0] = [1, 3, 5]
    .map((at) => Number.parseInt(colour.slice(at, at + 2), 16) / 255)
    .map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  const y = 0.2126 * r + 0.7152 * g + 0.0722 * b;
  return y > 216 / 24_389 ? 116 * Math.cbrt(y) - 16 : (24_389 / 27) * y;
}

function distinct(looks: readonly Look[]): Look[] {
  return [...new Map(looks.map((look) => [JSON.stringify(look), look])).values()];
}
