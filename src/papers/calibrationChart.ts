import type { IsoDate } from '../domain/calendar/isoDate.js';
import { comparedRows, type ValueScale, valueScale } from './axes.js';
import { type BiasChartData, biasFigure } from './biasChart.js';
import { type Field, type Figure, label, stackedFigures } from './figure.js';
import { INK, LIMIT, PAPER, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, px, tag, text } from './markup.js';
import { countText, dayText, isolated, numberText, shareText } from './printed.js';

/** The service's own forecasts, stored when they were made, against what was found since. */
export interface CalibrationChartData {
  asOf: IsoDate;
  /** What was forecast, as in "over the action limit by the due date". */
  event: string;
  classes: readonly CalibrationClass[];
  /** What is off and what to do about it, in words. */
  findings: readonly string[];
  bias: BiasChartData;
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
  /** Where an honest class lies, as shares, and how this one was judged by it. */
  low: number;
  high: number;
  verdict: 'within' | 'more' | 'fewer' | 'too_few';
}

const ROW_PX = 34;
const NAME_PX = 250;

/** Expected against observed by history class, with the verdicts of the same test that the figures tell; below it by method and crew. */
export function calibrationChart(data: CalibrationChartData): string {
  return stackedFigures('How past forecasts fared', [classFigure(data), biasFigure(data.bias)]);
}

function classFigure(data: CalibrationChartData): Figure {
  const rows = data.classes.map(judged);
  const count = rows.reduce((sum, each) => sum + each.count, 0);
  const off = rows.filter(({ verdict }) => verdict === 'more' || verdict === 'fewer');
  const verdicts =
    off.length === 0
      ? 'No class lies outside its band.'
      : off.map(({ name, verdict }) => `${isolated(name)}: ${VERDICT_TEXT[verdict]}.`).join(' ');
  return {
    title: `Forecast against found: ${isolated(data.event)}`,
    subtitle: `${countText(count, 'ended forecast')} in ${countText(rows.length, 'history class', 'history classes')} · as of ${dayText(data.asOf)}`,
    summary: count === 0 ? 'No forecast has come to an end yet.' : verdicts,
    fieldHeight: Math.max(1, rows.length) * ROW_PX,
    marginLeft: NAME_PX,
    marginRight: 180,
    draw: (field) => draw(rows, field),
    legend: [
      { label: 'forecast', sample: expectedMark },
      { label: 'found, inside the band', sample: (x, y) => foundMark(x, y, 'within') },
      { label: 'found, outside', sample: (x, y) => foundMark(x, y, 'more') },
      { label: 'too few to judge', sample: (x, y) => foundMark(x, y, 'too_few') },
      { label: 'where honest ones lie', sample: (x, y) => bandBox(x - 13, x + 13, y) },
    ],
    notes: [
      ...(data.findings.length === 0 ? [nothingOff(rows)] : data.findings.slice(0, MOST_FINDINGS)),
      'The box is two standard errors of the chances forecast and half a visit wide each way, at least 2 %. A reading near the limit counts in part.',
      'Forecasts are scored as stored, never refitted. A visit ends a forecast without saying how it would have gone.',
    ],
  };
}

/** With what is not judged yet, so that silence is no praise. */
function nothingOff(rows: readonly Judged[]): string {
  const unjudged = rows.filter(({ verdict }) => verdict === 'too_few' || verdict === 'none').length;
  if (unjudged === 0) return 'Nothing is found to be off: nothing needs to be done.';
  return unjudged === rows.length
    ? 'Too few forecasts have come to an end to judge any class: go by the reasons of each date meanwhile.'
    : `Nothing is found to be off; ${countText(unjudged, 'class', 'classes')} of ${rows.length} cannot be judged yet.`;
}

type Verdict = CalibrationClass['verdict'] | 'none';

const SHORT_TEXT: Readonly<Record<Verdict, string>> = {
  within: 'as forecast',
  more: 'more than forecast',
  fewer: 'fewer than forecast',
  too_few: 'too few to judge',
  none: 'nothing',
};

/** More would not be read; the figures have them all. */
const MOST_FINDINGS = 4;

const VERDICT_TEXT: Readonly<Record<Verdict, string>> = {
  within: 'inside its band',
  more: 'more often than forecast',
  fewer: 'less often than forecast',
  too_few: 'too few to judge',
  none: 'nothing to compare',
};

interface Judged extends Omit<CalibrationClass, 'verdict'> {
  share: number;
  verdict: Verdict;
}

const judged = (each: CalibrationClass): Judged =>
  each.count === 0 ? { ...each, share: 0, verdict: 'none' } : { ...each, share: each.observed / each.count };

function draw(rows: readonly Judged[], field: Field): Markup[] {
  const most = Math.max(0.05, ...rows.flatMap(({ share, high, expected }) => [share, high, expected]));
  const x = valueScale([0, Math.min(1, most * 1.05)], [field.left, field.right], (share) =>
    shareText(share, 1),
  );
  return comparedRows(
    field,
    x.ticks,
    'share that came true',
    rows.map((row, i) => drawRow(row, field.top + (i + 0.5) * ROW_PX, x, field)),
  );
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
    label(`${behind}, ${SHORT_TEXT[verdict]}`, field.right + 8, y + 4, { size: SMALL_PX, fill: QUIET }),
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

/** A dot inside, hollow where too few were judged; a hollow diamond outside, so that the verdict survives any print. */
function foundMark(x: number, y: number, verdict: Verdict): Markup {
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
