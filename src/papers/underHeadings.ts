import { bottomAxis, type ValueScale } from './axes.js';
import { type Field, label } from './figure.js';
import { QUIET, RULE } from './look.js';
import { type Markup, NOTHING, tag } from './markup.js';
import { isolated } from './printed.js';

export type UnderHeading<Row> = { heading: string } | { row: Row };

/** Rows under the heading they share, headings in the order of `of`, each with its rows as they came. */
export function underHeadings<Row>(rows: readonly Row[], of: (row: Row) => string): UnderHeading<Row>[] {
  const groups = new Map<string, Row[]>();
  for (const row of rows) groups.set(of(row), [...(groups.get(of(row)) ?? []), row]);
  return [...groups].flatMap(([heading, own]) => [{ heading }, ...own.map((row) => ({ row }))]);
}

/** The same drawn one under the other over a scale, headings bold at the left; words where there is none. */
export function drawUnderHeadings<Row>(
  shown: readonly UnderHeading<Row>[],
  field: Field,
  x: ValueScale,
  look: {
    rowPx: number;
    /** Width of the margin with the names. */
    namePx: number;
    axis: string;
    empty: string;
    row: (row: Row, y: number) => Markup;
  },
): Markup[] {
  return [
    ...x.ticks.map(({ at }) =>
      tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom, stroke: RULE }),
    ),
    ...shown.map((each, i) => {
      const y = field.top + (i + 0.5) * look.rowPx;
      return 'heading' in each
        ? label(isolated(each.heading), 14, y + 5, { weight: 'bold', maxWidth: look.namePx - 24 })
        : look.row(each.row, y);
    }),
    bottomAxis(field, x.ticks, look.axis),
    shown.length > 0
      ? NOTHING
      : label(look.empty, (field.left + field.right) / 2, field.top + 24, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}
