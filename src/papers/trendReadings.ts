import type { Bound } from '../domain/words.js';
import { label } from './figure.js';
import { INK, QUIET } from './look.js';
import { join, type Markup, NOTHING, px, tag, text } from './markup.js';
import { methodMark } from './methodMark.js';
import { dayText, shareText } from './printed.js';
import type { TrendPlaces, TrendReading } from './trendChartData.js';
import { METHOD_TEXT, PHASE_TEXT, PLUG_CAUSE_TEXT } from './wording.js';

/** Under this weight the estimator hardly heeds a reading. */
const DOUBTFUL_BELOW = 0.5;

export const isDoubtful = ({ weight }: TrendReading): boolean => weight < DOUBTFUL_BELOW;

/** Only deposit (and, weighted, an unknown cause) is fouling; other plugs are shown but faint. */
const isFouling = ({ plugged }: TrendReading): boolean =>
  plugged === null || plugged === 'deposit' || plugged === 'unknown';

export function readingMarks(readings: readonly TrendReading[], places: TrendPlaces): Markup {
  return join(readings.map((reading) => readingMark(reading, places)));
}

function readingMark(reading: TrendReading, { x, y }: TrendPlaces): Markup {
  const at = { x: x(reading.on), y: y(reading.occlusion) };
  const { occlusion, standardError } = reading;
  return tag(
    'g',
    {},
    tag('title', {}, text(spoken(reading))),
    tag('line', {
      x1: at.x,
      x2: at.x,
      y1: y(occlusion - standardError),
      y2: y(occlusion + standardError),
      stroke: QUIET,
      'stroke-width': 0.9,
    }),
    reading.plugged === null ? boundArrow(reading.bound, at.x, at.y) : plugMark(at.x, at.y),
    reading.method === null
      ? NOTHING
      : methodMark(
          reading.method,
          reading.phase,
          at.x,
          at.y,
          isDoubtful(reading) || !isFouling(reading) ? 'faint' : undefined,
        ),
    isDoubtful(reading) ? doubtRing(at.x, at.y) : NOTHING,
    reading.plugged === null || isFouling(reading)
      ? NOTHING
      : label(PLUG_CAUSE_TEXT[reading.plugged], at.x, at.y + 22, {
          anchor: 'middle',
          size: 10,
          fill: QUIET,
          halo: true,
        }),
  );
}

function spoken({
  on,
  phase,
  method,
  occlusion,
  standardError,
  bound,
  plugged,
  weight,
  confirmed,
}: TrendReading): string {
  const value =
    plugged === null
      ? `${BOUND_TEXT[bound]}${shareText(occlusion)} ± ${shareText(standardError)}`
      : `plugged (${PLUG_CAUSE_TEXT[plugged]})`;
  const doubt = confirmed ? ', confirmed by a person' : weight < DOUBTFUL_BELOW ? ', doubtful' : '';
  return `${dayText(on)}: ${value}${method === null ? '' : `, ${METHOD_TEXT[method]}`}, ${PHASE_TEXT[phase]}${doubt}`;
}

const BOUND_TEXT: Readonly<Record<Bound, string>> = { exact: '', at_most: 'at most ', at_least: 'at least ' };

/** The true value lies where the arrow points. */
export function boundArrow(bound: Bound, x: number, y: number, length = 22): Markup {
  if (bound === 'exact') return NOTHING;
  const up = bound === 'at_least' ? -1 : 1;
  return tag('path', {
    d: `M${px(x)} ${px(y)}v${px(length * up)}m-4 ${px(-6 * up)}l4 ${px(6 * up)}l4 ${px(-6 * up)}`,
    fill: 'none',
    stroke: INK,
    'stroke-width': 1.4,
  });
}

/** A bar over the mark: nothing went through. */
export function plugMark(x: number, y: number): Markup {
  return tag('path', {
    d: `M${px(x - 8)} ${px(y - 9)}h16M${px(x)} ${px(y - 9)}v-8m-3.5 4l3.5 -4l3.5 4`,
    fill: 'none',
    stroke: INK,
    'stroke-width': 2,
  });
}

export function doubtRing(x: number, y: number): Markup {
  return tag('circle', {
    cx: x,
    cy: y,
    r: 9,
    fill: 'none',
    stroke: INK,
    'stroke-width': 1.1,
    'stroke-dasharray': '2 2',
  });
}
