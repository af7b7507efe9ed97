import type { Row } from '../../actions/ports.js';
import type { LinesAsked } from '../../actions/reports/lineFilter.js';
import type { Queryable } from '../rowStore.js';
import { askedLines, wholeSites } from './askedLines.js';

export type Put = (value: unknown) => string;

/**
 * Runs queries over a CTE `asked`: the lines a question is about; and, for those that want it, `asked_site`: the sites
 * whose work counts whatever it was on. Values of a query's own come in by `put`.
 */
export function asking(q: Queryable, { sites = false } = {}) {
  return async (asked: LinesAsked, text: (put: Put) => string): Promise<Row[]> => {
    const values: unknown[] = [];
    const lines = askedLines(asked, values);
    const whole = sites ? `, asked_site AS MATERIALIZED (${wholeSites(asked, values)})` : '';
    const rest = text((value) => `$${values.push(value)}`);
    return (await q.query(`WITH asked AS MATERIALIZED (${lines})${whole} ${rest}`, values)).rows;
  };
}
