import { type Field, figure, label } from './figure.js';
import { INK, LIMIT, PAPER, PAST, PAST_BAND, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, tag } from './markup.js';
import { isolated, quantityText } from './printed.js';
import type { SketchedLine, SketchedPoint, SystemSketch } from './systemSketchData.js';
import { LINE_KIND_TEXT, MATERIAL_TEXT } from './wording.js';

const ROW_PX = 78;
const PIT_PX = 64;
const MARK_PX = 9;

/** An access point with the number it has in drawing and list. */
interface Numbered {
  number: number;
  point: SketchedPoint;
  of: string;
}

/**
 * A system to find one's way on site: lines that feed the pit from the left, its discharge to the right, gravity
 * lines through to their outlets; access points numbered in the drawing and told in words under it. Not to scale:
 * each line is drawn as long as the others, its access points where they stand along it.
 */
export function systemSketch(data: SystemSketch): string {
  const points = numberedPoints(data);
  const inflow = data.lines.filter((line) => !line.isDischarge);
  const discharge = data.lines.filter((line) => line.isDischarge);
  const rows = Math.max(1, inflow.length, discharge.length);
  return figure({
    title: `${isolated(data.name)}, ${isolated(data.address)}`,
    subtitle: pitText(data),
    summary: [
      pitText(data),
      ...data.lines.map((line) => lineText(line, data)),
      ...points.map((each) => `${each.number}: ${pointText(data)(each)}.`),
    ].join(' '),
    fieldHeight: rows * ROW_PX + 10,
    axisHeight: 14,
    marginLeft: 16,
    marginRight: 16,
    draw: (field) => drawn(data, { inflow, discharge, points }, field),
    legend: points.map((each) => ({
      sample: (x, y) => mark(each.number, x, y, each.point.unconfirmed),
      label: pointText(data)(each),
    })),
    legendColumns: 'columns',
    notes: [
      'Not to scale. Water runs from left to right. Below a line: nobody knows how far along. Dashed: found on site, not confirmed.',
      ...(data.lines.length === 0 ? ['No line of this system is in the books yet.'] : []),
    ],
  });
}

function numberedPoints({ lines, pit }: SystemSketch): Numbered[] {
  const all = [
    ...lines.flatMap((line) => line.points.map((point) => ({ point, of: line.name }))),
    ...(pit?.points ?? []).map((point) => ({ point, of: 'pit' })),
  ];
  return all.map((each, i) => ({ ...each, number: i + 1 }));
}

function pitText({ pit, units }: SystemSketch): string {
  if (pit === null) return 'No pit: by gravity to an outlet of its own.';
  const size = [
    pit.depthMm === null ? null : `${quantityText(pit.depthMm, 'bore', units)} deep`,
    pit.diameterMm === null ? null : `${quantityText(pit.diameterMm, 'bore', units)} wide`,
  ].filter((words) => words !== null);
  const place = pit.place === null ? 'place unknown' : isolated(pit.place);
  return `Pit: ${[place, ...size].join(', ')}.`;
}

const lineText = (line: SketchedLine, data: SystemSketch): string =>
  `${isolated(line.name)}: ${factsText(line, data)}.`;

function factsText(line: SketchedLine, { units }: SystemSketch): string {
  return [
    LINE_KIND_TEXT[line.kind],
    ...(line.boreMm === null ? [] : [quantityText(line.boreMm, 'bore', units)]),
    MATERIAL_TEXT[line.material],
    line.lengthM === null ? 'length unknown' : quantityText(line.lengthM, 'length', units),
  ].join(', ');
}

const pointText =
  ({ units }: SystemSketch) =>
  ({ point, of }: Numbered): string => {
    const at =
      point.atM === null
        ? 'place along the line unknown'
        : `${quantityText(point.atM, 'length', units)} from upstream`;
    const where = of === 'pit' ? '' : ` of ${isolated(of)}, ${at}`;
    return `${point.kind.replaceAll('_', ' ')}${where}: ${isolated(point.place)}`;
  };

interface Parts {
  inflow: readonly SketchedLine[];
  discharge: readonly SketchedLine[];
  points: readonly Numbered[];
}

