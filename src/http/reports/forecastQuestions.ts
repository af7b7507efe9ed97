import { z } from 'zod';
import { costRisk } from '../../actions/reports/costRisk.js';
import { honesty } from '../../actions/reports/honesty.js';
import { plugsFound } from '../../actions/reports/plugsFound.js';
import { GROUPINGS } from '../../actions/reports/reportStore.js';
import { survivals } from '../../actions/reports/survivals.js';
import { DUE_RULES } from '../../domain/fouling/dueDateReason.js';
import { FORESEEN } from '../../domain/fouling/foreseenPlug.js';
import { BIAS_TOLERANCE } from '../../domain/fouling/selfScore.js';
import { BASEMENTS, LINE_KINDS, type Method, PLUG_CAUSES } from '../../domain/words.js';
import { calibrationChart } from '../../papers/calibrationChart.js';
import { costRiskChart } from '../../papers/costRiskChart.js';
import { currencyOf } from '../../papers/money.js';
import { countText, dayText, numberText } from '../../papers/printed.js';
import { rowsChart } from '../../papers/rowsChart.js';
import { survivalChart } from '../../papers/survivalChart.js';
import { FORESEEN_TEXT, groupText, METHOD_TEXT } from '../../papers/wording.js';
import { day, reason, share } from '../shapes.js';
import { PERIOD, periodOf } from './period.js';
import { type Question, question } from './question.js';
import { OFFICE } from './stateQuestions.js';

const survivalsQuestion = question({
  path: 'survivals',
  component: 'Survivals',
  summary: 'How long lines stay under a limit after a clean, by group',
  about:
    'Kaplan-Meier over the stretches between cleans, of lines given up since too. The next clean ends the watch without the event; a crossing counts from the visit that found it. Readings that wait for a judgement are left out, but for lines found plugged. Items: one row an event day of a group.',
  roles: OFFICE,
  own: {
    limit: z.enum(['action', 'plug']).default('action'),
    by: z.enum(GROUPINGS).default('kind'),
  },
  facts: {
    limit: z.enum(['action', 'plug']),
    by: z.enum(GROUPINGS),
    groups: z.array(
      z.object({
        name: z.string().meta({ example: 'footing_drain' }),
        stretches: z.number().int().describe('between cleans'),
        events: z.number().int().describe('stretches in which the limit was found passed'),
        medianDays: z.number().nullable().describe('null: more than half stayed under it'),
        untilDays: z.number().describe('longest watch'),
        tenUntilDays: z.number().describe('last day on which ten were watched; 0: never so many'),
        left: z
          .array(z.object({ days: z.number(), count: z.number().int() }))
          .describe('watches that ended without the event'),
      }),
    ),
  },
  item: z.object({
    group: z.string(),
    days: z.number().describe('since the clean'),
    atRisk: z.number().int(),
    events: z.number().int(),
    survival: share,
    standardError: z.number(),
    low: share.describe('95 %'),
    high: share,
  }),
  ask: async (house, asked, { limit, by }) => {
    const { lines, groups } = await survivals(house, asked, limit, by);
    return {
      lines,
      limit,
      by,
      groups: groups.map(({ steps: _steps, ...group }) => group),
      items: groups.flatMap(({ name, steps }) => steps.map((step) => ({ group: name, ...step }))),
    };
  },
  draw: (_house, { lines, limit, groups, items }) =>
    survivalChart({
      title: `How long lines stay under the ${limit} limit`,
      lines,
      axis: 'days since the clean',
      groups: groups.map(({ name, stretches, events, left, untilDays, tenUntilDays }) => ({
        name: groupText(name),
        count: stretches,
        events,
        steps: items.filter(({ group }) => group === name),
        censoredDays: left.map(({ days }) => days),
        untilDays: tenUntilDays === 0 ? untilDays : tenUntilDays,
      })),
    }),
});

