import { z } from 'zod';
import { cleanResults } from '../../actions/reports/cleanResults.js';
import { doubtedReadings } from '../../actions/reports/doubtedReadings.js';
import { LINE_KINDS, METHODS, PHASES, TASK_KINDS } from '../../domain/words.js';
import { cleanResultsChart } from '../../papers/cleanResultsChart.js';
import { countText, dayText, numberText } from '../../papers/printed.js';
import { rowsChart } from '../../papers/rowsChart.js';
import { METHOD_TEXT, TASK_TEXT } from '../../papers/wording.js';
import { day, instant, share } from '../shapes.js';
import { PERIOD, periodOf } from './period.js';
import { type Question, question } from './question.js';
import { OFFICE } from './stateQuestions.js';

const cleanResultsQuestion = question({
  path: 'clean-results',
  component: 'CleanResults',
  summary: 'How well cleans work: before, after and regrowth by crew and task',
  about:
    'Means of the last reading within a day before and the first after; regrowth from what was left to the next reading, where nothing was measured after from the mean that the same crew and task leave. Crews go to different lines: compare those of one kind.',
  roles: OFFICE,
  own: PERIOD,
  facts: { fromDay: day, toDay: day, cleans: z.number().int() },
  item: z.object({
    crewId: z.uuid().nullable(),
    crew: z.string().nullable().describe('null: not on record'),
    task: z.enum(TASK_KINDS).nullable().describe('null: not on record'),
    cleans: z.number().int(),
    lines: z.number().int(),
    measuredBefore: z.number().int(),
    before: share.nullable(),
    measuredAfter: z.number().int(),
    after: share.nullable(),
    regrown: z.number().int().describe('cleans after which the line was read again'),
    regrowthPerMonth: z.number().nullable().describe('median; share of the bore'),
    flowProven: z.number().int(),
    flowNotProven: z.number().int(),
  }),
  ask: async (house, asked, own) => {
    const period = periodOf(own, asked.today);
    const { items, ...rest } = await cleanResults(house, asked, period);
    return {
      ...period,
      ...rest,
      items: items.map((item) => ({ ...item, task: item.task as (typeof TASK_KINDS)[number] | null })),
    };
  },
  draw: (_house, { lines, fromDay, toDay, cleans, items }) =>
    cleanResultsChart({
      subtitle: `${countText(lines, 'line')} · ${countText(cleans, 'clean')} from ${dayText(fromDay)} to ${dayText(toDay)}`,
      rows: items.map((item) => ({
        ...item,
        crew: item.crew ?? 'no crew noted',
        task: item.task === null ? 'clean, task not noted' : TASK_TEXT[item.task],
      })),
      notes: ['Crews go to different lines: a fouler round looks like worse work.'],
    }),
});

const doubtedReadingsQuestion = question({
  path: 'doubted-readings',
  component: 'DoubtedReadings',
  summary: 'The review list: readings that do not fit, for a person to judge',
  about: 'Open reviews, the most doubted first.',
  roles: OFFICE,
  own: {},
  facts: {
    byMethod: z
      .array(z.object({ method: z.string(), open: z.number().int(), oldestDays: z.number() }))
      .describe('how many wait, and how long ago the oldest was taken'),
  },
  item: z.object({
    inspectionId: z.uuid(),
    lineId: z.uuid(),
    name: z.string(),
    kind: z.enum(LINE_KINDS),
    siteId: z.uuid(),
    address: z.string(),
    observedAt: instant,
    method: z.enum(METHODS).nullable(),
    phase: z.enum(PHASES),
    occlusion: share.nullable(),
    author: z.string(),
    crew: z.string().nullable(),
    weight: share.describe('how much of a reading the statistics take it for'),
    suspicion: z.string(),
  }),
  ask: (house, asked) => doubtedReadings(house, asked),
  draw: (_house, { asOf, lines, byMethod, items }) =>
    rowsChart({
      title: 'Readings that wait for a judgement',
      subtitle: `${countText(lines, 'line')} · ${countText(items.length, 'doubted reading')} · as of ${dayText(asOf)}`,
      axis: 'doubted readings',
      parts: ['open'],
      set: 'stacked',
      rows: byMethod.map(({ method, open, oldestDays }) => ({
        name: METHOD_TEXT[method as keyof typeof METHOD_TEXT] ?? method,
        values: [open],
        beyond: `${numberText(open)}, oldest ${countText(oldestDays, 'day')}`,
      })),
      summary: `${countText(items.length, 'reading')} wait for a judgement.`,
      notes: ['By the method of the reading. Until it is judged a doubted reading counts by its weight.'],
    }),
});

export const WORK_QUESTIONS: readonly Question[] = [cleanResultsQuestion, doubtedReadingsQuestion];
