import type { Row } from '../../actions/ports.js';
import type { LinesAsked } from '../../actions/reports/lineFilter.js';
import type { Queryable } from '../rowStore.js';
import { askedLines } from './askedLines.js';

export type Put = (value: unknown) => string;

/** Runs queries over a CTE `asked`: the lines a question is about. Values of a query's own come in by `put`. */
export function asking(q: Queryable) {
  return async (asked: LinesAsked, text: (put: Put) => string): Promise<Row[]> => {
    const values: unknown[] = [];
    const lines = askedLines(asked, values);
    const rest = text((value) => `$${values.push(value)}`);
    return (await q.query(`WITH asked AS MATERIALIZED (${lines}) ${rest}`, values)).rows;
  };
}
