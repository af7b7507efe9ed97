import { type BaseFit, fitBase } from '../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../src/domain/fouling/forecastLine.js';
import { evidenceOf } from './replayEvidence.js';
import type { ReplayBase } from './replayLines.js';
import { costLeastVisit, LONGEST_DAYS, type ReplayRule } from './replayRules.js';

/** The start is the same under every rule: its search is made once a base. */
const firstFits = new WeakMap<ReplayBase, BaseFit>();

/**
 * The service's own estimator and due date on the threshold: at a risk per visit, or by the cost-least rule.
 * A full search at the start, pooled anew each year; between, each visit costs one filter.
 */
export function ours(risk: number | 'cost-least'): ReplayRule {
  let fit: BaseFit | null = null;
  let ruledFromDay = 0;
  return {
    name: `ours ${risk}`,
    learn(base, visits, day) {
      ruledFromDay = base.startDay;
      const evidence = base.lines.map((line, i) => evidenceOf(line, visits[i] ?? [], base.startDay));
      if (day === base.startDay) fit = firstFits.get(base) ?? fitBase(evidence, day);
      else if (fit !== null) fit = fitBase(evidence, day, { from: fit, keepShape: true });
      if (day === base.startDay && fit !== null) firstFits.set(base, fit);
    },
    daysToVisit(line, _index, visits, day) {
      if (fit === null) throw new RangeError('asked before it learned');
      const forecast = forecastLine(fit, evidenceOf(line, visits, ruledFromDay), day);
      if (risk !== 'cost-least') return forecast.passage(line.threshold).quantile(risk) ?? LONGEST_DAYS;
      return costLeastVisit(forecast, line, day - (visits.at(-1)?.day ?? line.installedDay));
    },
  };
}
