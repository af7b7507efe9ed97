import { daysBetween } from '../../domain/calendar/isoDate.js';
import type { Basement, Material, Outlet } from '../../domain/words.js';
import { type LineOutlook, type Question, questionOf, type ThinLine } from '../../domain/work/missingFact.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';

/** What stays on an order of the question its crew is asked. */
export interface AskedQuestion extends Question {
  siteId: string;
  /** The answer that counts. */
  answer?: { value: unknown; by: string; at: string };
  /** All answers that came by sync, and with them the one from an address of its own. */
  said?: SaidAnswer[];
}

/** One answer to the question of a visit. */
export interface SaidAnswer {
  id: string;
  value: string | number | boolean | null;
  by: string;
  authorId: string;
  at: string;
}

/** Each visit of a plan that has no question yet asks for the one missing fact that could move a due date most. */
export async function askWhatIsMissing(stores: Stores, planId: string): Promise<void> {
  const stops = (await stores.plans.planRoutes(planId)).flatMap((route) => route['stops'] as Row[]);
  const orderIds = stops.flatMap((stop) =>
    stop['work_order_id'] === null ? [] : [String(stop['work_order_id'])],
  );
  if (orderIds.length === 0) return;
  const settings = await ownerSettings(stores);
  for (const row of await stores.desk.thinOrders(orderIds)) {
    const siteId = String(row['site_id']);
    const site = {
      siteId,
      basement: row['basement'] as Basement,
      tap: row['tap'] as 'yes' | 'no' | 'unknown',
    };
    const question = questionOf(site, (row['lines'] as Row[]).map(thinLine), settings);
    if (!question) continue;
    const asked: AskedQuestion = { ...question, siteId };
    await stores.rows.update('work_order', String(row['order_id']), { question: asked });
  }
}

function thinLine(line: Row): ThinLine {
  const number = (value: unknown) => (value === null ? null : Number(value));
  return {
    lineId: String(line['id']),
    name: String(line['name']),
    assumed: line['assumed'] as string[],
    staysWet: line['staysWet'] as boolean | null,
    material: line['material'] as Material,
    boreMm: number(line['boreMm']),
    lengthM: number(line['lengthM']),
    outlet: line['outlet'] as Outlet,
    trend: outlookOf(line),
  };
}

function outlookOf(line: Row): LineOutlook | null {
  if (line['asOf'] === null) return null;
  const asOf = String(line['asOf']);
  const { ahead, plug } = line['components'] as { ahead: number[]; plug: number[] };
  const inDays = (day: unknown) => (day === null ? null : daysBetween(asOf, String(day)));
  return {
    ahead,
    plugChances: plug,
    actionInDays: inDays(line['actionOn']),
    dueInDays: inDays(line['dueOn']),
    dueRule: line['dueRule'] === null ? null : String(line['dueRule']),
    rateQ10: Number(line['rateQ10']),
    rateQ90: Number(line['rateQ90']),
  };
}
