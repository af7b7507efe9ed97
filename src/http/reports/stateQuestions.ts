import { z } from 'zod';
import { dueWeeks } from '../../actions/reports/dueWeeks.js';
import { riskOn } from '../../actions/reports/riskOn.js';
import { foulingRates, occlusions } from '../../actions/reports/spread.js';
import { unknownFacts } from '../../actions/reports/unknownFacts.js';
import { addDays } from '../../domain/calendar/isoDate.js';
import { LINE_KINDS, type Role } from '../../domain/words.js';
import { columnsChart } from '../../papers/columnsChart.js';
import { distributionChart } from '../../papers/distributionChart.js';
import { countText, dayText, numberText, shareText } from '../../papers/printed.js';
import { rowsChart } from '../../papers/rowsChart.js';
import { FACT_TEXT } from '../../papers/wording.js';
import { day, queryNumber, share } from '../shapes.js';
import { type Question, question } from './question.js';

export const OFFICE: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const quantiles = z.object({ q10: z.number(), q50: z.number(), q90: z.number() }).nullable();
const bin = z.object({
  from: z.number().meta({ example: 0.05 }),
  to: z
    .number()
    .describe('excluded, but for the last bin, which holds what lies beyond too')
    .meta({ example: 0.1 }),
  count: z.number().int().describe('lines').meta({ example: 42 }),
});

/** Tenths of fewer lines say nothing. */
const LEAST_FOR_TENTHS = 10;

const spreadMarks = (spread: z.infer<typeof quantiles>, lines: number) =>
  spread === null || lines < LEAST_FOR_TENTHS
    ? []
    : [
        { name: 'a tenth lie below', at: spread.q10 },
        { name: 'median', at: spread.q50 },
        { name: 'nine tenths lie below', at: spread.q90 },
      ];

const foulingRatesQuestion = question({
  path: 'fouling-rates',
  component: 'FoulingRates',
  summary: 'How fast the lines foul',
  about: 'Distribution of the rates believed, in shares of the bore a month, between empty and half full.',
  roles: OFFICE,
  own: {},
  facts: { quantiles },
  item: bin,
  ask: (house, asked) => foulingRates(house, asked),
  draw: (_house, { asOf, lines, items, quantiles: spread }) =>
    distributionChart({
      title: 'How fast the lines foul',
      asOf,
      axis: 'growth a month, share of the bore',
      values: 'share',
      bins: items,
      marks: spreadMarks(spread, lines),
      lastIsOpen: true,
    }),
});

const occlusionsQuestion = question({
  path: 'occlusions',
  component: 'Occlusions',
  summary: 'How full the lines are now',
  about: 'Distribution of the occlusion believed on each line today, and how many lie past their own limits.',
  roles: OFFICE,
  own: {},
  facts: {
    quantiles,
    pastAction: z.number().int().describe('lines believed past their action limit'),
    pastPlug: z.number().int().describe('lines believed past their plug limit'),
  },
  item: bin,
  ask: (house, asked) => occlusions(house, asked),
  draw: (_house, { asOf, lines, items, quantiles: spread, pastAction, pastPlug }) =>
    distributionChart({
      title: 'How full the lines are',
      asOf,
      axis: 'occlusion now, share of the bore',
      values: 'share',
      bins: items.slice(0, Math.max(10, 1 + items.findLastIndex(({ count }) => count > 0))),
      marks: spreadMarks(spread, lines),
      notes: [
        `Past their own action limit: ${countText(pastAction, 'line')}; past the plug limit: ${numberText(pastPlug)}. The best guess of each line, its doubt left out.`,
      ],
    }),
});

const dueWeeksQuestion = question({
  path: 'due-weeks',
  component: 'DueWeeks',
  summary: 'Lines due week by week',
  about: 'Each line on the week of its next due day; the first row is what is late.',
  roles: OFFICE,
  own: { weeks: queryNumber(z.number().int().min(1).max(104)).default(12) },
  facts: {
    later: z.number().int().describe('lines due after these weeks'),
    never: z.number().int().describe('lines without a date: refused by the client'),
    late: z
      .array(
        z.object({
          fromDays: z.number().int(),
          toDays: z.number().int().nullable().describe('null: and more'),
          lines: z.number().int(),
          likelyPastAction: z.number().int().describe('past their action limit now as likely as not'),
          expectedPlugged: z.number().describe('plugs expected among them by now'),
        }),
      )
      .describe('of the lines due before today: how late, and in what danger'),
  },
  item: z.object({
    monday: day.nullable().describe('null: due before today'),
    lines: z.number().int(),
    sites: z.number().int(),
    byCareTerms: z.number().int().describe('of the lines: those whose date care terms set'),
  }),
  ask: (house, asked, { weeks }) => dueWeeks(house, asked, weeks),
  draw: (_house, { asOf, lines, later, never, late, items }) =>
    columnsChart({
      title: 'Lines due, week by week',
      subtitle: `${countText(lines, 'line')} · as of ${dayText(asOf)} · due later: ${numberText(later)}, refused: ${numberText(never)}`,
      axis: 'lines due',
      parts: ['by what is believed of the line', 'by care terms'],
      columns: items.map(({ monday, lines: due, byCareTerms }) => ({
        name: monday === null ? 'late' : dayText(monday),
        values: [due - byCareTerms, byCareTerms],
      })),
      summary: `${countText(items[0]?.lines ?? 0, 'line')} late, ${numberText(items.slice(1, 5).reduce((sum, week) => sum + week.lines, 0))} due in the four weeks to come.`,
      notes: [
        'Under each column its Monday. A line counts once, on its next day.',
        ...late
          .filter((each) => each.lines > 0)
          .map(
            ({ fromDays, toDays, lines: count, likelyPastAction, expectedPlugged }) =>
              `Late by ${fromDays}${toDays === null ? ' days and more' : ` to ${toDays} days`}: ${countText(count, 'line')}, ${numberText(likelyPastAction)} past the action limit as likely as not, ${numberText(expectedPlugged, 1)} plugs expected among them by now.`,
          ),
      ],
    }),
});

