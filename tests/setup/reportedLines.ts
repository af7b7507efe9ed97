import { randomUUID } from 'node:crypto';
import { type TestHouse, testHouse } from './testHouse.js';

/** A house whose lines, beliefs, readings and cleans a test sets one by one. Thursday 1 October 2026, 7:00. */
export interface ReportedLines extends TestHouse {
  site(more?: object): Promise<string>;
  /** A line with what is believed of it. */
  line(siteId: string, more?: object, trend?: object): Promise<string>;
  read(lineId: string, day: string, occlusion: number | null, more?: object): Promise<string>;
  clean(lineId: string, day: string, more?: object): Promise<string>;
  crew(name: string, more?: object): Promise<string>;
  /** An order done on a day at 15:00, an hour and a half on site; a task `jet` each line, whatever else `tasks` says. */
  done(order: DoneOrder): Promise<string>;
}

export interface DoneOrder {
  site: string;
  crew: string;
  day: string;
  lines?: string[];
  tasks?: object[];
  more?: object;
  attempt?: object;
}

export const TODAY = '2026-10-01';

/** Chances by 0, 7, 14, 30, 60, 90, 180, 365 days. */
const AHEAD = [0, 7, 14, 30, 60, 90, 180, 365];

export async function reportedLines(): Promise<ReportedLines> {
  const t = await testHouse('2026-10-01T12:00:00Z');
  const { rows } = t.house.stores;
  const depot = randomUUID();
  await rows.insert('depot', { id: depot, name: 'North yard', latitude: 44.6, longitude: -90.3 });
  const add = async (table: string, row: object): Promise<string> => {
    const id = randomUUID();
    await rows.insert(table, { id, ...row });
    return id;
  };
  return {
    ...t,
    site: (more = {}) =>
      add('site', {
        address: '1 Marsh Gate',
        town: 'Brindle',
        area: 'Brindle',
        basement: 'basement',
        ...more,
      }),
    async line(siteId, more = {}, trend = {}) {
      const system = await add('system', { site_id: siteId, name: 'Yard', kind: 'gravity' });
      const line = await add('line', {
        site_id: siteId,
        system_id: system,
        name: 'Drain',
        kind: 'footing_drain',
        ...more,
      });
      await rows.insert('trend', {
        line_id: line,
        as_of: TODAY,
        fit_id: randomUUID(),
        engine_version: 'test',
        evidence_hash: 'a',
        occlusion: 0.2,
        occlusion_sd: 0.05,
        occlusion_q10: 0.1,
        occlusion_q90: 0.3,
        rate_per_month: 0.03,
        rate_q10: 0.02,
        rate_q90: 0.05,
        action_limit: 0.45,
        plug_limit: 0.9,
        action_chance_30d: 0.1,
        action_chance_due: 0.1,
        plug_chance_due: 0.01,
        plug_chance_year: 0.02,
        readings_used: 3,
        components: {
          ahead: AHEAD,
          action: [0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.9],
          plug: [0, 0, 0, 0, 0.01, 0.02, 0.05, 0.2],
          lookOn: null,
          notBefore: null,
        },
        due_on: '2026-10-20',
        due_rule: 'risk',
        due_reasons: [],
        interval_days: 120,
        ...trend,
      });
      return line;
    },
    read: (lineId, day, occlusion, more = {}) =>
      add('inspection', {
        line_id: lineId,
        observed_at: `${day}T15:00:00Z`,
        received_at: `${day}T15:00:00Z`,
        author: 'test',
        phase: 'before_cleaning',
        method: 'camera',
        raw: {},
        conversion_version: 1,
        occlusion,
        standard_error: occlusion === null ? null : 0.08,
        bound: 'exact',
        ...more,
      }),
    clean: (lineId, day, more = {}) =>
      add('clean', {
        line_id: lineId,
        cleaned_at: `${day}T15:30:00Z`,
        received_at: `${day}T15:30:00Z`,
        author: 'test',
        ...more,
      }),
    crew: (name, more = {}) => add('crew', { name, depot_id: depot, people: 2, ...more }),
    async done({ site, crew, day, lines = [], tasks = [], more = {}, attempt = {} }) {
      const [started, ended] = [`${day}T13:30:00Z`, `${day}T15:00:00Z`];
      const order = await add('work_order', {
        site_id: site,
        cause: 'due',
        minutes: 60,
        state: 'done',
        done_at: ended,
        started_at: started,
        ...more,
      });
      const all = [...lines.map((line_id) => ({ kind: 'jet', line_id })), ...tasks];
      for (const [i, task] of all.entries())
        await add('work_order_task', {
          work_order_id: order,
          position: i + 1,
          minutes: 30,
          result: 'done',
          ...task,
        });
      await add('attempt', {
        work_order_id: order,
        crew_id: crew,
        author: 'test',
        started_at: started,
        ended_at: ended,
        result: 'done',
        ...attempt,
      });
      return order;
    },
  };
}
