import type { IsoDate } from '../domain/calendar/isoDate.js';
import { fromStored, type UnitSystem } from '../domain/units/quantity.js';
import { bottomAxis, dayScale, dayTicks, leftAxis, type ValueScale, valueScale } from './axes.js';
import { band, bandEdge, curve } from './curves.js';
import { type Field, type Figure, type LegendItem, label, stackedFigures } from './figure.js';
import { FUTURE, FUTURE_BAND, INK, LIMIT, PAST, PAST_BAND, QUIET } from './look.js';
import { type Markup, NOTHING, tag } from './markup.js';
import { countText, dayText, numberText, shareText } from './printed.js';

/** Low, middle and high tenth over the runs. */
export interface WeekBand {
  q10: number;
  q50: number;
  q90: number;
}

export interface YearAheadWay {
  name: string;
  weeks: readonly {
    monday: IsoDate;
    capacityHours: number;
    visits: WeekBand;
    hours: WeekBand;
    waterL: WeekBand;
    backlog: WeekBand;
    plugsSoFar: WeekBand;
  }[];
  totals: { visits: WeekBand; hours: WeekBand; waterL: WeekBand; overtimeHours: WeekBand; plugs: WeekBand };
  /** Hours of the hours there are; null where nobody works. */
  usedShare: WeekBand | null;
}

/** What the same runs differ by with and without the change, of a total. */
export interface WaysDiffer {
  mean: number;
  low: number;
  high: number;
  verdict: 'more' | 'fewer' | 'same' | 'cannot_be_told';
}

/** The weeks to come, as it is and as it would be otherwise. */
export interface YearAheadChartData {
  title: string;
  asOf: IsoDate;
  lines: number;
  runs: number;
  units: UnitSystem;
  ways: readonly YearAheadWay[];
  /** Otherwise less as it is; null where there is one way only. Of the backlog the mean over weeks. */
  differences: Readonly<Record<'visits' | 'hours' | 'waterL' | 'backlog' | 'plugs', WaysDiffer>> | null;
}

const LOOKS = [
  { stroke: PAST, fill: PAST_BAND, dashes: null },
  { stroke: FUTURE, fill: FUTURE_BAND, dashes: '8 4' },
] as const;

type Panel = 'hours' | 'visits' | 'backlog' | 'waterL' | 'plugsSoFar';

const PANELS: readonly { of: Panel; title: string; axis: string }[] = [
  { of: 'hours', title: 'Crew-hours a week, on site and on the way', axis: 'crew-hours' },
  { of: 'visits', title: 'Visits a week', axis: 'visits' },
  { of: 'backlog', title: 'Visits that were wanted by then and wait', axis: 'visits' },
  { of: 'waterL', title: 'Water a week', axis: 'volume' },
  { of: 'plugsSoFar', title: 'Lines found plugged, all told', axis: 'plugs' },
];

const VOLUME_AXIS: Record<UnitSystem, string> = { metric: 'litres', us: 'gallons' };

/** Panels of one width over the same weeks: hours against what the crews have, visits, what waits, water, plugs. */
export function yearAheadChart(data: YearAheadChartData): string {
  const shown = {
    ...data,
    ways: data.ways.map((way) => withWaterIn(way, data.units)),
    differences: data.differences && {
      ...data.differences,
      waterL: waterDiffers(data.differences.waterL, data.units),
    },
  };
  const figures = PANELS.map((panel, i) => panelFigure(shown, panel, i === 0, i === PANELS.length - 1));
  return stackedFigures(data.title, figures);
}

const waterDiffers = ({ mean, low, high, verdict }: WaysDiffer, units: UnitSystem): WaysDiffer => {
  const volume = (litres: number): number => fromStored(litres, 'volume', units).value;
  return { mean: volume(mean), low: volume(low), high: volume(high), verdict };
};

