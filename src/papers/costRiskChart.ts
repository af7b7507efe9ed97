import { bottomAxis, leftAxis, type Tick, valueScale } from './axes.js';
import { curve } from './curves.js';
import { type Field, figure, label } from './figure.js';
import { FUTURE, INK, PAPER, PAST, QUIET, SMALL_PX } from './look.js';
import { join, type Markup, px, tag, text } from './markup.js';
import { type Currency, moneyText } from './money.js';
import { countText, numberText, shareText } from './printed.js';

/** What serving the base by each rule would take; the points of the owner's curve. */
export interface CostRiskChartData {
  currency: Currency;
  lineCount: number;
  points: readonly CostRiskPoint[];
}

export interface CostRiskPoint {
  rule: 'yearly_risk' | 'cost_least';
  /** Yearly chance of plugging that the rule allows; null for the cost-least rule. */
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
  const cheapest = [...points].sort((a, b) => a.costPerLineYear - b.costPerLineYear)[0];
  return figure({
    title: 'Cost against risk',
    subtitle: `${countText(lineCount, 'line')} · each served for ever by one rule · cost in ${currency.code} a line and year`,
    summary:
      cheapest === undefined
        ? 'No line to reckon with.'
        : `Cheapest: ${ruleText(cheapest)} at ${moneyText(cheapest.costPerLineYear, currency)} a line and year with ${shareText(cheapest.plugsPerLineYear, 1)} plugs.`,
    fieldHeight: 300,
    marginLeft: 84,
    draw: (field) => draw(data, field),
    legend: [
      { label: 'yearly risk allowed', sample: riskMark },
      { label: 'cost-least rule', sample: leastMark },
    ],
    notes: [
      'Above each point the yearly risk of a plug that its rule allows a line, below it the visits a line and year. Left is safer, lower is cheaper; the scale is stretched toward zero.',
    ],
  });
}

function ruleText({ rule, risk }: CostRiskPoint): string {
  return rule === 'cost_least' || risk === null ? 'least cost' : shareText(risk, 1);
}

function draw({ points, currency }: CostRiskChartData, field: Field): Markup[] {
  if (points.length === 0) {
    return [
      label('no line to reckon with', (field.left + field.right) / 2, (field.top + field.bottom) / 2, {
        anchor: 'middle',
        fill: QUIET,
      }),
    ];
  }
  const costs = points.map((point) => point.costPerLineYear);
  const y = valueScale([0, Math.max(...costs) * 1.08], [field.bottom, field.top], (cost) =>
    numberText(cost / 10 ** currency.minorDigits),
  );
  const most = Math.max(0.001, ...points.map((point) => point.plugsPerLineYear)) * 1.15;
  const x = (plugs: number): number => field.left + Math.sqrt(plugs / most) * (field.right - field.left);
  const ticks = spacedOut(
    SHARES.filter((share) => share <= most).map((share) => ({ at: x(share), label: shareText(share, 1) })),
  );
  const place = (point: CostRiskPoint) => ({ x: x(point.plugsPerLineYear), y: y(point.costPerLineYear) });
  const risks = points.filter(({ rule }) => rule === 'yearly_risk');
  const inOrder = [...risks].sort((a, b) => a.plugsPerLineYear - b.plugsPerLineYear);
  return [
    leftAxis(field, y.ticks, `${currency.code} a line and year`),
    bottomAxis(field, ticks, 'plugs a line and year, % (stretched toward zero)'),
    curve(inOrder.map(place), { stroke: PAST, 'stroke-width': 1.8 }),
    ...named(points, place).map((each) => mark(each, place(each.point), currency)),
  ];
}

/** Ticks at least a label apart, the first kept. */
function spacedOut(ticks: readonly Tick[]): Tick[] {
  const kept: Tick[] = [];
  for (const tick of ticks) {
    const last = kept.at(-1);
    if (last === undefined || tick.at - last.at >= 44) kept.push(tick);
  }
  return kept;
}

const LABEL_WIDE_PX = 36;
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
