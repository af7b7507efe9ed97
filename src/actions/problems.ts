/** One thing wrong in what a caller sent: where (JSON pointer fragment), what, and what would be right. */
export interface FieldFault {
  pointer: string;
  detail: string;
  remedy: string;
}

/**
 * Why an action was refused. Values with facts; `http` alone turns them into status codes and words.
 */
export type Problem =
  | { code: 'not-found'; resource: string; id: string }
  | { code: 'version-required'; resource: string; id: string; version: number }
  | { code: 'version-mismatch'; resource: string; id: string; version: number; asked: string }
  | { code: 'id-taken'; resource: string; id: string }
  | { code: 'idempotency-key-reused'; key: string }
  | { code: 'clash'; constraint: string; pointer?: string; detail: string; remedy: string }
  | { code: 'rule-broken'; rule: string; faults: FieldFault[] }
  | { code: 'unknown-reference'; faults: FieldFault[] }
  | { code: 'bad-cursor'; faults: FieldFault[] }
  | { code: 'changes-gone'; faults: FieldFault[] }
  | { code: 'bad-header'; faults: FieldFault[] }
  | { code: 'bad-body'; faults: FieldFault[] }
  | { code: 'wrong-state'; resource: string; id: string; state: string; allowed: string[]; detail: string }
  | { code: 'not-yours'; resource: string; id: string; detail: string }
  | { code: 'run-under-way'; runId: string; businessDay: string }
  | { code: 'plan-stale'; planId: string; changed: string[] }
  | { code: 'enough-for-today'; detail: string }
  | { code: 'busy'; detail: string }
  | { code: 'unavailable'; detail: string };

export class Refused extends Error {
  readonly problem: Problem;

  constructor(problem: Problem) {
    super(wordsOf(problem));
    this.name = 'Refused';
    this.problem = problem;
  }
}

/** The problem for a log or a terminal: what is wrong and what would be right, its code where it has no words. */
function wordsOf(problem: Problem): string {
  if ('faults' in problem)
    return problem.faults.map(({ pointer, detail, remedy }) => `${pointer}: ${detail}; ${remedy}`).join('\n');
  if ('remedy' in problem) return `${problem.detail} ${problem.remedy}`;
  return 'detail' in problem ? problem.detail : problem.code;
}

export function ruleBroken(rule: string, pointer: string, detail: string, remedy: string): Refused {
  return new Refused({ code: 'rule-broken', rule, faults: [{ pointer, detail, remedy }] });
}
