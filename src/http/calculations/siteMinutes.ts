import { z } from 'zod';
import { JETTING_RULES } from '../../domain/jetting/rules.js';
import {
  ARRIVE_AND_LEAVE_MINUTES,
  learnedFactor,
  siteMinutes as minutesOf,
  TASK_MINUTES,
} from '../../domain/jetting/siteMinutes.js';
import { TASK_KINDS } from '../../domain/words.js';
import { assumptions, basisOf, type Calculation, sources } from './calculation.js';

const body = z
  .strictObject({
    tasks: z
      .array(
        z.strictObject({
          kind: z.enum(TASK_KINDS),
          runMinutes: z.number().min(0).max(1440).optional().describe('minutes the jet or hose runs'),
          attempts: z
            .array(
              z.strictObject({
                plannedMinutes: z.number().min(1).max(10_000),
                takenMinutes: z.number().min(1).max(10_000),
              }),
            )
            .max(1000)
            .optional()
            .describe(
              "the crew's own at this kind of task; its factor is drawn toward 1 the fewer there are",
            ),
        }),
      )
      .min(1)
      .max(100),
  })
  .meta({
    id: 'SiteMinutesQuestion',
    example: {
      tasks: [
        { kind: 'jet', runMinutes: 20, attempts: [{ plannedMinutes: 30, takenMinutes: 40 }] },
        { kind: 'test_pump' },
      ],
    },
  });

const answer = z
  .object({
    minutes: z.number(),
    arriveAndLeave: z.number(),
    tasks: z.array(z.object({ kind: z.enum(TASK_KINDS), minutes: z.number(), factor: z.number() })),
    sources,
    assumptions,
  })
  .meta({ id: 'SiteMinutesAnswer' });

function compute(raw: z.infer<typeof body>) {
  const tasks = raw.tasks.map((task) => ({
    kind: task.kind,
    runMinutes: task.runMinutes ?? 0,
    factor: learnedFactor(task.attempts ?? []),
  }));
  return {
    minutes: minutesOf(tasks),
    arriveAndLeave: ARRIVE_AND_LEAVE_MINUTES,
    tasks: tasks.map(({ kind, runMinutes, factor }) => ({
      kind,
      minutes: (TASK_MINUTES[kind] + runMinutes) * factor,
      factor,
    })),
    sources: basisOf(JETTING_RULES.siteMinutes),
    assumptions: [
      {
        code: 'usual-minutes',
        facts: {},
        text: 'minutes of a task before a crew is known: common practice, no source',
      },
    ],
  };
}

export const siteMinutes: Calculation = {
  path: 'site-minutes',
  operationId: 'calculateSiteMinutes',
  ruled: false,
  summary: "Minutes on a site for its tasks, at a crew's own pace where its attempts are given",
  body,
  answer,
  compute,
};
