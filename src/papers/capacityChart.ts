import { fromStored, type UnitSystem } from '../domain/units/quantity.js';
import { bottomAxis, leftAxis, valueScale } from './axes.js';
import { curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, LIMIT, PAPER, PAST, SMALL_PX } from './look.js';
import { type Markup, tag, text } from './markup.js';
import { isolated, numberText, quantityText, shareText } from './printed.js';

/** What a bore still carries as deposit grows in it. */
export interface CapacityChartData {
  lineName: string;
  boreMm: number;
  units: UnitSystem;
  /** Where the curves and numbers come from: formula, roughness, fall. */
  basis: string;
  curves: readonly CapacityCurve[];
  /** Readings or beliefs to show on a curve. */
  marks: readonly CapacityMark[];
  /** Share of the clean capacity the line needs; null where nobody knows. */
  needed: number | null;
}

export interface CapacityCurve {
  /** As in "flat deposit, gravity". */
  name: string;
  /** In order of depth, 0 to the bore; shares of the clean capacity, 0 to 1. */
  points: readonly { depthMm: number; capacityLeft: number }[];
}

export interface CapacityMark {
  name: string;
  depthMm: number;
  capacityLeft: number;
}

const LOOKS = [
  { stroke: PAST, 'stroke-width': 2, 'stroke-dasharray': null },
  { stroke: FUTURE, 'stroke-width': 2, 'stroke-dasharray': '8 4' },
  { stroke: '#1c6145', 'stroke-width': 2, 'stroke-dasharray': '2 3' },
  { stroke: INK, 'stroke-width': 2, 'stroke-dasharray': '12 3 2 3' },
] as const;

/** Capacity left against the depth of deposit, and where this line stands. */
export function capacityChart(data: CapacityChartData): string {
  const { boreMm, units, needed } = data;
  const { unit } = fromStored(boreMm, 'bore', units);
  return figure({
    title: `Capacity left in ${isolated(data.lineName)}`,
    subtitle: `bore ${quantityText(boreMm, 'bore', units)} · ${data.basis}`,
    summary: [
      ...data.marks.map((mark) => `${inWords(mark, units)}.`),
      needed === null
        ? 'What the line needs is not known.'
        : `The line needs ${shareText(needed)} of its clean capacity.`,
    ].join(' '),
    fieldHeight: 300,
    draw: (field) => draw(data, unit, field),
    legend: data.curves.map(({ name }, i) => ({
      label: name,
      sample: (x, y) => tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...look(i) }),
    })),
    notes: [],
  });
}

const look = (index: number) => LOOKS[index % LOOKS.length] ?? LOOKS[0];

function inWords({ name, depthMm, capacityLeft }: CapacityMark, units: UnitSystem): string {
  return `${isolated(name)}: ${quantityText(depthMm, 'bore', units)} deep, ${shareText(capacityLeft)} of the capacity left`;
}

function draw(data: CapacityChartData, unit: string, field: Field): Markup[] {
  const shown = (mm: number): number => fromStored(mm, 'bore', data.units).value;
  const depth = valueScale(
    [0, shown(data.boreMm)],
    [field.left, field.right],
    (value) => numberText(value, 2),
    'exact',
  );
  const x = (mm: number): number => depth(shown(mm));
  const y = valueScale([0, 1], [field.bottom, field.top], (share) => shareText(share));
  return [
    leftAxis(field, y.ticks, 'share of the clean capacity'),
    bottomAxis(field, depth.ticks, `depth of deposit, ${unit} (right edge: the whole bore)`),
    ...(data.needed === null ? [] : [neededLine(data.needed, y(data.needed), field)]),
    ...data.curves.map(({ points }, i) =>
      curve(
        points.map(({ depthMm, capacityLeft }) => ({ x: x(depthMm), y: y(capacityLeft) })),
        look(i),
      ),
    ),
    ...data.marks.map((mark) => markAt(mark, x(mark.depthMm), y(mark.capacityLeft), data.units, field)),
  ];
}

function neededLine(needed: number, y: number, field: Field): Markup {
  return tag(
    'g',
    {},
    tag('line', {
      x1: field.left,
      x2: field.right,
      y1: y,
      y2: y,
      stroke: LIMIT,
      'stroke-width': 1.4,
      'stroke-dasharray': '9 4',
    }),
    label(`needed: ${shareText(needed)}`, field.right - 4, y - 5, {
      anchor: 'end',
      fill: LIMIT,
      size: SMALL_PX,
      halo: true,
    }),
  );
}

function markAt(mark: CapacityMark, x: number, y: number, units: UnitSystem, field: Field): Markup {
  const left = x > (field.left + field.right) / 2;
  return tag(
    'g',
    {},
    tag('title', {}, text(inWords(mark, units))),
    tag('circle', { cx: x, cy: y, r: 5, fill: INK, stroke: PAPER, 'stroke-width': 1.2 }),
    label(
      `${isolated(mark.name)}: ${shareText(mark.capacityLeft)} left`,
      left ? x - 9 : x + 9,
      left ? y + 16 : y - 8,
      {
        size: SMALL_PX,
        halo: true,
        maxWidth: 280,
        ...(left ? { anchor: 'end' as const } : {}),
      },
    ),
  );
}
