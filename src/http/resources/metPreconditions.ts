import { isDeepStrictEqual } from 'node:util';
import { z } from 'zod';
import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import { PRECONDITION_STATES, type PreconditionKind, type Role } from '../../domain/words.js';
import {
  MET_ELSEWHERE,
  missingFacts,
  WAIVER_FACTS,
  wrongFacts,
} from '../../domain/work/preconditionRules.js';
import type { Field } from '../fields.js';
import { instant, oneLine, text } from '../shapes.js';

const fact = [z.number(), z.boolean(), z.null()] as const;
/** The plan an order went by until an outlet was seen that asks for a decision; it comes back where that was wrong. */
const planBefore = z
  .strictObject({
    state: z.enum(PRECONDITION_STATES),
    met_at: instant.nullable(),
    met_by: z.string().nullable(),
    facts: z.record(z.string(), z.union([z.string(), ...fact])),
  })
  .meta({ id: 'PlanBefore', description: 'Kept and given back by the service; never changed by hand.' });

/** What is to be decided, or what met it. */
export const preconditionFacts: Field = {
  schema: z.record(oneLine(60), z.union([text(2000), ...fact, planBefore])),
  view: z.record(z.string(), z.union([z.string(), ...fact, planBefore])),
  nullable: false,
};

const same = (a: unknown, b: unknown): boolean => JSON.stringify(a ?? null) === JSON.stringify(b ?? null);

/**
 * A precondition is met with what makes it true: a quote with its lines, its most, by whom and when; a locate ticket
 * and a discharge plan by their own operations alone. The owner waives, with a reason and a name.
 *
 * @throws {Refused} `rule-broken`.
 */
export function refuseUnmet(row: Row, old: Row | null, roles: readonly Role[]): void {
  const kind = row['kind'] as PreconditionKind;
  const facts = (row['facts'] ?? {}) as Record<string, unknown>;
  const changed = (column: string) => !same(row[column], old?.[column]);
  const own = MET_ELSEWHERE[kind];
  refusePlanBefore(facts, (old?.['facts'] ?? {}) as Record<string, unknown>);
  if (kind === 'locate_ticket' && row['state'] === 'waived' && changed('state'))
    throw refuse('#/state', 'a locate ticket is never waived', `${own}; an emergency is called too`);
  if (own !== undefined && row['state'] !== 'waived') {
    if (row['state'] === 'met' && (changed('state') || changed('facts')))
      throw refuse('#/state', `${kind} is not met by hand`, own);
    for (const [column, field] of [
      ['valid_from', 'validFrom'],
      ['valid_to', 'validTo'],
      ['met_at', 'metAt'],
      ['met_by', 'metBy'],
    ] as const)
      if (changed(column) && row[column] != null)
        throw refuse(`#/${field}`, `${field} of ${kind} is not set by hand`, own);
    return;
  }
  if (row['state'] === 'waived' && (changed('state') || changed('facts'))) refuseWaiver(facts, roles);
  if (row['state'] === 'met' && (changed('state') || changed('facts'))) refuseFacts(kind, facts);
}

const refuse = (pointer: string, detail: string, remedy: string) =>
  ruleBroken('preconditions', pointer, detail, remedy);

function refusePlanBefore(facts: Record<string, unknown>, old: Record<string, unknown>): void {
  for (const [name, value] of Object.entries(facts)) {
    const isPlan = name === 'before' || (typeof value === 'object' && value !== null);
    if (isPlan && !isDeepStrictEqual(value, old[name]))
      throw refuse(`#/facts/${name}`, 'is kept by the service', 'what is on record, or nothing');
  }
}

function refuseWaiver(facts: Record<string, unknown>, roles: readonly Role[]): void {
  if (!roles.includes('owner'))
    throw refuse('#/state', 'only the owner waives a precondition', 'meet it, or ask the owner');
  const missing = WAIVER_FACTS.filter((name) => typeof facts[name] !== 'string' || facts[name].trim() === '');
  if (missing.length > 0)
    throw refuse('#/facts', `${missing.join(', ')} missing`, 'say because and waivedBy, in words');
}

function refuseFacts(kind: PreconditionKind, facts: Record<string, unknown>): void {
  const missing = missingFacts(kind, facts);
  if (missing.length > 0)
    throw refuse('#/facts', `${missing.join(', ')} missing`, `say ${missing.join(', ')}, or waive it`);
  const [wrong] = wrongFacts(kind, facts);
  if (wrong) throw refuse(`#/facts/${wrong.name}`, `${wrong.name} is not ${wrong.right}`, wrong.right);
}
