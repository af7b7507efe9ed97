import { v7 as newId } from 'uuid';
import { beyondEnd } from '../domain/readings/fitsLine.js';
import type { CameBack, FlowProven, TaskKind } from '../domain/words.js';
import { CLEANING_TASKS, cleans } from '../domain/work/cleaningTasks.js';
import type { House, Stores } from './house.js';
import { authorId, mayNameCrew, mayWorkOn } from './mayWorkOn.js';
import { liesAhead } from './notAhead.js';
import { refuseForeignOrder } from './ownOrder.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused, ruleBroken } from './problems.js';
import { raiseLate } from './workLife/raisedByVisit.js';
import { settlePlug } from './workLife/settledPlug.js';

export interface NewClean {
  id: string | null;
  lineId: string | null;
  pitId: string | null;
  cleanedAt: string;
  task: TaskKind | null;
  crewId: string | null;
  workOrderId: string | null;
  flowProven: FlowProven | null;
  cameBack: CameBack | null;
  passes: number | null;
  nozzleStoppedM: number | null;
  waterL: number | null;
  waterWentTo: string | null;
  note: string | null;
}

/** Records that a line or pit was cleaned then, measured or not. */
export async function recordClean(
  house: House,
  stores: Stores,
  actor: Actor,
  clean: NewClean,
  pointer = '#',
): Promise<Row> {
  const faults: FieldFault[] = [];
  if ((clean.lineId === null) === (clean.pitId === null)) {
    faults.push({
      pointer: `${pointer}/lineId`,
      detail: 'one line or one pit is cleaned',
      remedy: 'give lineId or pitId',
    });
  }
  if (liesAhead(house, clean.cleanedAt)) {
    faults.push({
      pointer: `${pointer}/cleanedAt`,
      detail: `${clean.cleanedAt} lies in the future`,
      remedy: 'the moment the clean was done',
    });
  }
  if (clean.task !== null && !cleans(clean.task))
    faults.push({
      pointer: `${pointer}/task`,
      detail: `${clean.task} cleans nothing`,
      remedy: `one of ${CLEANING_TASKS.join(', ')}`,
    });
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'clean', faults });
  const [table, id] = clean.lineId !== null ? ['line', clean.lineId] : ['pit', clean.pitId ?? ''];
  const thing = await stores.rows.get(table, id);
  if (!thing) {
    throw new Refused({
      code: 'unknown-reference',
      faults: [
        {
          pointer: `${pointer}/${table}Id`,
          detail: `there is no ${table} ${id}`,
          remedy: `give the id of a recorded ${table}`,
        },
      ],
    });
  }
  await mayWorkOn(house, stores, actor, String(thing['site_id']), clean.cleanedAt);
  await mayNameCrew(house, stores, actor, clean.crewId, clean.cleanedAt);
  await refuseForeignOrder(stores, clean.workOrderId, thing, pointer);
  const lengthM = typeof thing['length_m'] === 'number' ? thing['length_m'] : null;
  const beyond = beyondEnd(clean.nozzleStoppedM, lengthM);
  if (beyond !== null)
    throw ruleBroken('place-on-line', `${pointer}/nozzleStopped`, beyond.detail, beyond.remedy);
  const recorded = await stores.rows.insert('clean', {
    id: clean.id ?? newId(),
    line_id: clean.lineId,
    pit_id: clean.pitId,
    cleaned_at: clean.cleanedAt,
    received_at: house.clock.now().toISOString(),
    author: actor.name,
    author_id: authorId(actor),
    crew_id: clean.crewId,
    work_order_id: clean.workOrderId,
    task: clean.task,
    flow_proven: clean.flowProven,
    came_back: clean.cameBack,
    passes: clean.passes,
    nozzle_stopped_m: clean.nozzleStoppedM,
    water_l: clean.waterL,
    water_went_to: clean.waterWentTo,
    note: clean.note,
  });
  await raiseLate(house, stores, clean.workOrderId, clean.cleanedAt, thing['site_id']);
  if (clean.lineId !== null && clean.workOrderId === null)
    await settlePlug(
      stores,
      clean.lineId,
      `the line was opened by the clean of ${house.zone.dayOf(new Date(clean.cleanedAt))}`,
    );
  return recorded;
}