/** Water in the unit people of the system use, whatever its name says. */
function withWaterIn(way: YearAheadWay, units: UnitSystem): YearAheadWay {
  const volume = (litres: number): number => fromStored(litres, 'volume', units).value;
  const inUnits = ({ q10, q50, q90 }: WeekBand): WeekBand => ({
    q10: volume(q10),
    q50: volume(q50),
    q90: volume(q90),
  });
  return {
    ...way,
    weeks: way.weeks.map((week) => ({ ...week, waterL: inUnits(week.waterL) })),
    totals: { ...way.totals, waterL: inUnits(way.totals.waterL) },
  };
}

function panelFigure(
  { title, asOf, lines, runs, units, ways, differences }: YearAheadChartData,
  { of, title: own, axis }: (typeof PANELS)[number],
  first: boolean,
  last: boolean,
): Figure {
  const differs = (panel: Panel): string[] =>
    differences === null
      ? []
      : [differenceText(differences[panel === 'plugsSoFar' ? 'plugs' : panel], runs, panel)];
  return {
    title: first ? title : own,
    subtitle: first
      ? `${countText(lines, 'line')} · ${countText(runs, 'run')} · as of ${dayText(asOf)} · ${own.charAt(0).toLowerCase()}${own.slice(1)}`
      : [...ways.map((way) => totalText(way, of)), ...differs(of)].join('; '),
    summary: first ? [...ways.map(inWords), ...differs('hours')].join(' ') : `${own}.`,
    fieldHeight: first ? 190 : 120,
    axisHeight: 30,
    marginLeft: 84,
    draw: (field) => drawPanel(ways, of, of === 'waterL' ? VOLUME_AXIS[units] : axis, field),
    legend: first ? legendOf(ways) : [],
    notes: first
      ? [...ways.map((way) => usedText(way)), ...differs('hours').map((text) => `Crew-hours: ${text}.`)]
      : last
        ? [
            'Lines, middle of the runs; pale fields, eight of ten runs. Each run draws every line from what is believed of it and lets it foul, be dated and be visited by the service’s own rules.',
            'Weeks are evened out as by night: a heap comes sooner, by the settings’ share of its interval at most; what is late and in little danger waits for a week with room. What is promised or in danger is not moved.',
            'Every week of every line has the same chances both ways; a difference is of the same runs, with its 95 % interval.',
            'Overtime that routes buy for ordinary visits is not simulated: what does not fit waits. Left out too: routes within a day, kit, people and preconditions, pits that need a visit of their own.',
          ]
        : [],
  };
}

const usedText = ({ name, usedShare }: YearAheadWay): string =>
  usedShare === null
    ? `${name}: nobody works.`
    : `${name}: ${shareText(usedShare.q50)} of the hours there are is used over all weeks.`;

/** "difference −0.4 (−1 to 0.2), cannot be told at 16 runs". */
function differenceText({ mean, low, high, verdict }: WaysDiffer, runs: number, of: Panel): string {
  if (verdict === 'same') return 'no difference in any run';
  const decimals = of === 'plugsSoFar' || of === 'backlog' ? 1 : 0;
  const said = (value: number): string => `${value > 0 ? '+' : ''}${numberText(value, decimals)}`;
  const what = of === 'backlog' ? 'waiting in the mean week, difference' : 'difference';
  const told = verdict === 'cannot_be_told' ? `, cannot be told at ${countText(runs, 'run')}` : '';
  return `${what} ${said(mean)} (${said(low)} to ${said(high)})${told}`;
}

function inWords({ name, weeks, totals }: YearAheadWay): string {
  const over = weeks.filter(({ hours, capacityHours }) => hours.q50 > capacityHours).length;
  return (
    `${name}: ${numberText(totals.visits.q50)} visits and ${numberText(totals.hours.q50)} crew-hours in ${countText(weeks.length, 'week')}, ` +
    `${numberText(totals.plugs.q50, 1)} plugs, more work than hours in ${countText(over, 'week')}, ${numberText(weeks.at(-1)?.backlog.q50 ?? 0)} visits waiting at the end.`
  );
}

