import { bottomAxis, leftAxis, type ValueScale, valueScale } from './axes.js';
import { band, bandEdge, curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, PAST, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag } from './markup.js';
import { countText, isolated, numberText, shareText } from './printed.js';
import { textWidth } from './textWidth.js';

/** How long lines stay free of something, Kaplan-Meier, a curve per group. */
export interface SurvivalChartData {
  title: string;
  /** Lines behind it. */
  lines: number;
  /** What the days count from, as in "days since the clean". */
  axis: string;
  groups: readonly SurvivalGroup[];
}

export interface SurvivalGroup {
  name: string;
  count: number;
  events: number;
  /** After each event, in order of days: share still free, with its confidence band. Begins at 1 by itself. */
  steps: readonly { days: number; survival: number; low: number; high: number }[];
  /** Days at which lines left the watch without an event. */
  censoredDays: readonly number[];
  /** Last day drawn: anyone, or enough, were watched until then. */
  untilDays: number;
}

const LOOKS = [
  { stroke: PAST, dashes: null, fill: '#c3d8ea' },
  { stroke: FUTURE, dashes: '8 3', fill: '#f3e2c6' },
  { stroke: INK, dashes: '2 3', fill: '#dfe2e5' },
  { stroke: '#1c6145', dashes: '12 3 2 3', fill: '#d3e6dc' },
] as const;

/** More curves than looks could not be told apart. */
const MOST_GROUPS = LOOKS.length;

/** Room for the names of the curves at their right. */
const LABEL_PX = 110;

/** Share of lines still free against days, with a tick where a line left the watch; of the largest groups. */
export function survivalChart(asked: SurvivalChartData): string {
  const groups = asked.groups.slice(0, MOST_GROUPS);
  const data = { ...asked, groups };
  const leftOut = asked.groups.length - groups.length;
  const count = groups.reduce((sum, group) => sum + group.count, 0);
  const events = groups.reduce((sum, group) => sum + group.events, 0);
  return figure({
    title: data.title,
    subtitle: `${countText(data.lines, 'line')} · ${countText(count, 'stretch', 'stretches')} between visits, ${countText(events, 'event')}, the others left the watch before`,
    summary: groups.length === 0 ? 'No stretch was watched.' : groups.map(inWords).join(' '),
    fieldHeight: 300,
    marginRight: LABEL_PX + 14,
    draw: (field) => draw(data, field),
    legend: [
      ...groups.map(({ name, count: of }, i) => ({
        label: `${isolated(name)} (${numberText(of)})`,
        sample: (x: number, y: number) =>
          tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...lineLook(i) }),
      })),
      { label: 'left the watch', sample: (x, y) => censorTick(x, y) },
    ],
    notes: [
      'Kaplan-Meier. Pale fields: 95 % confidence, by itself at each day. In brackets the stretches of each group; a curve ends where fewer than ten are watched.',
      ...(axisFloor(groups) > 0
        ? [`The axis begins at ${shareText(axisFloor(groups))}, so that the curves can be told apart.`]
        : []),
      'A visit ends a stretch without saying how it would have gone on; a crossing counts from the visit that found it.',
      ...(leftOut > 0
        ? [`${countText(leftOut, 'smaller group')} left out here: in the figures as JSON and CSV.`]
        : []),
    ],
  });
}

const look = (index: number) => LOOKS[index % LOOKS.length] ?? LOOKS[0];

function lineLook(index: number) {
  const { stroke, dashes } = look(index);
  return { stroke, 'stroke-width': 2, 'stroke-dasharray': dashes };
}

function inWords({ name, count, events, steps, untilDays }: SurvivalGroup): string {
  const half = steps.find(({ survival }) => survival <= 0.5);
  const last = steps.at(-1)?.survival ?? 1;
  const said =
    half === undefined
      ? `${shareText(last)} still free after ${countText(untilDays, 'day')}`
      : `half of them by day ${numberText(half.days)}`;
  return `${isolated(name)}: ${countText(events, 'event')} in ${numberText(count)}, ${said}.`;
}

function draw({ groups, axis }: SurvivalChartData, field: Field): Markup[] {
  const x = valueScale(
    [0, groups.length === 0 ? 365 : Math.max(1, ...groups.map(({ untilDays }) => untilDays))],
    [field.left, field.right],
    (days) => numberText(days),
  );
  const y = valueScale([axisFloor(groups), 1], [field.bottom, field.top], (share) => shareText(share));
  return [
    ...groups.map((group, i) => confidence(group, i, x, y)),
    leftAxis(field, y.ticks, 'share still free'),
    bottomAxis(field, x.ticks, axis),
    ...groups.map((group, i) =>
      join([
        curve(
          stairs(group).map(({ days, survival }) => ({ x: x(days), y: y(survival) })),
          lineLook(i),
          'steps',
        ),
        ...ticksApart(
          group.censoredDays.filter((days) => days <= group.untilDays),
          x,
        ).map((days) => censorTick(x(days), y(survivalAt(group, days)))),
      ]),
    ),
    ...endLabels(groups, x, y, field),
    groups.length > 0
      ? NOTHING
      : label('nothing was watched yet', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
          anchor: 'middle',
          fill: QUIET,
          size: SMALL_PX,
          halo: true,
        }),
  ];
}

