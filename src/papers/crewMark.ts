import { label } from './figure.js';
import { FUTURE, INK, LIMIT, PAPER, PAST, QUIET, RULE } from './look.js';
import { join, type Markup, px, tag } from './markup.js';
import type { StopProgress } from './routesDay.js';
import { textWidth } from './textWidth.js';

const COLOURS = [PAST, FUTURE, '#1c6145', LIMIT, '#54378a', INK] as const;
const DASHES = [null, '8 4', '2 3', '12 3 2 3', '5 2 5 6', '1 5'] as const;
const MARK_PX = 10.5;

/** How a crew's line looks: colour, and a dash that a grey print keeps apart. */
export function crewLine(index: number): {
  stroke: string;
  'stroke-width': number;
  'stroke-dasharray': string | null;
} {
  return {
    stroke: COLOURS[index % COLOURS.length] ?? INK,
    'stroke-width': 1.8,
    'stroke-dasharray': DASHES[index % DASHES.length] ?? null,
  };
}

export function markWidth(words: string): number {
  return textWidth(words, MARK_PX) + 10;
}

/**
 * A stop's number in the crew's outline: pill, box, six-sided or slanted. Grey and thin where the crew has been,
 * thick and bold where it is.
 */
export function crewMark(
  index: number,
  words: string,
  x: number,
  y: number,
  progress: StopProgress = 'ahead',
): Markup {
  const half = markWidth(words) / 2;
  return join([
    tag('path', {
      d: outline(index % 4, half, 8.5, x, y),
      fill: progress === 'over' ? RULE : PAPER,
      stroke: progress === 'over' ? QUIET : (COLOURS[index % COLOURS.length] ?? INK),
      'stroke-width': { over: 0.8, under_way: 3.4, ahead: 1.6 }[progress],
      'stroke-linejoin': 'round',
    }),
    label(words, x, y + 3.8, {
      anchor: 'middle',
      size: MARK_PX,
      ...(progress === 'under_way' ? { weight: 'bold' as const } : {}),
      ...(progress === 'over' ? { fill: QUIET } : {}),
    }),
  ]);
}

function outline(shape: number, w: number, h: number, x: number, y: number): string {
  const corners = (points: readonly (readonly [number, number])[]): string =>
    `M${points.map(([dx, dy]) => `${px(x + dx)} ${px(y + dy)}`).join('L')}Z`;
  if (shape === 0) {
    const straight = Math.max(0, w - h);
    return `M${px(x - straight)} ${px(y - h)}h${px(2 * straight)}a${px(h)} ${px(h)} 0 0 1 0 ${px(2 * h)}h${px(-2 * straight)}a${px(h)} ${px(h)} 0 0 1 0 ${px(-2 * h)}Z`;
  }
  if (shape === 1)
    return corners([
      [-w, -h],
      [w, -h],
      [w, h],
      [-w, h],
    ]);
  if (shape === 2)
    return corners([
      [-w + 3, -h],
      [w - 3, -h],
      [w + 3, 0],
      [w - 3, h],
      [-w + 3, h],
      [-w - 3, 0],
    ]);
  return corners([
    [-w + 3, -h],
    [w + 4, -h],
    [w - 3, h],
    [-w - 4, h],
  ]);
}
