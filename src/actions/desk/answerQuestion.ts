import type { AskedFact } from '../../domain/work/missingFact.js';
import type { House, Stores } from '../house.js';
import { mayWorkOn } from '../mayWorkOn.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { rederiveLines } from '../rederive.js';
import { heedOutlet } from '../workLife/dischargePlans.js';
import type { AskedQuestion } from './questions.js';

/** What was seen, in the column's own unit; null: it could not be told. */
export interface Answer {
  fact: AskedFact;
  value: string | number | boolean | null;
}

/** Columns of a line's own answers; make and bore are its sections'. */
const LINE_COLUMNS: Partial<Record<AskedFact, string>> = {
  staysWet: 'stays_wet',
  outlet: 'outlet',
  length: 'length_m',
};

/**
 * The crew answers the question of its visit: the fact is on record and assumed no more, and what rests on it is
 * worked out anew. Who could not tell says so; another visit asks again.
 *
 * @param said Reads the answer, once it is known that there is a question.
 * @throws {Refused} `not-found`, `not-yours`; `wrong-state` when answered; `rule-broken` for another fact.
 */
export async function answerQuestion(
  house: House,
  stores: Stores,
  actor: Actor,
  orderId: string,
  said: (asked: AskedFact) => Answer,
): Promise<Row> {
  const order = await stores.rows.lock('work_order', orderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: orderId });
  const now = house.clock.now().toISOString();
  await mayWorkOn(house, stores, actor, String(order['site_id']), now);
  const question = order['question'] as AskedQuestion | null;
  if (question === null)
    throw ruleBroken('question', '#', 'the visit asks for nothing', 'change the record itself');
  if (question.answer !== undefined)
    throw new Refused({
      code: 'wrong-state',
      resource: 'work_order',
      id: orderId,
      state: 'answered',
      allowed: ['asked'],
      detail: `${question.answer.by} answered it.`,
    });
  const answer = said(question.fact);
  if (question.fact !== answer.fact)
    throw ruleBroken(
      'question',
      `#/${answer.fact}`,
      `the visit asks for ${question.fact}`,
      `${question.fact}, or notKnown: true`,
    );
  if (answer.value !== null) await keep(stores, question, answer.value);
  const answered: AskedQuestion = { ...question, answer: { value: answer.value, by: actor.name, at: now } };
  return (await stores.rows.update('work_order', orderId, { question: answered })) ?? order;
}

async function keep(stores: Stores, { fact, siteId, lineId }: AskedQuestion, value: unknown): Promise<void> {
  if (lineId === null) {
    await stores.rows.update('site', siteId, { [fact]: value });
    return;
  }
  const line = await stores.rows.lock('line', lineId);
  if (!line) throw new RangeError(`question about line ${lineId}, which is not there`);
  const column = LINE_COLUMNS[fact];
  if (column === undefined) await keepOnSections(stores, lineId, fact, value);
  await stores.rows.update('line', lineId, {
    ...(column === undefined ? {} : { [column]: value }),
    assumed: without(line, fact),
  });
  await rederiveLines(stores, [lineId]);
  if (fact === 'outlet') await heedOutlet(stores, lineId);
}

const without = (row: Row, fact: string): string[] =>
  (row['assumed'] as string[]).filter((each) => each !== fact);

/** Sections in the ground whose make nobody knew. */
async function keepOnSections(
  stores: Stores,
  lineId: string,
  fact: AskedFact,
  value: unknown,
): Promise<void> {
  const column = fact === 'bore' ? 'bore_mm' : 'material';
  const sections = await stores.rows.all('line_section', [
    { column: 'line_id', is: '=', value: lineId },
    { column: 'removed_on', is: 'null' },
  ]);
  for (const section of sections) {
    const unknown = section[column] === null || section[column] === 'unknown';
    if (!unknown && !(section['assumed'] as string[]).includes(fact)) continue;
    await stores.rows.update('line_section', String(section['id']), {
      [column]: value,
      assumed: without(section, fact),
    });
  }
}