function totalText({ name, totals, weeks }: YearAheadWay, of: Panel): string {
  if (of === 'backlog') return `${name}: ${numberText(weeks.at(-1)?.backlog.q50 ?? 0)} wait at the end`;
  const { q10, q50, q90 } = totals[of === 'plugsSoFar' ? 'plugs' : of];
  const decimals = of === 'plugsSoFar' ? 1 : 0;
  // Of a year's water the last digits say nothing.
  const said = (value: number): string =>
    numberText(of === 'waterL' ? Number(value.toPrecision(3)) : value, decimals);
  return `${name}: ${said(q50)} in all (80 %: ${said(q10)} to ${said(q90)})`;
}

function legendOf(ways: readonly YearAheadWay[]): LegendItem[] {
  const lines = ways.map(({ name }, i) => ({
    label: name,
    sample: (x: number, y: number) => tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...lineLook(i) }),
  }));
  const sample = (x: number, y: number) => tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...CAPACITY });
  const other = (x: number, y: number) =>
    tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...OTHER_CAPACITY });
  return [
    ...lines,
    { label: 'hours the crews have', sample },
    ...(hasOtherHours(ways) ? [{ label: 'the same otherwise', sample: other }] : []),
  ];
}

const hasOtherHours = (ways: readonly YearAheadWay[]): boolean =>
  ways.some(({ weeks }) => weeks.some((week, w) => week.capacityHours !== ways[0]?.weeks[w]?.capacityHours));

const CAPACITY = { stroke: LIMIT, 'stroke-width': 1.6, 'stroke-dasharray': '3 3' } as const;

const OTHER_CAPACITY = { ...CAPACITY, stroke: FUTURE, 'stroke-dasharray': '9 3 2 3' } as const;

const lookOf = (way: number) => LOOKS[way % LOOKS.length] ?? LOOKS[0];

function lineLook(way: number) {
  const { stroke, dashes } = lookOf(way);
  return { stroke, 'stroke-width': 2, 'stroke-dasharray': dashes };
}

function drawPanel(ways: readonly YearAheadWay[], of: Panel, axis: string, field: Field): Markup[] {
  const mondays = ways[0]?.weeks.map(({ monday }) => monday) ?? [];
  const [firstDay, lastDay] = [mondays[0], mondays.at(-1)];
  if (firstDay === undefined || lastDay === undefined) {
    return [
      tag('line', { x1: field.left, x2: field.right, y1: field.bottom, y2: field.bottom, stroke: INK }),
      label('no week to show', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
        anchor: 'middle',
        fill: QUIET,
      }),
    ];
  }
  const tops = ways.flatMap(({ weeks }) =>
    weeks.map((week) => Math.max(week[of].q90, of === 'hours' ? week.capacityHours : 0)),
  );
  const y = valueScale([0, Math.max(0.5, ...tops) * 1.05], [field.bottom, field.top], (value) =>
    numberText(value, 1),
  );
  const x = dayScale(firstDay, lastDay, field);
  return [
    ...ways.map(({ weeks }, i) =>
      band(
        weeks.map((week) => ({ x: x(week.monday), low: y(week[of].q10), high: y(week[of].q90) })),
        { fill: lookOf(i).fill, opacity: 0.6, ...bandEdge(lineLook(i)) },
      ),
    ),
    leftAxis(field, y.ticks, axis),
    bottomAxis(field, dayTicks(firstDay, lastDay, field), ''),
    ...(of === 'hours' ? capacities(ways, x, y) : []),
    ...ways.map(({ weeks }, i) =>
      curve(
        weeks.map((week) => ({ x: x(week.monday), y: y(week[of].q50) })),
        lineLook(i),
      ),
    ),
  ];
}

/** Of the way it would be otherwise too, where it differs. */
function capacities(ways: readonly YearAheadWay[], x: (day: IsoDate) => number, y: ValueScale): Markup[] {
  return ways.map(({ weeks }, i) => {
    if (weeks.length < 2 || (i > 0 && !hasOtherHours(ways))) return NOTHING;
    const points = weeks.map((week) => ({ x: x(week.monday), y: y(week.capacityHours) }));
    return curve(points, i > 0 ? OTHER_CAPACITY : CAPACITY, 'steps');
  });
}