function drawn(data: SystemSketch, { inflow, discharge, points }: Parts, field: Field): Markup[] {
  const middle = (field.left + field.right) / 2;
  const pitLeft = data.pit === null ? field.right : middle - PIT_PX / 2;
  const yOf = (i: number) => field.top + 46 + i * ROW_PX;
  const rowsOf = (lines: readonly SketchedLine[], from: number, to: (line: SketchedLine) => number) =>
    lines.map((line, i) => lineRow(line, data, points, { from, to: to(line), y: yOf(i) }));
  const endOf = (line: SketchedLine): number => {
    if (line.drainsTo?.to === 'pit') return pitLeft;
    return data.pit === null ? field.right - 130 : pitLeft - 118;
  };
  return [
    ...rowsOf(inflow, field.left, endOf),
    ...rowsOf(discharge, middle + PIT_PX / 2, () => field.right - 118),
    data.pit === null
      ? NOTHING
      : pitBox(points, { x: pitLeft, top: field.top + 6, bottom: field.bottom - 4 }),
  ];
}

function pitBox(
  points: readonly Numbered[],
  { x, top, bottom }: { x: number; top: number; bottom: number },
): Markup {
  const own = points.filter(({ of }) => of === 'pit');
  return join([
    tag('rect', {
      x,
      y: top,
      width: PIT_PX,
      height: bottom - top,
      fill: PAST_BAND,
      stroke: INK,
      'stroke-width': 2,
    }),
    label('pit', x + PIT_PX / 2, top + 18, { anchor: 'middle', weight: 'bold' }),
    ...own.map(({ number, point }, i) =>
      mark(number, x + 14 + (i % 3) * 18, top + 34 + Math.floor(i / 3) * 20, point.unconfirmed),
    ),
  ]);
}

function lineRow(
  line: SketchedLine,
  data: SystemSketch,
  points: readonly Numbered[],
  { from, to, y }: { from: number; to: number; y: number },
): Markup {
  const own = points.filter(({ of, point }) => of === line.name && line.points.includes(point));
  const along = (atM: number) => from + 12 + ((to - from - 24) * atM) / (line.lengthM ?? 1);
  const width = Math.max(310, to - from - 8);
  // Points nobody has a distance of stand below the line.
  let unknown = 0;
  return join([
    label(isolated(line.name), from + 2, y - 28, { size: SMALL_PX, weight: 'bold', maxWidth: width }),
    label(factsText(line, data), from + 2, y - 14, { size: SMALL_PX, maxWidth: width }),
    tag('line', {
      x1: from,
      y1: y,
      x2: to,
      y2: y,
      stroke: PAST,
      'stroke-width': 5,
      'stroke-dasharray': line.unconfirmed ? '9 6' : null,
    }),
    endMark(line, to, y),
    ...own.map(({ number, point }) =>
      point.atM !== null && line.lengthM !== null && line.lengthM > 0
        ? mark(number, along(Math.min(point.atM, line.lengthM)), y, point.unconfirmed)
        : mark(number, from + 12 + 22 * unknown++, y + 20, point.unconfirmed),
    ),
  ]);
}

/** An arrow where the water goes, and where that is. */
function endMark({ drainsTo }: SketchedLine, x: number, y: number): Markup {
  if (drainsTo?.to === 'pit') return NOTHING;
  const words =
    drainsTo === null
      ? 'end unknown'
      : drainsTo.to === 'line'
        ? `joins ${isolated(drainsTo.name)}`
        : isolated(drainsTo.words);
  return join([
    tag('path', { d: `M${x} ${y - 7}l11 7l-11 7z`, fill: PAST }),
    label(words, x + 16, y + 4, { size: SMALL_PX, fill: drainsTo === null ? LIMIT : QUIET, maxWidth: 100 }),
  ]);
}

function mark(number: number, x: number, y: number, unconfirmed: boolean): Markup {
  return join([
    tag('circle', {
      cx: x,
      cy: y,
      r: MARK_PX,
      fill: PAPER,
      stroke: INK,
      'stroke-width': 1.6,
      'stroke-dasharray': unconfirmed ? '3 2.4' : null,
    }),
    label(String(number), x, y + 4, { anchor: 'middle', size: SMALL_PX }),
  ]);
}
