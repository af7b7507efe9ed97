import type { IsoDate } from '../domain/calendar/isoDate.js';
import { bottomAxis, type ValueScale, valueScale } from './axes.js';
import { binomialBand } from './binomialBand.js';
import { type Field, figure, label } from './figure.js';
import { INK, LIMIT, PAPER, QUIET, RULE, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, px, tag, text } from './markup.js';
import { countText, dayText, isolated, numberText, shareText } from './printed.js';

/** The service's own forecasts, stored when they were made, against what was found since. */
export interface CalibrationChartData {
  asOf: IsoDate;
  /** What was forecast, as in "over the action limit by the due date". */
  event: string;
  classes: readonly CalibrationClass[];
}

export interface CalibrationClass {
  /** As in "no reading yet", "2 to 5 readings". */
  name: string;
  /** Forecasts that came to an end. */
  count: number;
  /** Mean forecast chance, 0 to 1. */
  expected: number;
  /** How many came true. */
  observed: number;
}

const ROW_PX = 34;
const NAME_PX = 250;

/** Expected against observed by history class; the box is where 95 of 100 honest classes of that size would fall. */
export function calibrationChart(data: CalibrationChartData): string {
  const rows = data.classes.map(judged);
  const count = rows.reduce((sum, each) => sum + each.count, 0);
  const off = rows.filter(({ verdict }) => verdict !== 'within' && verdict !== 'none');
  const verdicts =
    off.length === 0
      ? 'Every class lies inside its band.'
      : off.map(({ name, verdict }) => `${isolated(name)}: ${VERDICT_TEXT[verdict]}.`).join(' ');
  return figure({
    title: `Forecast against found: ${isolated(data.event)}`,
    subtitle: `${countText(count, 'ended forecast')} in ${countText(rows.length, 'history class', 'history classes')} · as of ${dayText(data.asOf)}`,
    summary: count === 0 ? 'No forecast has come to an end yet.' : verdicts,
    fieldHeight: Math.max(1, rows.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 110,
    draw: (field) => draw(rows, field),
    legend: [
      { label: 'forecast', sample: expectedMark },
      { label: 'found, inside the band', sample: (x, y) => foundMark(x, y, 'within') },
      { label: 'found, outside', sample: (x, y) => foundMark(x, y, 'more') },
      { label: '95 % binomial band', sample: (x, y) => bandBox(x - 13, x + 13, y) },
    ],
    notes: [
      'Forecasts are scored as stored, never refitted. A visit ends a forecast without saying how it would have gone.',
    ],
  });
}

type Verdict = 'within' | 'more' | 'fewer' | 'none';

const VERDICT_TEXT: Readonly<Record<Verdict, string>> = {
  within: 'inside its band',
  more: 'more often than forecast',
  fewer: 'less often than forecast',
  none: 'nothing to compare',
};

interface Judged extends CalibrationClass {
  share: number;
  low: number;
  high: number;
  verdict: Verdict;
}

function judged(each: CalibrationClass): Judged {
  if (each.count === 0) return { ...each, share: 0, low: 0, high: 0, verdict: 'none' };
  const share = each.observed / each.count;
  const { low, high } = binomialBand(each.count, each.expected);
  return { ...each, share, low, high, verdict: share > high ? 'more' : share < low ? 'fewer' : 'within' };
}

function draw(rows: readonly Judged[], field: Field): Markup[] {
  const most = Math.max(0.05, ...rows.flatMap(({ share, high, expected }) => [share, high, expected]));
  const x = valueScale([0, Math.min(1, most * 1.05)], [field.left, field.right], (share) =>
    shareText(share, 1),
  );
  return [
    ...x.ticks.map(({ at }) =>
      tag('line', { x1: at, x2: at, y1: field.top, y2: field.bottom, stroke: RULE }),
    ),
    ...rows.map((row, i) => drawRow(row, field.top + (i + 0.5) * ROW_PX, x, field)),
    bottomAxis(field, x.ticks, 'share that came true'),
    rows.length > 0
      ? NOTHING
      : label('nothing to compare yet', (field.left + field.right) / 2, field.top + 21, {
          anchor: 'middle',
          fill: QUIET,
          halo: true,
        }),
  ];
}

function drawRow(row: Judged, y: number, x: ValueScale, field: Field): Markup {
  const { name, count, observed, expected, share, low, high, verdict } = row;
  const behind = `${numberText(observed)} of ${numberText(count)}`;
  const spoken = `${isolated(name)}: forecast ${shareText(expected, 1)}, found ${shareText(share, 1)} (${behind}), ${VERDICT_TEXT[verdict]}`;
  return tag(
    'g',
    {},
    tag('title', {}, text(spoken)),
    label(isolated(name), 14, y + 4, { maxWidth: NAME_PX - 30 }),
    label(behind, field.right + 8, y + 4, { size: SMALL_PX, fill: QUIET }),
    verdict === 'none'
      ? NOTHING
      : join([bandBox(x(low), x(high), y), expectedMark(x(expected), y), foundMark(x(share), y, verdict)]),
  );
}

function bandBox(from: number, to: number, y: number): Markup {
  return tag('rect', { x: from, y: y - 7, width: Math.max(1, to - from), height: 14, fill: '#d3d8dd' });
}

function expectedMark(x: number, y: number): Markup {
  return tag('line', { x1: x, x2: x, y1: y - 10, y2: y + 10, stroke: INK, 'stroke-width': 2.2 });
}

/** A dot inside; a hollow diamond outside, so that the verdict survives any print. */
function foundMark(x: number, y: number, verdict: Verdict): Markup {
  if (verdict === 'within') return tag('circle', { cx: x, cy: y, r: 4.5, fill: INK, stroke: PAPER });
  return tag('path', {
    d: `M${px(x)} ${px(y - 7)}l7 7l-7 7l-7 -7Z`,
    fill: PAPER,
    stroke: LIMIT,
    'stroke-width': 2.4,
  });
}
