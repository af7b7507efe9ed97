import type { RoutingProblem } from '../domain/routing/problem.js';
import { parseDayPlan } from './dayPlanProblem.js';
import { RoutingFileFault } from './routingFileFault.js';
import { parseSolomon } from './solomonProblem.js';

const BYTE_ORDER_MARK = /^\uFEFF/;

/**
 * Reads a problem file: `day-plan/1` (JSON) or Solomon's text format, told apart by the first character.
 *
 * @throws {RoutingFileFault} When it is neither, or breaks off, or contradicts itself.
 */
export function parseRoutingProblem(file: string): RoutingProblem {
  const text = file.replace(BYTE_ORDER_MARK, '');
  if (text.trim() === '') throw new RoutingFileFault('the file is empty');
  if (!text.trimStart().startsWith('{')) return parseSolomon(text);
  let json: unknown;
  try {
    json = JSON.parse(text);
  } catch (error) {
    throw new RoutingFileFault(`not JSON to its end: ${(error as Error).message}`);
  }
  return parseDayPlan(json);
}
