import { FONT, INK, PAPER, QUIET, SMALL_PX, TEXT_PX, TITLE_PX } from './look.js';
import { join, type Markup, px, tag, text } from './markup.js';
import { fitText, textWidth, wrapText } from './textWidth.js';

/** The field inside the axes, in the picture's own pixels. */
export interface Field {
  left: number;
  right: number;
  top: number;
  bottom: number;
}

export interface LegendItem {
  /** Draws the sample centred on (x, y), no wider than 30 px. */
  sample: (x: number, y: number) => Markup;
  label: string;
}

export interface Figure {
  title: string;
  /** What, of whom, how many readings: one line under the title. */
  subtitle: string;
  /** The figure in words, for who cannot see it. */
  summary: string;
  fieldHeight: number;
  draw: (field: Field) => readonly Markup[];
  legend: readonly LegendItem[];
  /** One under the other in columns of one width, instead of running on like words. */
  legendColumns?: 'columns';
  /** Sources, cautions, how to read it. */
  notes: readonly string[];
  width?: number;
  marginLeft?: number;
  marginRight?: number;
  /** Room under the field for the axis and its title. */
  axisHeight?: number;
}

const FIGURE_WIDTH = 760;
const EDGE = 14;
const NOTE_STEP = 15;
const LEGEND_STEP = 19;
const SAMPLE_WIDTH = 36;

/** A whole picture: title, drawing, legend and notes, on white, read aloud as title and summary. */
export function figure(asked: Figure): string {
  const { markup, width, height } = laidOut(asked);
  return svg({ width, height, title: asked.title, summary: asked.summary }, markup);
}

/** Several figures of one width, one under the other, in one picture. */
export function stackedFigures(title: string, figures: readonly Figure[]): string {
  const parts = figures.map(laidOut);
  let top = 0;
  const placed = parts.map(({ markup, height }) => {
    const part = tag('g', { transform: `translate(0 ${px(top)})` }, markup);
    top += height;
    return part;
  });
  const width = Math.max(...parts.map((part) => part.width));
  return svg(
    { width, height: top, title, summary: figures.map(({ summary }) => summary).join(' ') },
    ...placed,
  );
}

function laidOut(asked: Figure): { markup: Markup; width: number; height: number } {
  const width = asked.width ?? FIGURE_WIDTH;
  const inner = width - 2 * EDGE;
  const titles = firstLines(wrapText(asked.title, inner, TITLE_PX * 1.08), 4);
  const subtitles = firstLines(wrapText(asked.subtitle, inner, TEXT_PX), 3);
  const headHeight = 10 + titles.length * 20 + subtitles.length * 16 + 14;
  const field: Field = {
    left: asked.marginLeft ?? 62,
    right: width - (asked.marginRight ?? 22),
    top: headHeight,
    bottom: headHeight + asked.fieldHeight,
  };
  const legendTop = field.bottom + (asked.axisHeight ?? 48);
  const legend = legendRows(asked.legend, inner, legendTop, asked.legendColumns);
  const notes = asked.notes.flatMap((note) => wrapText(note, inner, SMALL_PX));
  const notesTop = legend.bottom + (notes.length > 0 ? 4 : 0);
  const markup = join([
    ...titles.map((line, i) => label(line, EDGE, 26 + i * 20, { size: TITLE_PX, weight: 'bold' })),
    ...subtitles.map((line, i) => label(line, EDGE, 10 + titles.length * 20 + 14 + i * 16, { fill: QUIET })),
    ...asked.draw(field),
    legend.markup,
    ...notes.map((line, i) =>
      label(line, EDGE, notesTop + 12 + i * NOTE_STEP, { size: SMALL_PX, fill: QUIET }),
    ),
  ]);
  return { markup, width, height: notesTop + notes.length * NOTE_STEP + 10 };
}

const firstLines = (lines: readonly string[], most: number): string[] =>
  lines.slice(0, most).map((line, i) => (i === most - 1 && lines.length > most ? `${line}…` : line));

interface Sheet {
  width: number;
  height: number;
  title: string;
  summary: string;
}

/** The outermost element; names no ids, so any number of pictures can stand in one page. */
function svg({ width, height, title, summary }: Sheet, ...children: readonly Markup[]): string {
  return tag(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      viewBox: `0 0 ${px(width)} ${px(height)}`,
      width,
      height,
      role: 'img',
      'aria-label': title,
      'font-family': FONT,
      'font-size': TEXT_PX,
      fill: INK,
    },
    tag('title', {}, text(title)),
    tag('desc', {}, text(summary)),
    tag('rect', { width, height, fill: PAPER }),
    ...children,
  );
}

interface LabelStyle {
  size?: number;
  fill?: string;
  weight?: 'bold';
  anchor?: 'middle' | 'end';
  /** Cut with "…" beyond this width. */
  maxWidth?: number;
  /** White behind the letters, where lines may run through them. */
  halo?: true;
  turned?: true;
}

export function label(words: string, x: number, y: number, style: LabelStyle = {}): Markup {
  const size = style.size ?? TEXT_PX;
  const fitted = style.maxWidth === undefined ? words : fitText(words, style.maxWidth, size);
  return tag(
    'text',
    {
      x,
      y,
      'font-size': size === TEXT_PX ? null : size,
      fill: style.fill ?? null,
      'font-weight': style.weight ?? null,
      'text-anchor': style.anchor ?? null,
      stroke: style.halo ? PAPER : null,
      'stroke-width': style.halo ? 3 : null,
      'paint-order': style.halo ? 'stroke' : null,
      'stroke-linejoin': style.halo ? 'round' : null,
      transform: style.turned ? `rotate(-90 ${px(x)} ${px(y)})` : null,
    },
    text(fitted),
  );
}

function legendRows(
  items: readonly LegendItem[],
  width: number,
  top: number,
  columns?: 'columns',
): { markup: Markup; bottom: number } {
  const widths = items.map(({ label: words }) =>
    Math.min(width, SAMPLE_WIDTH + textWidth(words, TEXT_PX) + 18),
  );
  const widest = Math.max(0, ...widths);
  const step = width / Math.max(1, Math.floor(width / Math.max(1, widest)));
  let x = 0;
  let row = 0;
  const drawn = items.map(({ sample, label: words }, i) => {
    const wide = columns === undefined ? (widths[i] ?? 0) : step;
    if (x > 0 && x + wide > width + 0.5) {
      x = 0;
      row += 1;
    }
    const y = top + 8 + row * LEGEND_STEP;
    const item = join([
      sample(EDGE + x + 15, y),
      label(words, EDGE + x + SAMPLE_WIDTH, y + 4, { maxWidth: width - SAMPLE_WIDTH }),
    ]);
    x += wide;
    return item;
  });
  return { markup: join(drawn), bottom: items.length === 0 ? top : top + (row + 1) * LEGEND_STEP };
}
