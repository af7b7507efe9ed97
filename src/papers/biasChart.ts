import { comparedRows, type ValueScale, valueScale } from './axes.js';
import { type Field, type Figure, label } from './figure.js';
import { INK, LIMIT, PAPER, QUIET, SMALL_PX } from './look.js';
import { type Markup, px, tag, text } from './markup.js';
import { countText, isolated, shareText } from './printed.js';

/** Mean of occlusion found over occlusion forecast, of one method or crew; shares of the bore. */
export interface BiasRow {
  name: string;
  count: number;
  bias: number;
  standardError: number;
  verdict: 'within' | 'higher' | 'lower' | 'too_few';
}

export interface BiasChartData {
  methods: readonly BiasRow[];
  crews: readonly BiasRow[];
  /** Off is what lies further from the forecast than this, and than two standard errors. */
  tolerance: number;
}

const ROW_PX = 26;
const NAME_PX = 250;

/** By which methods and crews more or less is found than forecast. */
export function biasFigure({ methods, crews, tolerance }: BiasChartData): Figure {
  const rows = [...methods, ...crews.map((crew) => ({ ...crew, name: `crew ${isolated(crew.name)}` }))];
  const off = rows.filter(({ verdict }) => verdict === 'higher' || verdict === 'lower');
  return {
    title: 'Found over forecast, by method and crew',
    subtitle: `${countText(methods.length, 'method')}, ${countText(crews.length, 'crew')} · mean difference in shares of the bore`,
    summary:
      off.length === 0
        ? 'No method or crew is off.'
        : off.map(({ name, verdict }) => `${name}: ${SHORT_TEXT[verdict]}.`).join(' '),
    fieldHeight: Math.max(1, rows.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 180,
    draw: (field) => draw(rows, tolerance, field),
    legend: [
      { label: 'found over forecast, with two standard errors', sample: (x, y) => meanMark(x, y, 'within') },
      { label: 'off', sample: (x, y) => meanMark(x, y, 'higher') },
      { label: 'too few to judge', sample: (x, y) => meanMark(x, y, 'too_few') },
      { label: 'not worth a word', sample: (x, y) => tolerated(x - 13, x + 13, y - 6, y + 6) },
    ],
    notes: [
      'A method may show more or less than there is; a crew may read otherwise than others, or be sent to lines that it alone knows to be worse.',
    ],
  };
}

const SHORT_TEXT: Readonly<Record<BiasRow['verdict'], string>> = {
  within: 'as forecast',
  higher: 'more than forecast',
  lower: 'less than forecast',
  too_few: 'too few to judge',
};

function draw(rows: readonly BiasRow[], tolerance: number, field: Field): Markup[] {
  const reach = rows.map(({ bias, standardError }) => Math.abs(bias) + 2 * standardError);
  const most = Math.min(1, Math.max(1.5 * tolerance, ...reach));
  const x = valueScale([-most, most], [field.left, field.right], (share) => shareText(share, 1));
  return [
    tolerated(x(-tolerance), x(tolerance), field.top, field.bottom),
    ...comparedRows(
      field,
      x.ticks,
      'less found · more found than forecast',
      rows.map((row, i) => drawRow(row, field.top + (i + 0.5) * ROW_PX, x, field)),
      tag('line', { x1: x(0), x2: x(0), y1: field.top, y2: field.bottom, stroke: INK, 'stroke-width': 1.4 }),
    ),
  ];
}

function drawRow(row: BiasRow, y: number, x: ValueScale, field: Field): Markup {
  const { name, count, bias, standardError, verdict } = row;
  const within = (at: number): number => Math.min(field.right, Math.max(field.left, at));
  const readings = countText(count, 'reading');
  return tag(
    'g',
    {},
    tag(
      'title',
      {},
      text(`${name}: ${shareText(bias, 1)} in the mean of ${readings}, ${SHORT_TEXT[verdict]}`),
    ),
    label(name, 14, y + 4, { maxWidth: NAME_PX - 30 }),
    label(`${readings}, ${SHORT_TEXT[verdict]}`, field.right + 8, y + 4, { size: SMALL_PX, fill: QUIET }),
    tag('line', {
      x1: within(x(bias - 2 * standardError)),
      x2: within(x(bias + 2 * standardError)),
      y1: y,
      y2: y,
      stroke: INK,
      'stroke-width': 1.2,
    }),
    meanMark(within(x(bias)), y, verdict),
  );
}

function tolerated(from: number, to: number, top: number, bottom: number): Markup {
  return tag('rect', {
    x: from,
    y: top,
    width: Math.max(1, to - from),
    height: bottom - top,
    fill: '#d3d8dd',
  });
}

/** A dot, hollow where too few were read; a hollow diamond where off, so that the verdict survives any print. */
function meanMark(x: number, y: number, verdict: BiasRow['verdict']): Markup {
  if (verdict === 'within') return tag('circle', { cx: x, cy: y, r: 4.5, fill: INK, stroke: PAPER });
  if (verdict === 'too_few')
    return tag('circle', { cx: x, cy: y, r: 4, fill: PAPER, stroke: INK, 'stroke-width': 1.4 });
  return tag('path', {
    d: `M${px(x)} ${px(y - 7)}l7 7l-7 7l-7 -7Z`,
    fill: PAPER,
    stroke: LIMIT,
    'stroke-width': 2.4,
  });
}
