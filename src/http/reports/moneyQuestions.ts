import { z } from 'zod';
import { proposalIdeasReport } from '../../actions/proposals/ideas.js';
import { ASSUMED_FACTS, careIntervals } from '../../actions/reports/careIntervals.js';
import { doneWork, earnings, returnWork } from '../../actions/reports/money.js';
import { proposalCounts } from '../../actions/reports/proposalCounts.js';
import { monthsOf } from '../../domain/calendar/isoDate.js';
import { DUE_RULES, type DueRule } from '../../domain/fouling/dueDateReason.js';
import { LINE_KINDS, PROPOSAL_KINDS, PROPOSAL_STATES, type Role, TASK_KINDS } from '../../domain/words.js';
import { CARE_VERDICTS } from '../../domain/work/careTermsVerdict.js';
import { columnsChart } from '../../papers/columnsChart.js';
import { currencyOf, moneyText } from '../../papers/money.js';
import { countText, dayText, monthText, numberText } from '../../papers/printed.js';
import { returnWorkChart } from '../../papers/returnWorkChart.js';
import { rowsChart } from '../../papers/rowsChart.js';
import { CARE_VERDICT_TEXT, DUE_RULE_TEXT, PROPOSAL_TEXT, TASK_TEXT } from '../../papers/wording.js';
import { day, reason, share } from '../shapes.js';
import { PERIOD, periodOf } from './period.js';
import { type Question, question } from './question.js';

const OWNER: readonly Role[] = ['owner'];
const minor = z.number().int().describe('minor units of money').meta({ example: 61_000 });
const currency = z.string().meta({ example: 'USD' });
const from = { fromDay: day, toDay: day };