/** Where the axis of shares begins: at nothing, but for curves that stay in its upper half, which it is drawn close about. */
function axisFloor(groups: readonly SurvivalGroup[]): number {
  const lowest = Math.min(
    1,
    ...groups.flatMap(({ steps, untilDays }) =>
      steps.filter(({ days }) => days <= untilDays).map(({ low }) => low),
    ),
  );
  return groups.length === 0 || lowest < 0.5 ? 0 : Math.max(0, Math.floor(20 * lowest - 0.1) / 20);
}

const LABEL_APART_PX = 13;

/** How far a name may stand from the height of its curve's end, tried in this order. */
const LABEL_OFFSETS = [0, LABEL_APART_PX, -LABEL_APART_PX, 2 * LABEL_APART_PX, 3 * LABEL_APART_PX];

/** Each curve's name right of its end: on its height, else where no other name and, if it can be, no other curve runs through it. */
function endLabels(groups: readonly SurvivalGroup[], x: ValueScale, y: ValueScale, field: Field): Markup[] {
  const placed: { left: number; right: number; at: number }[] = [];
  return groups
    .map((group, i) => ({
      group,
      i,
      left: x(group.untilDays) + 6,
      end: y(survivalAt(group, group.untilDays)),
    }))
    .sort((a, b) => a.end - b.end || b.left - a.left)
    .map(({ group, i, end, left }) => {
      const right = left + Math.min(LABEL_PX, textWidth(group.name, SMALL_PX));
      const meetsName = (at: number) =>
        placed.some(
          (each) => each.left < right && left < each.right && Math.abs(each.at - at) < LABEL_APART_PX,
        );
      const meetsCurve = (at: number) =>
        groups.some(
          (other) =>
            other !== group &&
            x(other.untilDays) > left &&
            other.steps
              .map(({ days, survival }) => ({ at: x(days), height: y(survival) }))
              .concat({ at: left, height: y(survivalLeftOf(other, left, x)) })
              .some((each) => each.at >= left && each.at <= right && Math.abs(each.height + 4 - at) < 9),
        );
      const free = LABEL_OFFSETS.map((offset) => end + 4 + offset).filter(
        (at) => at > field.top - 4 && !meetsName(at),
      );
      const at = free.find((each) => !meetsCurve(each)) ?? free[0] ?? end + 4;
      placed.push({ left, right, at });
      return label(isolated(group.name), left, at, {
        fill: look(i).stroke,
        size: SMALL_PX,
        weight: 'bold',
        halo: true,
        maxWidth: LABEL_PX,
      });
    });
}

/** Share still free on the last step drawn left of a place. */
const survivalLeftOf = ({ steps }: SurvivalGroup, place: number, x: ValueScale): number =>
  steps.findLast(({ days }) => x(days) <= place)?.survival ?? 1;

function confidence(group: SurvivalGroup, index: number, x: ValueScale, y: ValueScale): Markup {
  return band(
    stairs(group).map(({ days, low, high }) => ({ x: x(days), low: y(low), high: y(high) })),
    { fill: look(index).fill, opacity: 0.55, ...bandEdge(lineLook(index)) },
    'steps',
  );
}

/** From all free on day zero, held level to the last day watched. */
function stairs({ steps: all, untilDays }: SurvivalGroup): SurvivalGroup['steps'] {
  const steps = all.filter(({ days }) => days <= untilDays);
  const start = { days: 0, survival: 1, low: 1, high: 1 };
  const last = steps.at(-1) ?? start;
  return [start, ...steps, ...(untilDays > last.days ? [{ ...last, days: untilDays }] : [])];
}

/** Ticks nearer than eight pixels are one. */
function ticksApart(days: readonly number[], x: ValueScale): number[] {
  const kept = new Map(days.map((each) => [Math.round(x(each) / 8), each]));
  return [...kept.values()];
}

function survivalAt({ steps }: SurvivalGroup, days: number): number {
  return steps.findLast((step) => step.days <= days)?.survival ?? 1;
}

function censorTick(x: number, y: number): Markup {
  return tag('line', { x1: x, x2: x, y1: y - 5, y2: y + 5, stroke: INK, 'stroke-width': 1.4 });
}
