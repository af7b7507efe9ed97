import type { DueRule } from '../domain/fouling/dueDateReason.js';
import { bottomAxis, leftAxis, type Tick } from './axes.js';
import { curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, PAPER, PAST, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, NOTHING, px, tag, text } from './markup.js';
import { type Currency, moneyText } from './money.js';
import { countText, numberText, shareText } from './printed.js';
import { DUE_RULE_TEXT } from './wording.js';

/** What serving the base by each rule would take; the points of the owner's curve. */
export interface CostRiskChartData {
  currency: Currency;
  lineCount: number;
  points: readonly CostRiskPoint[];
  /** Lines whose date moves with the risk, and what sets the dates, most first. */
  linesByRisk: number;
  governing: readonly { rule: DueRule; lines: number }[];
  /** Yearly risks as set. */
  risksNow: readonly number[];
}

export interface CostRiskPoint {
  rule: 'yearly_risk' | 'cost_least' | 'all_rules' | 'today';
  /** Yearly chance of plugging that the rule allows; null for the cost-least rule and for today's. */
  risk: number | null;
  medianIntervalDays: number;
  visitsPerLineYear: number;
  plugsPerLineYear: number;
  /** Minor units. */
  costPerLineYear: number;
}

/** Where a tick may stand on the widened scale of plugs a year. */
const SHARES = [0, 0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.75, 1, 1.5, 2];

/** Cost a line and year against the plugs that come with it, one point per rule. */
export function costRiskChart(data: CostRiskChartData): string {
  const { currency, lineCount, points } = data;
  const today = points.find(({ rule }) => rule === 'today');
  const cheapest = points
    .filter(({ rule }) => rule === 'yearly_risk' || rule === 'cost_least')
    .sort((a, b) => a.costPerLineYear - b.costPerLineYear)[0];
  return figure({
    title: 'Cost against risk',
    subtitle: `${countText(lineCount, 'line')} · served for ever · cost in ${currency.code} a line and year`,
    summary:
      cheapest === undefined
        ? 'No line to reckon with.'
        : [
            `Cheapest by one rule alone: ${ruleText(cheapest)} at ${moneyText(cheapest.costPerLineYear, currency)} a line and year with ${shareText(cheapest.plugsPerLineYear, 1)} plugs.`,
            ...(today === undefined
              ? []
              : [
                  `As set today, with all rules: ${moneyText(today.costPerLineYear, currency)} and ${shareText(today.plugsPerLineYear, 1)} plugs.`,
                ]),
          ].join(' '),
    fieldHeight: 300,
    marginLeft: 84,
    draw: (field) => draw(data, field),
    legend: [
      { label: 'yearly risk allowed', sample: riskMark },
      { label: 'cost-least rule', sample: leastMark },
      { label: 'that risk with all rules in force', sample: ruledMark },
      { label: 'all rules, as set today', sample: todayMark },
    ],
    notes: [
      ...governingNotes(data),
      'Full line: the risk as if it alone held, every line a visit of its own. Dashed: hardening, terms, first intervals and growth hold too, and the lines of a system share their visit.',
      'Above each point the yearly risk of a plug that its rule allows a line, below it the visits a line and year. Left is safer, lower is cheaper; both scales are stretched where they are low. A ring: a risk as set today.',
    ],
  });
}

function governingNotes({ governing, linesByRisk, risksNow }: CostRiskChartData): string[] {
  const dated = governing.reduce((sum, { lines }) => sum + lines, 0);
  if (dated === 0) return [];
  const told = governing.slice(0, 5).map(({ rule, lines }) => `${DUE_RULE_TEXT[rule]} ${numberText(lines)}`);
  const set = [...new Set(risksNow)].sort((a, b) => a - b).map((risk) => shareText(risk, 1));
  return [
    `The dates of ${numberText(linesByRisk)} of ${countText(dated, 'line')} move with the risk; set by: ${told.join(', ')}. Risks as set: ${set.join(', ')}.`,
  ];
}

function ruleText({ rule, risk }: CostRiskPoint): string {
  return rule === 'cost_least' || risk === null ? 'least cost' : shareText(risk, 1);
}

