import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { LineKind } from '../domain/words.js';
import { bottomAxis, dayScale, dayTicks, leftAxis } from './axes.js';
import { type Field, figure, type LegendItem, label } from './figure.js';
import { INK, LIMIT, PAPER, PAST, SMALL_PX } from './look.js';
import { type Markup, NOTHING, tag, text } from './markup.js';
import { dayText, isolated, shareText } from './printed.js';
import { cleanTick } from './trendCleans.js';
import { LINE_KIND_TEXT } from './wording.js';

/** What was found in one line up to a visit, for who lives there; shares of the bore's area, 0 to 1. */
export interface LineStoryData {
  name: string;
  kind: LineKind;
  /** Day of the visit: nothing later is drawn. */
  until: IsoDate;
  /** In order of time. */
  findings: readonly Finding[];
  /** Days of cleans. */
  cleans: readonly IsoDate[];
  /** Fuller than that it takes more than an ordinary clean. */
  tooFull: number;
}

export interface Finding {
  on: IsoDate;
  isAfterClean: boolean;
  /** Of a plugged line: 1. */
  share: number;
  plugged: boolean;
}

const FIELD_PX = 88;
const HEADROOM_PX = 16;
const DOT_PX = 4.5;

/** How full a line was found and left, visit by visit: what was seen, and nothing reckoned. */
export function lineStory(data: LineStoryData): string {
  const { name, kind, until, findings, cleans, tooFull } = data;
  const days = [...findings.map(({ on }) => on), ...cleans, until].sort();
  const first = days[0] ?? until;
  const ours = name.toLowerCase() === LINE_KIND_TEXT[kind] ? '' : ` ${isolated(name)}`;
  return figure({
    title: `How full your ${LINE_KIND_TEXT[kind]}${ours} was`,
    subtitle: `up to the visit of ${dayText(until)} · 0 % is a free pipe, at 100 % no water gets through`,
    summary: summary(data),
    fieldHeight: FIELD_PX,
    marginLeft: 52,
    marginRight: 96,
    axisHeight: 26,
    draw: (field) => {
      const x = dayScale(first, until, field);
      const y = (share: number): number => field.bottom - share * (field.bottom - field.top - HEADROOM_PX);
      return [
        leftAxis(
          field,
          [0, 0.5, 1].map((share) => ({ at: y(share), label: shareText(share) })),
          '',
        ),
        limit(tooFull, field, y),
        ...cleans.map((on) => cleanTick(x(on), field.bottom, true)),
        ...filling(data).map(([from, to]) =>
          tag('line', {
            x1: x(from.on),
            y1: y(from.share),
            x2: x(to.on),
            y2: y(to.share),
            stroke: PAST,
            'stroke-width': 1.6,
          }),
        ),
        ...findings.map((finding) => dot(finding, x(finding.on), y(finding.share), field)),
        bottomAxis(field, dayTicks(first, until, field), ''),
      ];
    },
    legend: legend(data),
    notes: [],
  });
}

/** Two findings with no clean between them tell how it filled. */
function filling({ findings, cleans }: LineStoryData): [Finding, Finding][] {
  return findings.flatMap((to, i): [Finding, Finding][] => {
    const from = findings[i - 1];
    if (from === undefined || to.isAfterClean || from.on >= to.on) return [];
    const cleaned = cleans.some((on) => on < to.on && (from.isAfterClean ? on > from.on : on >= from.on));
    return cleaned ? [] : [[from, to]];
  });
}

/** Nearer to an edge than that, a name runs inward: the scale stands beyond. */
const EDGE_PX = 24;

function dot({ isAfterClean, share, plugged, on }: Finding, x: number, y: number, field: Field): Markup {
  const anchor = x > field.right - EDGE_PX ? ('end' as const) : ('middle' as const);
  const named = x < field.left + EDGE_PX ? {} : { anchor };
  return tag(
    'g',
    {},
    tag('title', {}, text(`${dayText(on)}: ${plugged ? 'plugged' : shareText(share)}`)),
    mark(x, y, isAfterClean),
    plugged ? label('plugged', x, y - 8, { ...named, size: SMALL_PX, halo: true }) : NOTHING,
  );
}

const mark = (x: number, y: number, isAfterClean: boolean): Markup =>
  tag('circle', {
    cx: x,
    cy: y,
    r: DOT_PX,
    fill: isAfterClean ? PAPER : INK,
    stroke: INK,
    'stroke-width': 1.4,
  });

function limit(share: number, field: Field, y: (share: number) => number): Markup {
  const at = y(share);
  return tag(
    'g',
    {},
    tag('line', {
      x1: field.left,
      x2: field.right,
      y1: at,
      y2: at,
      stroke: LIMIT,
      'stroke-width': 1.4,
      'stroke-dasharray': '9 4',
    }),
    label('too full', field.right + 6, at + 4, { fill: LIMIT, size: SMALL_PX }),
  );
}

function legend({ findings, cleans }: LineStoryData): LegendItem[] {
  const shown = (words: string, sample: LegendItem['sample'], when: boolean): LegendItem[] =>
    when ? [{ label: words, sample }] : [];
  return [
    ...shown(
      'as we found it',
      (x, y) => mark(x, y, false),
      findings.some(({ isAfterClean }) => !isAfterClean),
    ),
    ...shown(
      'as we left it',
      (x, y) => mark(x, y, true),
      findings.some(({ isAfterClean }) => isAfterClean),
    ),
    ...shown('cleaned', (x, y) => cleanTick(x, y + 7, true), cleans.length > 0),
  ];
}

function summary({ findings, until }: LineStoryData): string {
  const told = findings.slice(-4).map(({ on, isAfterClean, share, plugged }) => {
    const what = plugged ? 'plugged' : `${shareText(share)} blocked`;
    return `${dayText(on)}, ${isAfterClean ? 'left' : 'found'}: ${what}`;
  });
  return `Up to ${dayText(until)}. ${told.join('; ')}.`;
}