const plugsQuestion = question({
  path: 'plugs-found',
  component: 'PlugsFound',
  summary: 'Lines found plugged, foreseen or not',
  about:
    'Plugs by deposit or for a cause unknown, each against the newest forecast stored before. Other causes are no fouling and not counted.',
  roles: OFFICE,
  own: PERIOD,
  facts: {
    fromDay: day,
    toDay: day,
    counts: z.object(
      Object.fromEntries(FORESEEN.map((each) => [each, z.number().int()])) as Record<
        (typeof FORESEEN)[number],
        z.ZodNumber
      >,
    ),
  },
  item: z.object({
    inspectionId: z.uuid(),
    lineId: z.uuid(),
    name: z.string(),
    kind: z.enum(LINE_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    foundOn: day,
    cause: z.enum(PLUG_CAUSES),
    foreseen: z
      .enum(FORESEEN)
      .describe(
        'due: a visit was due by then for the danger of the line; likely: held past its action limit as likely as not; due_otherwise: due by hardening, terms or custom, which foresees nothing',
      ),
    forecastOf: day.nullable(),
    dueOn: day.nullable(),
    doubted: z.boolean().describe('a person has still to judge the reading'),
  }),
  ask: async (house, asked, own) => {
    const period = periodOf(own, asked.today);
    return { ...period, ...(await plugsFound(house, asked, period)) };
  },
  draw: (_house, { lines, fromDay, toDay, counts, items }) =>
    rowsChart({
      title: 'Lines found plugged: foreseen or not',
      subtitle: `${countText(lines, 'line')} · ${countText(items.length, 'plug')} by fouling from ${dayText(fromDay)} to ${dayText(toDay)}`,
      axis: 'plugs',
      parts: ['plugs'],
      set: 'stacked',
      rows: FORESEEN.map((each) => ({
        name: FORESEEN_TEXT[each],
        values: [counts[each]],
        beyond: numberText(counts[each]),
      })),
      summary: `Of ${countText(items.length, 'plug')} ${numberText(counts.due + counts.likely)} were foreseen.`,
      notes: [
        'Held against the newest forecast stored before the plug was found; "no forecast yet": found before the first night. Due by custom (hardening, terms) is not foreseen. Ice, roots and other causes are left out.',
        ...(items.some(({ doubted }) => doubted)
          ? [
              `Of them ${countText(items.filter(({ doubted }) => doubted).length, 'reading')} wait for a judgement.`,
            ]
          : []),
      ],
    }),
});

const bias = z.object({
  name: z.string().meta({ example: 'outlet_look' }),
  count: z.number().int(),
  bias: z.number().describe('mean of occlusion found over occlusion forecast, shares of the bore'),
  standardError: z.number(),
  verdict: z.enum(['within', 'higher', 'lower', 'too_few']),
});

const honestyQuestion = question({
  path: 'forecast-honesty',
  alsoAt: { url: '/v1/trends/calibration', component: 'TrendCalibration' },
  component: 'ForecastHonesty',
  summary: 'How past forecasts fared against what was found',
  about:
    'Forecasts of the last two years, as they were stored, against what the next visit found. A visit stops the clock: it is held against the chance for its own day; a plug that called for the visit is judged on the day the line was due. Items: by readings known when the forecast was made; lines due at once, of which a tenth or more should be past their action limit already, are a class of their own where the visit came within 30 days.',
  roles: ['owner'],
  own: {},
  facts: {
    count: z.number().int().describe('forecasts judged'),
    off: z.boolean().describe('whether the model is off in some class, method or crew'),
    findings: z.array(reason).describe('where it is off, and what to do about it'),
    methods: z.array(bias),
    crews: z.array(bias),
    nights: z
      .array(z.object({ asOf: day, count: z.number().int(), off: z.boolean() }))
      .describe('how nights saw the whole base, newest first'),
  },
  item: z.object({
    name: z.string().describe('readings known, or due at once').meta({ example: '3 to 5 readings' }),
    count: z.number().int(),
    expected: share.describe('mean chance forecast'),
    observed: share.describe('share that came true'),
    standardError: z.number(),
    low: share.describe(
      'an honest class lies between low and high: two standard errors and half a visit, at least .02, about the forecast',
    ),
    high: share,
    verdict: z.enum(['within', 'more', 'fewer', 'too_few']).describe('too_few: under 20'),
  }),
  ask: async (house, asked) => {
    const { lines, nights, report } = await honesty(house, asked);
    const { classes, findings, ...rest } = report;
    return {
      lines,
      ...rest,
      findings: findings.map((finding) => ({ ...finding, facts: { ...finding.facts } })),
      nights,
      items: classes,
    };
  },
  draw: (_house, { asOf, items, findings, methods, crews }) =>
    calibrationChart({
      asOf,
      event: 'past the action limit at the next visit',
      classes: items.map((item) => ({ ...item, observed: item.observed * item.count })),
      findings: findings.map(({ text }) => text),
      bias: {
        methods: methods.map((each) => ({ ...each, name: METHOD_TEXT[each.name as Method] ?? each.name })),
        crews,
        tolerance: BIAS_TOLERANCE,
      },
    }),
});

const costRiskQuestion = question({
  path: 'cost-against-risk',
  component: 'CostAgainstRisk',
  summary: 'Cost against risk: visits, plugs and money a line and year by each rule',
  about:
    'What serving the lines for ever would take, by what is believed of each today; what later visits will teach is left out. yearly_risk and cost_least: each as if it alone held, every line a visit of its own. all_rules and today: with hardening, care terms, first intervals and growth as they stand, the lines of a system together and each bearing its part of the visit: what a change of the risk really moves. governing says how many dates each rule sets; only linesByRisk of them move with the risk.',
  roles: ['owner'],
  own: {},
  facts: {
    fitOf: day.nullable().describe('day of the fit it rests on; null before the first night'),
    currency: z.string().meta({ example: 'USD' }),
    linesCounted: z.number().int().describe('reckoned with: of many lines a sample, always the same one'),
    governing: z
      .array(z.object({ rule: z.enum(DUE_RULES), lines: z.number().int() }))
      .describe('lines by the rule that set their date, most first'),
    linesByRisk: z.number().int().describe('lines whose date the risk, the cost or the action limit set'),
    risksNow: z.record(z.enum(BASEMENTS), share).describe('yearly risk by basement, as set'),
  },
  item: z.object({
    rule: z
      .enum(['yearly_risk', 'cost_least', 'all_rules', 'today'])
      .describe(
        'yearly_risk: each line up to that chance of plugging; cost_least: each at its cheapest interval; all_rules: that risk with the other rules in force; today: the same at the risks as set',
      ),
    risk: share
      .nullable()
      .describe('yearly chance of passing the plug limit; null for the cost-least rule and for today'),
    medianIntervalDays: z.number().meta({ example: 210 }),
    visitsPerLineYear: z.number().meta({ example: 1.8 }),
    plugsPerLineYear: z.number().meta({ example: 0.012 }),
    costPerLineYear: z.number().int().describe('minor units of money').meta({ example: 61_000 }),
  }),
  ask: async (house, asked) => {
    const { asOf, points, ...rest } = await costRisk(house, asked);
    return { ...rest, fitOf: asOf, currency: house.currency, items: points };
  },
  draw: (house, { linesCounted, items, governing, linesByRisk, risksNow }) =>
    costRiskChart({
      currency: currencyOf(house.currency),
      lineCount: linesCounted,
      points: items,
      linesByRisk,
      governing,
      risksNow: Object.values(risksNow),
    }),
});

export const FORECAST_QUESTIONS: readonly Question[] = [
  survivalsQuestion,
  plugsQuestion,
  honestyQuestion,
  costRiskQuestion,
];