const RISK_DAYS = 90;

const atRiskQuestion = question({
  path: 'lines-at-risk',
  component: 'LinesAtRisk',
  summary: 'What may have passed its limits by a day if nobody comes',
  about: 'Chance of each line to have passed its action and its plug limit by a day, likeliest plug first.',
  roles: OFFICE,
  own: {
    on: day.optional().describe('absent: 90 days on; at most a year ahead'),
    top: queryNumber(z.number().int().min(1).max(20_000)).default(200).describe('lines told one by one'),
  },
  facts: {
    on: day,
    expectedPastAction: z.number().describe('lines expected past their action limit'),
    expectedPlugged: z.number().describe('lines expected past their plug limit'),
    classes: z
      .array(z.object({ from: share, to: share, action: z.number().int(), plug: z.number().int() }))
      .describe('lines by their chance, for either limit'),
  },
  item: z.object({
    lineId: z.uuid(),
    name: z.string(),
    kind: z.enum(LINE_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    dueOn: day.nullable(),
    occlusion: share,
    actionChance: share,
    plugChance: share,
  }),
  ask: async (house, asked, { on, top }) => {
    const until = on ?? addDays(asked.today, RISK_DAYS);
    return { on: until, ...(await riskOn(house, asked, until, top)) };
  },
  draw: (_house, { lines, on, expectedPastAction, expectedPlugged, classes }) =>
    rowsChart({
      title: `At risk by ${dayText(on)} if nobody comes`,
      subtitle: `${countText(lines, 'line')} · expected past the action limit ${numberText(expectedPastAction, 1)}, plugged ${numberText(expectedPlugged, 1)}`,
      axis: 'lines',
      parts: ['past the action limit', 'past the plug limit'],
      set: 'beside',
      rows: classes
        .map(({ from, to, action, plug }) => ({
          name: `chance ${shareText(from)} to ${shareText(to)}`,
          values: [action, plug],
        }))
        .slice(1)
        .reverse(),
      numbers: 'at_ends',
      summary: `Of ${countText(lines, 'line')} ${numberText(expectedPastAction, 1)} are expected past their action limit and ${numberText(expectedPlugged, 1)} plugged.`,
      notes: [
        'Likeliest on top. Each line counts once for either limit.',
        ...classes
          .slice(0, 1)
          .map(
            ({ to, action, plug }) =>
              `Not drawn, with a chance under ${shareText(to)}: ${countText(action, 'line')} for the action limit, ${numberText(plug)} for the plug limit.`,
          ),
      ],
    }),
});

const unknownFactsQuestion = question({
  path: 'unknown-facts',
  component: 'UnknownFacts',
  summary: 'What is still not known of lines, sites and pits',
  about:
    'Of each fact how many lack it, how many go by one that was only assumed, and how many due dates rest on it unknown: what would move most dates first.',
  roles: OFFICE,
  own: {},
  facts: {},
  item: z.object({
    of: z.enum(['line', 'site', 'pit']),
    fact: z.string().meta({ example: 'bore' }),
    asked: z.number().int().describe('lines, sites or pits that should have it'),
    unknown: z.number().int(),
    assumed: z.number().int().describe('known only by assumption'),
    share: share.describe('unknown or assumed'),
    datesThatRestOnIt: z
      .number()
      .int()
      .describe('lines whose date was set by a rule that goes by the fact, without knowing it'),
  }),
  ask: (house, asked) => unknownFacts(house, asked),
  draw: (_house, { asOf, lines, items }) =>
    rowsChart({
      title: 'What is still not known',
      subtitle: `${countText(lines, 'line')} with their sites and pits · as of ${dayText(asOf)}`,
      axis: 'share without the fact',
      parts: ['unknown', 'assumed'],
      set: 'stacked',
      most: 1,
      say: (value) => shareText(value),
      rows: items.map(({ of, fact, asked, unknown, assumed, datesThatRestOnIt: dates }) => ({
        name: `${FACT_TEXT[fact] ?? fact}, of the ${of}`,
        values: asked === 0 ? [0, 0] : [unknown / asked, assumed / asked],
        beyond: `${numberText(unknown + assumed)} of ${numberText(asked)}${dates > 0 ? `, ${countText(dates, 'date')}` : ''}`,
      })),
      summary:
        items[0] === undefined
          ? 'Nothing to ask for.'
          : `First to ask for: ${FACT_TEXT[items[0].fact] ?? items[0].fact}; ${countText(items[0].datesThatRestOnIt, 'due date')} ${items[0].datesThatRestOnIt === 1 ? 'rests' : 'rest'} on it unknown.`,
      notes: [
        'What most due dates rest on first (at the right the dates), then what is most often missing. Each visit asks for one missing fact.',
      ],
    }),
});

export const STATE_QUESTIONS: readonly Question[] = [
  foulingRatesQuestion,
  occlusionsQuestion,
  dueWeeksQuestion,
  atRiskQuestion,
  unknownFactsQuestion,
];
