import type { AskedFact } from '../../domain/work/missingFact.js';
import type { House, Stores } from '../house.js';
import { authorId, mayWorkOnOrder } from '../mayWorkOn.js';
import { liesAhead } from '../notAhead.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { rederiveLines } from '../rederive.js';
import { heedOutlet } from '../workLife/dischargePlans.js';
import { keepOtherWord } from '../workLife/otherWords.js';
import { countAgain } from '../workLife/urgentPitWork.js';
import type { AskedQuestion, SaidAnswer } from './questions.js';

/** What was seen, in the column's own unit. */
export interface Told {
  fact: AskedFact;
  value: string | number | boolean;
}

/** Columns of a line's own answers; make and bore are its sections'. */
const LINE_COLUMNS: Partial<Record<AskedFact, string>> = {
  staysWet: 'stays_wet',
  outlet: 'outlet',
  length: 'length_m',
};

/** What a crew says to the question of its visit. */
export interface NewAnswer {
  id: string;
  workOrderId: string;
  /** Facts that were told; one, unless nobody could tell. */
  told: Told[];
  /** Looked, and could not tell. */
  notKnown: boolean;
  at: string;
}

/**
 * The crew answers the question of its visit, once: the fact is on record and assumed no more, and what rests on it is
 * worked out anew. Who could not tell says so; another visit asks again.
 *
 * @throws {Refused} `not-found`, `not-yours`; `wrong-state` when answered; `rule-broken` for another fact.
 */
export async function answerQuestion(
  house: House,
  stores: Stores,
  actor: Actor,
  answer: NewAnswer,
): Promise<Row> {
  const { order, question } = await askedOf(house, stores, actor, answer);
  if (question.answer !== undefined)
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id: answer.workOrderId,
      state: 'answered',
      allowed: ['asked'],
      detail: `${question.answer.by} answered it.`,
    });
  return take(house, stores, actor, order, question, answer);
}

/**
 * The same by sync, where several may have answered before they were in reach: an answer counts more than none, the
 * later more than the earlier. What another person said otherwise is kept as a conflict.
 */
export async function answerLate(
  house: House,
  stores: Stores,
  actor: Actor,
  answer: NewAnswer,
): Promise<Row> {
  const { order, question } = await askedOf(house, stores, actor, answer);
  return take(house, stores, actor, order, question, answer);
}

async function askedOf(
  house: House,
  stores: Stores,
  actor: Actor,
  { workOrderId, at }: NewAnswer,
): Promise<{ order: Row; question: AskedQuestion }> {
  const order = await stores.rows.lock('work_order', workOrderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: workOrderId });
  await mayWorkOnOrder(house, stores, actor, order, at);
  if (liesAhead(house, at))
    throw ruleBroken('question', '#/answeredAt', `${at} lies in the future`, 'the moment it was seen');
  const question = order['question'] as AskedQuestion | null;
  if (question === null)
    throw ruleBroken('question', '#', 'the visit asks for nothing', 'change the record itself');
  return { order, question };
}

async function take(
  house: House,
  stores: Stores,
  actor: Actor,
  order: Row,
  question: AskedQuestion,
  { id, told, notKnown, at }: NewAnswer,
): Promise<Row> {
  if (told.length + (notKnown ? 1 : 0) !== 1)
    throw ruleBroken('question', '#', 'not exactly one answer', 'the fact asked for, or notKnown: true');
  const [fact] = told;
  if (fact !== undefined && fact.fact !== question.fact)
    throw ruleBroken(
      'question',
      `#/${fact.fact}`,
      `the visit asks for ${question.fact}`,
      `${question.fact}, or notKnown: true`,
    );
  const own: SaidAnswer = { id, value: fact?.value ?? null, by: actor.name, authorId: authorId(actor), at };
  const said = [...(question.said ?? []), own].sort(byWeight);
  const counts = said.at(-1) ?? own;
  const before = question.answer?.value ?? null;
  if (counts.id === id && counts.value !== null) await keep(stores, question, counts, before);
  for (const each of said)
    await keepOtherWord(
      stores,
      { resource: 'work_order', id: String(order['id']) },
      {
        id: each.id,
        author: each.by,
        authorId: each.authorId,
        content: { fact: question.fact, value: each.value, answeredAt: each.at },
        heardAt: house.clock.now().toISOString(),
      },
      counts,
      each.value === counts.value ? null : `${counts.by} answered ${String(counts.value)}`,
    );
  const { value, by } = counts;
  const answered: AskedQuestion = { ...question, said, answer: { value, by, at: counts.at } };
  return (await stores.rows.update('work_order', String(order['id']), { question: answered })) ?? order;
}

/** The last counts: an answer more than none, the later more than the earlier. */
const byWeight = (a: SaidAnswer, b: SaidAnswer): number =>
  Number(a.value !== null) - Number(b.value !== null) ||
  Date.parse(a.at) - Date.parse(b.at) ||
  (a.id < b.id ? -1 : 1);

/** @param before The answer that counted until now, and stands on record; null: none. */
async function keep(
  stores: Stores,
  { fact, siteId, lineId }: AskedQuestion,
  { value, at }: SaidAnswer,
  before: unknown,
): Promise<void> {
  if (lineId === null) {
    await stores.rows.update('site', siteId, { [fact]: value });
    if (fact === 'basement') await countAgain(stores, { column: 'site_id', value: siteId });
    return;
  }
  const line = await stores.rows.lock('line', lineId);
  if (!line) throw new RangeError(`question about line ${lineId}, which is not there`);
  const column = LINE_COLUMNS[fact];
  if (column === undefined) await keepOnSections(stores, lineId, { fact, value, before });
  await stores.rows.update('line', lineId, {
    ...(column === undefined ? {} : { [column]: value }),
    assumed: without(line, fact),
  });
  await rederiveLines(stores, [lineId]);
  if (fact === 'outlet') await heedOutlet(stores, lineId, at);
}

const without = (row: Row, fact: string): string[] =>
  (row['assumed'] as string[]).filter((each) => each !== fact);

/** Sections in the ground whose make nobody knew, or only the answer before. */
async function keepOnSections(
  stores: Stores,
  lineId: string,
  { fact, value, before }: { fact: AskedFact; value: unknown; before: unknown },
): Promise<void> {
  const column = fact === 'bore' ? 'bore_mm' : 'material';
  const sections = await stores.rows.all('line_section', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'removed_on', is: 'null' },
  ]);
  for (const section of sections) {
    const unknown = section[column] === null || section[column] === 'unknown';
    const wasAnswered = before !== null && section[column] === before;
    if (!unknown && !wasAnswered && !(section['assumed'] as string[]).includes(fact)) continue;
    await stores.rows.update('line_section', String(section['id']), {
      [column]: value,
      assumed: without(section, fact),
    });
  }
}
