import type { Field } from './figure.js';
import { INK, PAPER } from './look.js';
import { join, type Markup, tag } from './markup.js';
import type { TrendClean, TrendPlaces } from './trendChartData.js';

/** A stroke up from the axis for each clean; one nobody measured carries a hollow head. */
export function cleanTicks(cleans: readonly TrendClean[], field: Field, { x }: TrendPlaces): Markup {
  return join(cleans.map(({ on, measured }) => cleanTick(x(on), field.bottom, measured)));
}

export function cleanTick(x: number, bottom: number, measured: boolean): Markup {
  return join([
    tag('line', { x1: x, x2: x, y1: bottom, y2: bottom - 13, stroke: INK, 'stroke-width': 2.4 }),
    measured
      ? join([])
      : tag('circle', { cx: x, cy: bottom - 15, r: 3, fill: PAPER, stroke: INK, 'stroke-width': 1.4 }),
  ]);
}
