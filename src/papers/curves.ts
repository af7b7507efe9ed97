import { area, curveStepAfter, line } from 'd3-shape';
import { type Attributes, type Markup, NOTHING, px, tag } from './markup.js';

export interface Point {
  x: number;
  y: number;
}

/** A line through points in order; `steps` holds each height until the next point (Kaplan-Meier). */
export function curve(points: readonly Point[], look: Attributes, steps?: 'steps'): Markup {
  points.forEach(check);
  const drawn = line<Point>(
    ({ x }) => x,
    ({ y }) => y,
  ).digits(2);
  const d = (steps === undefined ? drawn : drawn.curve(curveStepAfter))([...points]);
  return d === null ? NOTHING : tag('path', { d, fill: 'none', 'stroke-linejoin': 'round', ...look });
}

/** The field between a lower and an upper curve. */
export function band(
  points: readonly { x: number; low: number; high: number }[],
  look: Attributes,
  steps?: 'steps',
): Markup {
  for (const { x, low, high } of points) {
    check({ x, y: low });
    check({ x, y: high });
  }
  const drawn = area<{ x: number; low: number; high: number }>()
    .x(({ x }) => x)
    .y0(({ low }) => low)
    .y1(({ high }) => high)
    .digits(2);
  const d = (steps === undefined ? drawn : drawn.curve(curveStepAfter))([...points]);
  return d === null ? NOTHING : tag('path', { d, stroke: 'none', ...look });
}

/** A band's own edge, thin and in its line's dash, so that two pale fields are told apart in grey. */
export function bandEdge(line: { stroke: string; 'stroke-dasharray': string | null }): Attributes {
  return { stroke: line.stroke, 'stroke-width': 0.7, 'stroke-dasharray': line['stroke-dasharray'] };
}

/** d3 writes NaN into a path without a word; `px` throws. */
function check({ x, y }: Point): void {
  px(x);
  px(y);
}
