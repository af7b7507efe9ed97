import pg from 'pg';
import { type Problem, Refused } from '../actions/problems.js';
import { CLASHES, type ConstraintWords, RULES } from './constraintWords.js';
import type { Queryable } from './rowStore.js';

const camel = (snake: string): string => snake.replace(/_([a-z0-9])/g, (_, c: string) => c.toUpperCase());

/** A broken constraint, a busy or an absent database as the refusal it stands for; anything else as it came. */
export function asRefusal(error: unknown): unknown {
  const problem = error instanceof pg.DatabaseError ? problemOf(error) : isAway(error) ? { ...AWAY } : null;
  return problem ? Object.assign(new Refused(problem), { cause: error }) : error;
}

/** The same connection or pool, whose statements fail with refusals. */
export function refusing<Q extends Queryable>(q: Q): Q {
  const query = (...args: Parameters<Queryable['query']>): unknown => {
    const answer: unknown = q.query(...args);
    return answer instanceof Promise
      ? answer.catch((error: unknown) => {
          throw asRefusal(error);
        })
      : answer;
  };
  return new Proxy(q, {
    get(target, name) {
      if (name === 'query') return query;
      const member: unknown = Reflect.get(target, name);
      return typeof member === 'function' ? (member.bind(target) as unknown) : member;
    },
  });
}

const AWAY = {
  code: 'unavailable',
  detail:
    'The database cannot be reached. Ask again in a moment; a write with the same id or Idempotency-Key, since nobody knows whether it was kept.',
} as const;

const AWAY_CODES = new Set([
  'ECONNREFUSED',
  'ECONNRESET',
  'ENOENT',
  'ETIMEDOUT',
  'EPIPE',
  'EAI_AGAIN',
  'EAGAIN', // nobody takes what stands before a socket's door any more
  'ENOTFOUND',
]);
/** Prisma: not reached, reached too late, timed out, connection closed, none free. */
const PRISMA_AWAY = new Set(['P1001', 'P1002', 'P1008', 'P1017', 'P2024']);
const AWAY_WORDS =
  /Connection terminated|timeout exceeded when trying to connect|^timeout expired$|not queryable|Query read timeout/;

/** Whether a connection failed or was lost, which is no fault of the statement. */
function isAway(error: unknown): boolean {
  if (!(error instanceof Error)) return false;
  if ('code' in error && AWAY_CODES.has(String(error.code)) && 'syscall' in error) return true;
  if ('code' in error && PRISMA_AWAY.has(String(error.code))) return true;
  if (error instanceof AggregateError) return error.errors.some(isAway);
  return AWAY_WORDS.test(error.message);
}

/** Whether the server stopped or is starting (SQLSTATE 57P01 to 57P03, class 08), or its connection was lost. */
export const hasStopped = (error: unknown): boolean =>
  isAway(error) || (error instanceof pg.DatabaseError && /^(57P0[123]|08)/.test(error.code ?? ''));

function problemOf(error: pg.DatabaseError): Problem | null {
  switch (error.code) {
    case '23505': // unique
    case '23P01': // exclusion
      return clashOf(error);
    case '23503': // foreign key
      return referenceOf(error);
    case '23514': // check
      return broken(error.constraint ?? '', ruleOf(error));
    case '55P03': // lock time-out
    case '40P01': // deadlock
    case '40001': // serialization
      return { code: 'busy', detail: 'Someone else is changing the same thing. Try again in a moment.' };
    case '57014': // statement time-out
      return { code: 'busy', detail: 'The database took too long. Ask for less, or try again in a moment.' };
    case '22003': // number out of range
    case '22007': // not a day or instant
    case '22008': // day or instant out of range
    case '22021': // character not in the repertoire
    case '22P02': // text of another type
    case '22P05': // character that cannot be kept
      return broken('value', {
        pointer: '#',
        detail: 'one of the values is not of the kind, or beyond the range, that is kept of it',
        remedy: 'see the schema of this operation',
      });
    default:
      // Classes: connection, insufficient resources, intervention of the operator.
      return /^(08|53|57)/.test(error.code ?? '') ? { ...AWAY } : null;
  }
}

function clashOf(error: pg.DatabaseError): Problem {
  const constraint = error.constraint ?? '';
  const table = error.table ?? 'record';
  const known = CLASHES[constraint];
  if (!known && constraint.endsWith('_pkey'))
    return {
      code: 'id-taken',
      resource: table,
      id: /\(([0-9a-f-]{36})\)/.exec(error.detail ?? '')?.[1] ?? '',
    };
  return {
    code: 'clash',
    constraint,
    ...(known ?? { detail: `There is such a ${table} already.`, remedy: 'Change that one instead.' }),
  };
}

function referenceOf(error: pg.DatabaseError): Problem {
  if (/is still referenced/.test(error.detail ?? ''))
    return {
      code: 'clash',
      constraint: error.constraint ?? '',
      detail: `Other records rest on this ${error.table ?? 'record'}.`,
      remedy: 'Archive or end it instead.',
    };
  const [, column = 'id', id = ''] = /Key \((\w+)\)=\(([^)]*)\)/.exec(error.detail ?? '') ?? [];
  const field = camel(column);
  return {
    code: 'unknown-reference',
    faults: [
      {
        pointer: `#/${field}`,
        detail: `nothing there has the id ${id}`,
        remedy: `give the id of an existing record as ${field}`,
      },
    ],
  };
}

const broken = (rule: string, words: ConstraintWords): Problem => ({
  code: 'rule-broken',
  rule,
  faults: [words],
});

function ruleOf({ constraint = '', table = '' }: pg.DatabaseError): ConstraintWords {
  const known = RULES[constraint];
  if (known) return known;
  // A word outside its list: the constraint is named after table and column.
  const column = constraint.replace(`${table}_`, '').replace(/_word$/, '');
  return {
    pointer: `#/${camel(column)}`,
    detail: 'is none of the words known here',
    remedy: 'see the schema of this field for its words',
  };
}