const careIntervalsQuestion = question({
  path: 'care-intervals',
  component: 'CareIntervals',
  summary: 'Care terms that are too long for their lines, or needlessly short',
  about:
    'Too long: the line itself asks to be seen sooner. Too long as assumed: only as long as a fact nobody wrote down (whether the line stays wet, the kind of basement) is as it is assumed; one look settles it. Needlessly short: said only after three agreeing readings by camera or draw-down and one wet season, where the night would come later without the terms by more than a date moves without news. Changes: money of the terms to be changed, each once, a visit price over a year of visits, now and as proposed.',
  roles: OWNER,
  own: {},
  facts: {
    currency,
    counts: z.object(
      Object.fromEntries(CARE_VERDICTS.map((each) => [each, z.number().int()])) as Record<
        (typeof CARE_VERDICTS)[number],
        z.ZodNumber
      >,
    ),
    changes: z.array(
      z.object({
        verdict: z.enum(CARE_VERDICTS),
        terms: z.number().int(),
        withoutPrice: z.number().int().describe('no price agreed: not in the sums'),
        yearNowMinor: minor,
        yearProposedMinor: minor,
      }),
    ),
  },
  item: z.object({
    lineId: z.uuid(),
    name: z.string(),
    kind: z.enum(LINE_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    careTermsId: z.uuid(),
    termsDays: z.number().int().describe('interval the terms come to'),
    priceMinor: minor.nullable().describe('of a visit'),
    verdict: z.enum(CARE_VERDICTS).describe('not_told: the line has no date'),
    intervalDays: z.number().int().nullable().describe('what the service goes by now'),
    dueRule: z.enum(DUE_RULES).nullable(),
    dueOn: day.nullable(),
    proposedDays: z.number().int().nullable().describe('what the terms should say; null where they fit'),
    proposedRule: z.enum(DUE_RULES).nullable(),
    assumedFact: z
      .enum(ASSUMED_FACTS)
      .nullable()
      .describe('nobody wrote it down, and the rule that asks sooner goes by an assumption of it'),
    otherwiseDays: z
      .number()
      .int()
      .nullable()
      .describe('what the night would set if the line stays wet, or nothing floods in the house'),
    yearNowMinor: minor
      .nullable()
      .describe('price times visits a year, of the whole terms: lines of the same terms do not add up'),
    yearProposedMinor: minor.nullable(),
    plugChanceYear: share.nullable().describe('if nobody comes'),
  }),
  ask: async (house, asked) => ({ currency: house.currency, ...(await careIntervals(house, asked)) }),
  draw: (house, { asOf, lines, counts, changes, items }) => {
    const money = currencyOf(house.currency);
    return rowsChart({
      title: 'Care terms against what the lines need',
      subtitle: `${countText(lines, 'line')} under care terms · as of ${dayText(asOf)}`,
      axis: 'lines',
      parts: ['lines'],
      set: 'stacked',
      rows: CARE_VERDICTS.flatMap((verdict) => [
        { name: CARE_VERDICT_TEXT[verdict], values: [counts[verdict]], beyond: numberText(counts[verdict]) },
        ...(verdict.startsWith('too_long') ? rulesOf(items.filter((item) => item.verdict === verdict)) : []),
      ]),
      summary: `${countText(counts.too_long, 'line')} need a visit sooner than their terms say, ${numberText(counts.too_long_assumed)} more if a fact nobody knows is as assumed; ${numberText(counts.needlessly_short)} are seen needlessly often.`,
      notes: [
        ...(counts.too_long_assumed > 0
          ? [
              'Nobody wrote down whether these lines stay wet, or what basement the house has: ask or look before a client is told.',
            ]
          : []),
        'Needlessly short is said only after three agreeing readings by camera or draw-down and one wet season.',
        ...changes
          .filter(({ terms, withoutPrice }) => terms > withoutPrice)
          .map(
            ({ verdict, terms, withoutPrice, yearNowMinor, yearProposedMinor }) =>
              `${CARE_VERDICT_TEXT[verdict]}: ${countText(terms - withoutPrice, 'care terms', 'care terms')} with a price, ${moneyText(yearNowMinor, money)} a year now, ${moneyText(yearProposedMinor, money)} as proposed.`,
          ),
      ],
    });
  },
});

/** The rules that ask sooner, most lines first. */
function rulesOf(items: readonly { dueRule: DueRule | null }[]) {
  const counts = new Map<DueRule, number>();
  for (const { dueRule } of items) if (dueRule !== null) counts.set(dueRule, (counts.get(dueRule) ?? 0) + 1);
  return [...counts]
    .sort(([a, m], [b, n]) => n - m || DUE_RULES.indexOf(a) - DUE_RULES.indexOf(b))
    .map(([rule, count]) => ({
      name: `of these: ${DUE_RULE_TEXT[rule]}`,
      values: [count],
      beyond: numberText(count),
    }));
}

const earningsQuestion = question({
  path: 'earnings',
  component: 'Earnings',
  summary: 'What lines, sites or clients cost and bring',
  about:
    'Orders done, on lines, pits or neither, and days of cleans that no order tells of. Cost: hours on site and on the way at the price of the crew, else at crewHourMinor of the settings; only where nobody wrote hours down, an ordinary visit (visitMinor). Earned: the agreed price, else that of the care terms of the lines worked on, and what was agreed on site; warranty, goodwill and what was not billed bring nothing. The margin is of visits with a price alone; what those without one cost stands beside it. The money of a visit is shared evenly by its lines. Those that lose most first, those without any price last. Done work counts orders alone: it is less by the cleans under care terms that no order tells of.',
  roles: OWNER,
  own: { ...PERIOD, by: z.enum(['client', 'site', 'line']).default('client') },
  facts: {
    ...from,
    by: z.enum(['client', 'site', 'line']),
    currency,
    costMinor: minor,
    unpricedCostMinor: minor.describe('of the cost: that of visits without a price'),
    earnedMinor: minor,
    marginMinor: minor.describe('earned, less the cost of the visits that have a price'),
  },
  item: z.object({
    id: z.uuid().nullable().describe('null: none on record'),
    name: z.string(),
    address: z.string().nullable(),
    lines: z.number().int(),
    visits: z.number().int(),
    unbilledVisits: z.number().int().describe('warranty, goodwill, or not billed by the crew'),
    unpricedVisits: z
      .number()
      .int()
      .describe('billable, and nothing agreed on record: no margin is told of them'),
    visitsWithoutHours: z.number().int().describe('an ordinary visit was taken for their cost'),
    hours: z.number().describe('crew-hours on site and on the way, where written down'),
    costMinor: minor.describe('of all visits, minor units of money'),
    unpricedCostMinor: minor.describe('of the cost: that of visits without a price'),
    earnedMinor: minor,
    marginMinor: minor
      .nullable()
      .describe('earned, less the cost of the visits that have a price; null: none has one'),
  }),
  ask: async (house, asked, { by, ...own }) => {
    const period = periodOf(own, asked.today);
    return { ...period, by, currency: house.currency, ...(await earnings(house, asked, period, by)) };
  },
  draw: (house, { lines, by, fromDay, toDay, items, ...sums }) => {
    const money = currencyOf(house.currency);
    const units = 10 ** money.minorDigits;
    const priced = items.filter((item) => item.marginMinor !== null);
    const left = items.length - priced.length;
    const count = (of: 'unpricedVisits' | 'visitsWithoutHours') =>
      items.reduce((sum, item) => sum + item[of], 0);
    const [unpriced, unwritten] = [count('unpricedVisits'), count('visitsWithoutHours')];
    const told = `cost ${moneyText(sums.costMinor - sums.unpricedCostMinor, money)}, brought ${moneyText(sums.earnedMinor, money)}`;
    return rowsChart({
      title: `What each ${by} costs and brings`,
      subtitle: `${countText(lines, 'line')} · ${countText(items.length, by)} from ${dayText(fromDay)} to ${dayText(toDay)} · visits with a price: ${told}`,
      axis: money.code,
      parts: ['cost of visits with a price', 'brought'],
      set: 'beside',
      rows: priced.map((item) => ({
        name:
          item.address === null || item.address === item.name ? item.name : `${item.name}, ${item.address}`,
        values: [(item.costMinor - item.unpricedCostMinor) / units, item.earnedMinor / units],
        beyond: `${moneyText(item.marginMinor ?? 0, money)}, ${countText(item.visits - item.unpricedVisits, 'visit')}`,
      })),
      summary: `Visits with a price: ${told}.`,
      notes: [
        'Those that lose most first; at the right what is left of the visits with a price. Hours cost what the crew, else the setting, says; kilometres are left out.',
        unwritten > 0
          ? `Nobody wrote down the hours of ${countText(unwritten, 'visit')}: each counts as an ordinary one.`
          : 'The hours of every visit are written down.',
        ...(unpriced > 0
          ? [
              `Without a price on record: ${countText(unpriced, 'visit')} that cost ${moneyText(sums.unpricedCostMinor, money)}, not in the bars; ${countText(left, by)} with no priced visit left out.`,
            ]
          : []),
      ],
    });
  },
});

const returnWorkQuestion = question({
  path: 'return-work',
  component: 'ReturnWork',
  summary: 'Work that came back, by the crew and task before',
  about:
    'Of the orders done in the days, those another order returns for, by who had worked there and with what task.',
  roles: OWNER,
  own: PERIOD,
  facts: from,
  item: z.object({
    crewId: z.uuid().nullable(),
    crew: z.string().nullable(),
    task: z.enum(TASK_KINDS),
    done: z.number().int().describe('orders with this task done by the crew'),
    returns: z.number().int(),
    warranty: z.number().int(),
    goodwill: z.number().int(),
    share,
    low: share.describe('the share lies between low and high, 95 % (Wilson)'),
    high: share,
  }),
  ask: async (house, asked, own) => {
    const period = periodOf(own, asked.today);
    return { ...period, ...(await returnWork(house, asked, period)) };
  },
  draw: (_house, { lines, fromDay, toDay, items }) =>
    returnWorkChart({
      subtitle: `${countText(lines, 'line')} · orders done from ${dayText(fromDay)} to ${dayText(toDay)}, by crew and task`,
      rows: items.map((item) => ({
        ...item,
        crew: item.crew ?? 'crew not on record',
        task: TASK_TEXT[item.task],
      })),
      notes: ['An order with two tasks counts under both.'],
    }),
});

const doneWorkQuestion = question({
  path: 'done-work',
  component: 'DoneWork',
  summary: 'Done orders with their agreed prices, for the books',
  about:
    'One row an order done in the days, in order of the day: all of them, on lines, pits or neither, archived since or not; a filter of lines narrows to the work on those. Earnings are more by what the care terms bring for cleans that no order tells of.',
  roles: OWNER,
  own: PERIOD,
  facts: {
    ...from,
    currency,
    totalMinor: minor,
    withoutPrice: z.number().int().describe('billable orders for which nothing was agreed'),
  },
  item: z.object({
    number: z.number().int(),
    workOrderId: z.uuid(),
    doneOn: day,
    clientId: z.uuid().nullable(),
    client: z.string().nullable(),
    siteId: z.uuid(),
    address: z.string(),
    town: z.string(),
    crew: z.string().nullable(),
    tasks: z.string().meta({ example: 'inspect jet test_pump' }),
    hours: z.number().nullable().describe('on site and on the way'),
    priceBasis: z.string(),
    agreedMinor: minor.nullable().describe('agreed for the order, else by the care terms of the day'),
    addedMinor: minor.describe('agreed on site for added tasks'),
    billed: z.boolean(),
    totalMinor: minor,
    returnsFor: z.number().int().nullable().describe('number of the order it returned for'),
    currency,
  }),
  ask: async (house, asked, own) => {
    const period = periodOf(own, asked.today);
    const { items, ...rest } = await doneWork(house, asked, period);
    return {
      ...period,
      ...rest,
      currency: house.currency,
      items: items.map((item) => ({ ...item, currency: house.currency })),
    };
  },
  draw: (house, { lines, fromDay, toDay, items, totalMinor, withoutPrice }) => {
    const money = currencyOf(house.currency);
    const units = 10 ** money.minorDigits;
    const months = new Map(monthsOf(fromDay, toDay).map((month) => [month, [0, 0] as [number, number]]));
    for (const { doneOn, totalMinor: total, addedMinor, billed } of items) {
      const [agreed, added] = months.get(doneOn.slice(0, 7)) ?? [0, 0];
      const extra = billed ? addedMinor : 0;
      months.set(doneOn.slice(0, 7), [agreed + (total - extra) / units, added + extra / units]);
    }
    return columnsChart({
      title: 'Done work, month by month',
      subtitle: `${countText(lines, 'line')} · ${countText(items.length, 'order')} from ${dayText(fromDay)} to ${dayText(toDay)} · ${moneyText(totalMinor, money)}`,
      axis: money.code,
      parts: ['agreed before', 'agreed on site'],
      columns: [...months].map(([month, values]) => ({ name: monthText(month), values })),
      say: (value) => numberText(value),
      marginLeft: 76,
      summary: `${moneyText(totalMinor, money)} for ${countText(items.length, 'order')}.`,
      notes: [
        'Orders alone; cleans under care terms that no order tells of stand in the earnings.',
        ...(withoutPrice > 0 ? [`${countText(withoutPrice, 'order')} without an agreed price.`] : []),
      ],
    });
  },
});

const proposalIdeasQuestion = question({
  path: 'proposal-ideas',
  component: 'ProposalIdeas',
  summary: 'What the records speak for: cleanout, smooth pipe, alarm, second pump',
  about:
    'Works with their evidence, most visits saved first. A smooth pipe is named only where the whole system would be visited less often by all rules of the night, hardening, first intervals, terms and the test of the pump among them. Draft one as a proposal to offer it. What it means for a dig and for electrical work is for licensed people and local codes to say.',
  roles: ['owner', 'dispatcher'],
  own: {},
  facts: {},
  item: z.object({
    kind: z.enum(PROPOSAL_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    name: z.string(),
    visitsSavedPerYear: z
      .number()
      .nullable()
      .describe('visits of the whole system; null: spares harm, not visits'),
    open: z.boolean().describe('drafted or offered already'),
    reasons: z.array(reason),
  }),
  ask: (house, asked) => proposalIdeasReport(house, asked),
  draw: (_house, { asOf, lines, items }) =>
    rowsChart({
      title: 'What the records speak for',
      subtitle: `${countText(lines, 'line')} · ${countText(items.length, 'idea')} · as of ${dayText(asOf)}`,
      axis: 'ideas',
      parts: ['not offered yet', 'drafted or offered'],
      set: 'stacked',
      rows: PROPOSAL_KINDS.map((kind) => {
        const own = items.filter((item) => item.kind === kind);
        const open = own.filter((item) => item.open).length;
        const saved = own.reduce((sum, item) => sum + (item.visitsSavedPerYear ?? 0), 0);
        return {
          name: PROPOSAL_TEXT[kind],
          values: [own.length - open, open],
          beyond:
            saved > 0
              ? `${numberText(own.length)}, spare ${numberText(saved, 1)} visits a year`
              : numberText(own.length),
        };
      }),
      summary: `${countText(items.length, 'idea')}, ${numberText(
        items.reduce((sum, { visitsSavedPerYear }) => sum + (visitsSavedPerYear ?? 0), 0),
        1,
      )} visits a year to spare.`,
      notes: ['Digs and electrical work: local codes and licensed people come first.'],
    }),
});

const proposalsQuestion = question({
  path: 'proposals',
  component: 'ProposalCounts',
  summary: 'Proposals by kind: drafted, offered, accepted, declined',
  about: 'Proposals on record, by kind and state.',
  roles: OWNER,
  own: {},
  facts: { currency },
  item: z.object({
    kind: z.enum(PROPOSAL_KINDS),
    state: z.enum(PROPOSAL_STATES),
    count: z.number().int(),
    visitsSavedPerYear: z.number(),
    priceMinor: minor,
  }),
  ask: async (house, asked) => ({ currency: house.currency, ...(await proposalCounts(house, asked)) }),
  draw: (_house, { asOf, lines, items }) => {
    const of = (kind: string, ...states: string[]) =>
      items
        .filter((item) => item.kind === kind && states.includes(item.state))
        .reduce((sum, item) => sum + item.count, 0);
    return rowsChart({
      title: 'Proposals and their answers',
      subtitle: `${countText(lines, 'line')} · as of ${dayText(asOf)}`,
      axis: 'proposals',
      parts: ['accepted', 'drafted or offered', 'declined'],
      set: 'stacked',
      rows: PROPOSAL_KINDS.map((kind) => ({
        name: PROPOSAL_TEXT[kind],
        values: [of(kind, 'accepted'), of(kind, 'drafted', 'offered'), of(kind, 'declined')],
      })),
      summary: `${numberText(PROPOSAL_KINDS.reduce((sum, kind) => sum + of(kind, 'accepted'), 0))} accepted, ${numberText(PROPOSAL_KINDS.reduce((sum, kind) => sum + of(kind, 'declined'), 0))} declined.`,
      notes: ['Those the business took back are left out.'],
    });
  },
});

export const MONEY_QUESTIONS: readonly Question[] = [
  careIntervalsQuestion,
  earningsQuestion,
  returnWorkQuestion,
  doneWorkQuestion,
  proposalIdeasQuestion,
  proposalsQuestion,
];
