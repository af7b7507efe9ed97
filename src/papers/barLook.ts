import { INK, PAPER, PAST, PAST_BAND } from './look.js';
import { type Markup, NOTHING, tag } from './markup.js';

/** Dark, pale and hollow: three parts of a bar that a grey print keeps apart. */
const LOOKS = [
  { fill: PAST, stroke: PAST, 'stroke-dasharray': null },
  { fill: PAST_BAND, stroke: PAST, 'stroke-dasharray': null },
  { fill: PAPER, stroke: INK, 'stroke-dasharray': '3 2' },
] as const;

/** One part of a bar; nothing where it has no length. */
export function barPart(part: number, x: number, y: number, width: number, height: number): Markup {
  if (width < 0.01 || height < 0.01) return NOTHING;
  return tag('rect', {
    x,
    y,
    width,
    height,
    ...(LOOKS[part % LOOKS.length] ?? LOOKS[0]),
    'stroke-width': 0.9,
  });
}

/** The legend of named parts; none for a single part. */
export function partsLegend(names: readonly string[]) {
  if (names.length < 2) return [];
  return names.map((name, part) => ({
    label: name,
    sample: (x: number, y: number) => barPart(part, x - 11, y - 7, 22, 14),
  }));
}
