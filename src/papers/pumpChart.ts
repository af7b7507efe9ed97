import { fromStored, type UnitSystem } from '../domain/units/quantity.js';
import { bottomAxis, leftAxis, valueScale } from './axes.js';
import { curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, LIMIT, PAPER, PAST, SMALL_PX } from './look.js';
import { type Markup, tag, text } from './markup.js';
import { isolated, numberText, quantityText } from './printed.js';
import { textWidth } from './textWidth.js';

/** A pump against its discharge, clean and as it is now. */
export interface PumpChartData {
  pumpName: string;
  units: UnitSystem;
  /** How the line's heads were reckoned, and from what. */
  basis: string;
  /** All in order of flow. */
  pump: readonly HeadPoint[];
  clean: readonly HeadPoint[];
  fouled: readonly HeadPoint[];
  /** Where the pump curve meets each line; null where it does not. */
  cleanPoint: HeadPoint | null;
  fouledPoint: HeadPoint | null;
  /** Flow that scours the line, and flow that comes in; null where unknown. */
  scouringLps: number | null;
  inflowLps: number | null;
}

export interface HeadPoint {
  flowLps: number;
  headM: number;
}

const PUMP = { stroke: INK, 'stroke-width': 2.4, 'stroke-dasharray': null } as const;
const CLEAN = { stroke: PAST, 'stroke-width': 2, 'stroke-dasharray': '9 4' } as const;
const FOULED = { stroke: FUTURE, 'stroke-width': 2, 'stroke-dasharray': '2 3' } as const;

/** Pump curve against the clean and the fouled line, with both working points. */
export function pumpChart(data: PumpChartData): string {
  return figure({
    title: `Pump and discharge: ${isolated(data.pumpName)}`,
    subtitle: data.basis,
    summary: [
      pointInWords('Clean', data.cleanPoint, data.units),
      pointInWords('Fouled', data.fouledPoint, data.units),
      ...(data.inflowLps === null ? [] : [`Inflow ${quantityText(data.inflowLps, 'flow', data.units)}.`]),
    ].join(' '),
    fieldHeight: 300,
    draw: (field) => draw(data, field),
    legend: [
      { label: 'pump', sample: (x, y) => sample(PUMP, x, y) },
      { label: 'clean line', sample: (x, y) => sample(CLEAN, x, y) },
      { label: 'fouled line', sample: (x, y) => sample(FOULED, x, y) },
      { label: 'working point', sample: (x, y) => dot(x, y) },
    ],
    notes: [],
  });
}

function sample(look: Record<string, string | number | null>, x: number, y: number): Markup {
  return tag('line', { x1: x - 13, x2: x + 13, y1: y, y2: y, ...look });
}

function dot(x: number, y: number): Markup {
  return tag('circle', { cx: x, cy: y, r: 5, fill: PAPER, stroke: INK, 'stroke-width': 2.2 });
}

function pointInWords(which: string, point: HeadPoint | null, units: UnitSystem): string {
  if (point === null) return `${which}: the pump does not lift the water out.`;
  return `${which}: ${quantityText(point.flowLps, 'flow', units)} at ${quantityText(point.headM, 'length', units)}.`;
}

function draw(data: PumpChartData, field: Field): Markup[] {
  const { units } = data;
  const flow = (lps: number): number => fromStored(lps, 'flow', units).value;
  const head = (m: number): number => fromStored(m, 'length', units).value;
  const onPump = data.pump.length === 0 ? [...data.clean, ...data.fouled] : data.pump;
  const mostLps = Math.max(
    0.1,
    data.inflowLps ?? 0,
    data.scouringLps ?? 0,
    ...onPump.map(({ flowLps }) => flowLps),
  );
  const mostM = Math.max(0.5, ...onPump.map(({ headM }) => headM)) * 1.08;
  const across = valueScale([0, flow(mostLps) * 1.04], [field.left, field.right], (value) =>
    numberText(value, 1),
  );
  const up = valueScale([0, head(mostM)], [field.bottom, field.top], (value) => numberText(value, 1));
  const place = ({ flowLps, headM }: HeadPoint) => ({ x: across(flow(flowLps)), y: up(head(headM)) });
  const drawn = (points: readonly HeadPoint[], look: Record<string, string | number | null>): Markup =>
    curve(inside(points, mostLps, mostM).map(place), look);
  const unitOf = (dimension: 'flow' | 'length'): string => fromStored(0, dimension, units).unit;
  return [
    leftAxis(field, up.ticks, `head, ${unitOf('length')}`),
    bottomAxis(field, across.ticks, `flow, ${unitOf('flow')}`),
    flowLine('inflow', data.inflowLps, (lps) => across(flow(lps)), field, 12, units),
    flowLine('scours from', data.scouringLps, (lps) => across(flow(lps)), field, 27, units),
    drawn(data.clean, CLEAN),
    drawn(data.fouled, FOULED),
    drawn(data.pump, PUMP),
    // One name under its point, one over it: the two points often stand side by side.
    workingPoint('clean', data.cleanPoint, place, units, 22),
    workingPoint('fouled', data.fouledPoint, place, units, -14),
  ];
}

/** A line's head climbs out of the picture long before its flow does: cut where it leaves. */
function inside(points: readonly HeadPoint[], mostLps: number, mostM: number): HeadPoint[] {
  const kept: HeadPoint[] = [];
  for (const point of points) {
    if (point.headM <= mostM && point.flowLps <= mostLps) {
      kept.push(point);
      continue;
    }
    const last = kept.at(-1);
    if (last !== undefined) kept.push(leaving(last, point, mostLps, mostM));
    break;
  }
  return kept;
}

function leaving(from: HeadPoint, to: HeadPoint, mostLps: number, mostM: number): HeadPoint {
  const byHead = to.headM > from.headM ? (mostM - from.headM) / (to.headM - from.headM) : 1;
  const byFlow = to.flowLps > from.flowLps ? (mostLps - from.flowLps) / (to.flowLps - from.flowLps) : 1;
  const share = Math.min(1, byHead, byFlow);
  return {
    flowLps: from.flowLps + share * (to.flowLps - from.flowLps),
    headM: from.headM + share * (to.headM - from.headM),
  };
}

function flowLine(
  name: string,
  lps: number | null,
  x: (lps: number) => number,
  field: Field,
  down: number,
  units: UnitSystem,
): Markup {
  if (lps === null) return tag('g', {});
  const words = `${name} ${quantityText(lps, 'flow', units)}`;
  const left = x(lps) + 5 + textWidth(words, SMALL_PX) > field.right;
  return tag(
    'g',
    {},
    tag('line', {
      x1: x(lps),
      x2: x(lps),
      y1: field.top,
      y2: field.bottom,
      stroke: LIMIT,
      'stroke-width': 1.2,
      'stroke-dasharray': '4 3',
    }),
    label(words, left ? x(lps) - 5 : x(lps) + 5, field.top + down, {
      size: SMALL_PX,
      fill: LIMIT,
      halo: true,
      ...(left ? { anchor: 'end' as const } : {}),
    }),
  );
}

function workingPoint(
  name: string,
  point: HeadPoint | null,
  place: (point: HeadPoint) => { x: number; y: number },
  units: UnitSystem,
  down: number,
): Markup {
  if (point === null) return tag('g', {});
  const { x, y } = place(point);
  const words = `${name}: ${quantityText(point.flowLps, 'flow', units)}`;
  return tag(
    'g',
    {},
    tag('title', {}, text(pointInWords(name, point, units))),
    dot(x, y),
    label(words, x, y + down, { anchor: 'middle', size: SMALL_PX, halo: true }),
  );
}