function draw({ points, currency, risksNow }: CostRiskChartData, field: Field): Markup[] {
  if (points.length === 0) {
    return [
      label('no line to reckon with', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
        anchor: 'middle',
        fill: QUIET,
      }),
    ];
  }
  const units = 10 ** currency.minorDigits;
  const costs = points.map((point) => Math.max(1, point.costPerLineYear));
  const [low, high] = [Math.min(...costs) * 0.7, Math.max(...costs) * 1.12];
  const y = (cost: number): number =>
    field.bottom - (Math.log(Math.max(1, cost) / low) / Math.log(high / low)) * (field.bottom - field.top);
  const most = Math.max(0.001, ...points.map((point) => point.plugsPerLineYear)) * 1.15;
  const stretched = (plugs: number): number => Math.log1p(plugs / STRETCH) / Math.log1p(most / STRETCH);
  const x = (plugs: number): number => field.left + 26 + stretched(plugs) * (field.right - field.left - 26);
  const ticks = spacedOut(
    SHARES.filter((share) => share <= most).map((share) => ({ at: x(share), label: shareText(share, 1) })),
  );
  const place = (point: CostRiskPoint) => ({ x: x(point.plugsPerLineYear), y: y(point.costPerLineYear) });
  const inOrder = (rule: CostRiskPoint['rule']) =>
    points.filter((point) => point.rule === rule).sort((a, b) => a.plugsPerLineYear - b.plugsPerLineYear);
  const ruled = inOrder('all_rules');
  const alone = points.filter(({ rule }) => rule === 'yearly_risk' || rule === 'cost_least');
  return [
    leftAxis(
      field,
      moneyTicks(low / units, high / units, (cost) => y(cost * units)),
      `${currency.code} a line and year`,
    ),
    bottomAxis(field, ticks, 'plugs a line and year, % (stretched toward zero)'),
    curve(inOrder('yearly_risk').map(place), { stroke: PAST, 'stroke-width': 1.8 }),
    curve(ruled.map(place), { stroke: FUTURE, 'stroke-width': 1.8, 'stroke-dasharray': '6 4' }),
    ...alone
      .filter(({ risk }) => risk !== null && risksNow.includes(risk))
      .map((point) => ringMark(place(point).x, place(point).y)),
    ...named(alone, place).map((each) => mark(each, place(each.point), currency)),
    ...ruled.map((point) => spokenMark(point, place(point), currency, ruledMark)),
    ...points
      .filter(({ rule }) => rule === 'today')
      .map((point) => spokenMark(point, place(point), currency, todayMark)),
  ];
}

/** Plugs a line and year from which the scale runs about as a logarithm. */
const STRETCH = 0.002;
const TICK_PX = 26;

/** Round amounts along a stretched scale, far enough apart to be read. */
function moneyTicks(low: number, high: number, at: (cost: number) => number): Tick[] {
  const ticks: Tick[] = [];
  for (let ten = 10 ** Math.floor(Math.log10(low)); ten < high; ten *= 10)
    for (const step of [1, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 9]) {
      const cost = step * ten;
      const last = ticks.at(-1);
      if (cost < low || cost > high || (last !== undefined && last.at - at(cost) < TICK_PX)) continue;
      ticks.push({ at: at(cost), label: numberText(cost, cost < 10 ? 1 : 0) });
    }
  return ticks;
}

function spokenMark(
  point: CostRiskPoint,
  at: { x: number; y: number },
  currency: Currency,
  drawn: (x: number, y: number) => Markup,
): Markup {
  const words = point.risk === null ? 'as set today' : shareText(point.risk, 1);
  const spoken = `all rules, ${words}: ${moneyText(point.costPerLineYear, currency)} and ${shareText(point.plugsPerLineYear, 1)} plugs a line and year, ${numberText(point.visitsPerLineYear, 1)} visits`;
  return tag('g', {}, tag('title', {}, text(spoken)), drawn(at.x, at.y));
}

const ruledMark = (x: number, y: number): Markup =>
  tag('rect', {
    x: x - 3.5,
    y: y - 3.5,
    width: 7,
    height: 7,
    fill: PAPER,
    stroke: FUTURE,
    'stroke-width': 1.6,
  });

