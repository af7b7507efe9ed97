import { METHODS, PHASES, type Phase } from '../domain/words.js';
import type { LegendItem } from './figure.js';
import { FUTURE, FUTURE_BAND, PAST, PAST_BAND } from './look.js';
import { join, type Markup, tag } from './markup.js';
import { methodMark } from './methodMark.js';
import type { TrendChartData } from './trendChartData.js';
import { cleanTick } from './trendCleans.js';
import { boundArrow, doubtRing, isDoubtful, plugMark } from './trendReadings.js';
import { METHOD_TEXT, PHASE_TEXT } from './wording.js';

const FILL_TEXT: Readonly<Record<Phase, string>> = {
  before_cleaning: 'black',
  after_cleaning: 'hollow',
  no_cleaning: 'grey',
};

/** Only what this line's picture shows. */
export function trendLegend({ readings, cleans, past, future }: TrendChartData): LegendItem[] {
  const methods = METHODS.filter((method) => readings.some((reading) => reading.method === method));
  const phases = PHASES.filter((phase) => readings.some((reading) => reading.phase === phase));
  const bounds = (['at_most', 'at_least'] as const).filter((bound) =>
    readings.some((reading) => reading.bound === bound && reading.plugged === null),
  );
  const shown = (label: string, sample: LegendItem['sample'], when: boolean): LegendItem[] =>
    when ? [{ label, sample }] : [];
  return [
    ...methods.map((method) => ({
      label: METHOD_TEXT[method],
      sample: (x: number, y: number) => methodMark(method, 'before_cleaning', x, y),
    })),
    ...phases.map((phase) => ({
      label: `${FILL_TEXT[phase]}: ${PHASE_TEXT[phase]}`,
      sample: (x: number, y: number) => methodMark('camera', phase, x, y),
    })),
    ...bounds.map((bound) => ({
      label: bound === 'at_most' ? 'at most that' : 'at least that',
      sample: (x: number, y: number) => boundArrow(bound, x, bound === 'at_most' ? y - 7 : y + 7, 14),
    })),
    ...shown(
      'found plugged',
      (x, y) => plugMark(x, y + 12),
      readings.some(({ plugged }) => plugged !== null),
    ),
    ...shown('doubtful, weighed down', doubtRing, readings.some(isDoubtful)),
    ...shown(
      'cleaned',
      (x, y) => cleanTick(x, y + 7, true),
      cleans.some(({ measured }) => measured),
    ),
    ...shown(
      'cleaned, not measured',
      (x, y) => cleanTick(x, y + 9, false),
      cleans.some(({ measured }) => !measured),
    ),
    ...shown('believed so far', (x, y) => swatch(x, y, PAST_BAND, PAST, null), past.length > 0),
    ...shown('to come', (x, y) => swatch(x, y, FUTURE_BAND, FUTURE, '7 3'), future.length > 0),
  ];
}

function swatch(x: number, y: number, fill: string, stroke: string, dashes: string | null): Markup {
  return join([
    tag('rect', { x: x - 13, y: y - 6, width: 26, height: 12, fill }),
    tag('line', {
      x1: x - 13,
      x2: x + 13,
      y1: y,
      y2: y,
      stroke,
      'stroke-width': 2,
      'stroke-dasharray': dashes,
    }),
  ]);
}
