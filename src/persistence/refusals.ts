import pg from 'pg';
import { type Problem, Refused } from '../actions/problems.js';

/** What a broken constraint means to a caller. Named here once, with the remedy. */
const CLASHES: Record<string, { detail: string; remedy: string }> = {
  line_section_no_overlap: {
    detail: 'Another section of the line lies on the same metres at the same time.',
    remedy: 'End the other section (removedOn) or choose metres that do not overlap.',
  },
  site_client_one_at_a_time: {
    detail: 'The site belongs to another client in that time.',
    remedy: 'End the other ownership (toDay) on the day the new one begins.',
  },
  crew_membership_one_crew: {
    detail: 'The person is in another crew in that time.',
    remedy: 'End the other membership first.',
  },
  crew_kit_one_crew: { detail: 'Another crew carries the kit item in that time.', remedy: 'End that first.' },
  shift_one_a_day: {
    detail: 'The crew has a shift on that weekday in that time.',
    remedy: 'End the other shift (toDay) first.',
  },
  task_one_open_per_line: {
    detail: 'There is an open work order with this task for the line.',
    remedy: 'Add to that order, or withdraw it first.',
  },
  task_one_open_per_pit: {
    detail: 'There is an open work order with this task for the pit.',
    remedy: 'Add to that order, or withdraw it first.',
  },
  attempt_one_open_per_order: {
    detail: 'The work order has been started and not finished.',
    remedy: 'Finish the attempt that is under way.',
  },
  route_one_live_per_crew_and_day: {
    detail: 'The crew has a live route on that day.',
    remedy: 'Accept a plan that replaces it.',
  },
  stop_one_live_per_order: {
    detail: 'The order is on another live route.',
    remedy: 'Take it off that route first.',
  },
  inspection_natural_key: {
    detail: 'There is a reading of this line by this method and phase at that instant.',
    remedy: 'Replace that inspection instead.',
  },
  inspection_replaces_id_key: {
    detail: 'That inspection was replaced already.',
    remedy: 'Replace the newest one in the chain.',
  },
  nightly_run_one_at_a_time: { detail: 'Another nightly run is under way.', remedy: 'Wait for its end.' },
  epoch_line_id_started_on_key: {
    detail: 'The line has an epoch that starts on that day.',
    remedy: 'Choose the day of the replacement.',
  },
};

const RULES: Record<string, { pointer: string; detail: string; remedy: string }> = {
  drains_to_no_loop: {
    pointer: '#/drainsTo',
    detail: 'what drains to what would run in a circle',
    remedy: 'let the line drain to something that does not drain back into it',
  },
  line_on_one_site: {
    pointer: '#/systemId',
    detail: 'a line, its system and what it drains to stand on one site',
    remedy: 'name a system, pit and line of the same site',
  },
  pit_on_one_site: {
    pointer: '#/systemId',
    detail: 'a pit, its system and its discharge stand on one site',
    remedy: 'name a system and a discharge line of the same site',
  },
  line_drains_to_one_thing: {
    pointer: '#/drainsTo',
    detail: 'drainsTo does not match drainsToPitId and drainsToLineId',
    remedy: 'give drainsToPitId with "pit", drainsToLineId with "line", and neither otherwise',
  },
};

const camel = (snake: string): string => snake.replace(/_([a-z0-9])/g, (_, c: string) => c.toUpperCase());

/** A broken constraint as the refusal it stands for; anything else as it came. */
export function asRefusal(error: unknown): unknown {
  if (!(error instanceof pg.DatabaseError)) return error;
  const problem = problemOf(error);
  return problem ? Object.assign(new Refused(problem), { cause: error }) : error;
}

function problemOf(error: pg.DatabaseError): Problem | null {
  const constraint = error.constraint ?? '';
  const table = error.table ?? 'record';
  switch (error.code) {
    case '23505': // unique
    case '23P01': {
      // exclusion
      const known = CLASHES[constraint];
      if (!known && constraint.endsWith('_pkey')) {
        return {
          code: 'id-taken',
          resource: table,
          id: /\(([0-9a-f-]{36})\)/.exec(error.detail ?? '')?.[1] ?? '',
        };
      }
      return {
        code: 'clash',
        constraint,
        ...(known ?? { detail: `There is such a ${table} already.`, remedy: 'Change that one instead.' }),
      };
    }
    case '23503': {
      const column = /Key \((\w+)\)=\(([^)]*)\)/.exec(error.detail ?? '');
      if (/is still referenced/.test(error.detail ?? '')) {
        return {
          code: 'clash',
          constraint,
          detail: `Other records rest on this ${table}.`,
          remedy: 'Archive or end it instead.',
        };
      }
      const field = camel(column?.[1] ?? 'id');
      return {
        code: 'unknown-reference',
        faults: [
          {
            pointer: `#/${field}`,
            detail: `nothing there has the id ${column?.[2] ?? ''}`,
            remedy: `give the id of an existing record as ${field}`,
          },
        ],
      };
    }
    case '23514': {
      const rule = RULES[constraint];
      return {
        code: 'rule-broken',
        rule: constraint,
        faults: [
          rule ?? {
            pointer: '#',
            detail: `breaks the rule ${constraint}`,
            remedy: 'see the schema of this resource for what fits together',
          },
        ],
      };
    }
    case '55P03': // lock time-out
    case '40P01': // deadlock
      return { code: 'busy', detail: 'Someone else is changing the same thing. Try again in a moment.' };
    case '57014':
      return { code: 'busy', detail: 'The database took too long. Ask for less, or try again in a moment.' };
    default:
      return null;
  }
}