const todayMark = (x: number, y: number): Markup =>
  tag('path', { d: `M${px(x)} ${px(y - 8)}l7 13h-14Z`, fill: INK, stroke: PAPER, 'stroke-width': 1 });

const ringMark = (x: number, y: number): Markup =>
  tag('circle', { cx: x, cy: y, r: 8.5, fill: 'none', stroke: INK, 'stroke-width': 1.2 });

/** Ticks at least a label apart, the first kept. */
function spacedOut(ticks: readonly Tick[]): Tick[] {
  const kept: Tick[] = [];
  for (const tick of ticks) {
    const last = kept.at(-1);
    if (last === undefined || tick.at - last.at >= 44) kept.push(tick);
  }
  return kept;
}

const LABEL_WIDE_PX = 34;
const LEVEL_PX = 13;
const SAME_PX = 3;

/** Where a point's words stand, and what they say of the rules that come to it. */
interface Named {
  point: CostRiskPoint;
  level: number;
  words: string;
}

/**
 * Words of a point that is near the one before stand a line further off; risks that come to the same are one point,
 * as "5 % to 40 %".
 */
function named(points: readonly CostRiskPoint[], place: (point: CostRiskPoint) => { x: number }): Named[] {
  const all: Named[] = [];
  const taken: number[] = [];
  for (const point of [...points].sort((a, b) => place(a).x - place(b).x)) {
    const { x } = place(point);
    const same = all.find((each) => each.point.rule === point.rule && x - place(each.point).x < SAME_PX);
    if (same !== undefined) {
      same.words = `${ruleText(same.point)} to ${ruleText(point)}`;
      continue;
    }
    const free = taken.findIndex((end) => x - end >= LABEL_WIDE_PX);
    const level = free < 0 ? taken.length : free;
    taken[level] = x;
    all.push({ point, level, words: ruleText(point) });
  }
  // The widest words stand under all others.
  for (const each of all)
    if (each.point.rule === 'cost_least') each.level = taken.length < 2 ? 0 : taken.length;
  return all;
}

function mark({ point, level, words }: Named, at: { x: number; y: number }, currency: Currency): Markup {
  const spoken =
    `${words}: ${moneyText(point.costPerLineYear, currency)} and ${shareText(point.plugsPerLineYear, 1)} plugs a line and year, ` +
    `${numberText(point.visitsPerLineYear, 1)} visits, median ${numberText(point.medianIntervalDays)} days`;
  const least = point.rule === 'cost_least';
  const visits = numberText(point.visitsPerLineYear, 1);
  const plain = { size: SMALL_PX, anchor: 'middle', halo: true } as const;
  const off = level * LEVEL_PX;
  return tag(
    'g',
    {},
    tag('title', {}, text(spoken)),
    // From words that stand further off to their point.
    level === 0 && !least
      ? NOTHING
      : tag('line', {
          x1: at.x,
          x2: at.x,
          y1: least ? at.y : at.y - off - 8,
          y2: at.y + off + (least ? 12 : 8),
          stroke: QUIET,
          'stroke-width': 0.7,
        }),
    least ? leastMark(at.x, at.y) : riskMark(at.x, at.y),
    ...(least
      ? [label(`least cost, ${visits}`, at.x, at.y + 23 + off, { ...plain, weight: 'bold' })]
      : [
          label(words, at.x, at.y - 10 - off, plain),
          label(visits, at.x, at.y + 18 + off, { ...plain, fill: QUIET }),
        ]),
  );
}

function riskMark(x: number, y: number): Markup {
  return tag('circle', { cx: x, cy: y, r: 4.5, fill: PAST, stroke: PAPER, 'stroke-width': 1 });
}

function leastMark(x: number, y: number): Markup {
  return join([
    tag('path', {
      d: `M${px(x)} ${px(y - 8)}l7.5 8l-7.5 8l-7.5 -8Z`,
      fill: PAPER,
      stroke: FUTURE,
      'stroke-width': 2.4,
    }),
    tag('circle', { cx: x, cy: y, r: 1.6, fill: INK }),
  ]);
}
