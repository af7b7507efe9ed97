import { v7 as newId } from 'uuid';
import { settingsWith } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import { heldSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import { answerWhatIf } from './answerWhatIf.js';
import type { WhatIf, WhatIfRuns } from './whatIfAsk.js';

/** So many may wait for their turn: each takes minutes. */
const MOST_WAITING = 5;

/**
 * Puts a question on record that is still to be worked out, and hands it to the jobs.
 *
 * @throws {Refused} `clash` when too many wait; `rule-broken` for a crew that is not there or numbers that do not fit.
 */
export async function askWhatIf(
  stores: Stores,
  asked: WhatIf,
  runs: WhatIfRuns,
  asker: { name: string; at: Date },
): Promise<Row> {
  const waiting = await stores.rows.count('what_if', [
    { column: 'state', is: 'in', value: ['waiting', 'running'] },
  ]);
  if (waiting >= MOST_WAITING)
    throw new Refused({
      code: 'clash',
      constraint: 'what_ifs_waiting',
      detail: `${waiting} questions wait for their turn.`,
      remedy: 'Wait until one of them is answered.',
    });
  await refuseUnknownCrews(stores, asked);
  const { settings } = await heldSettings(stores);
  const { intervals } = settingsWith(asked.settings, settings);
  if (intervals.minDays > intervals.maxDays)
    throw ruleBroken(
      'settings',
      '#/settings/intervals/minDays',
      `${intervals.minDays} is more than maxDays ${intervals.maxDays}`,
      `at most ${intervals.maxDays}`,
    );
  const id = newId();
  await stores.jobs.add('what_if', { whatIfId: id }, `what_if:${id}`);
  return stores.rows.insert('what_if', {
    id,
    asked: JSON.stringify(asked),
    seed: runs.seed,
    runs: runs.runs,
    weeks: runs.weeks,
    asked_by: asker.name,
    // By the clock that says when it is finished, not the database's.
    created_at: asker.at.toISOString(),
  });
}

async function refuseUnknownCrews(stores: Stores, { lostCrews }: WhatIf): Promise<void> {
  for (const [i, { crewId, fromDay, toDay }] of lostCrews.entries()) {
    const crew = await stores.rows.get('crew', crewId);
    if (!crew || crew['archived_on'] !== null)
      throw ruleBroken(
        'what-if-crew',
        `#/lostCrews/${i}/crewId`,
        'is no crew in service',
        'the id of a crew',
      );
    if (fromDay > toDay)
      throw ruleBroken(
        'what-if-crew',
        `#/lostCrews/${i}/toDay`,
        `lies before ${fromDay}`,
        `a day from ${fromDay} on`,
      );
  }
}

/**
 * Works out a question on record; one that is answered, or worked on by another meanwhile, is left alone.
 *
 * @param beforeEnd Done before the answer is written: what is still on its way to the record would come after it.
 */
export async function workOutWhatIf(
  house: House,
  id: string,
  onProgress: (share: number) => void,
  beforeEnd: () => Promise<void> = async () => undefined,
): Promise<void> {
  const row = await house.stores.rows.get('what_if', id);
  if (!row || row['state'] === 'done' || row['state'] === 'failed') return;
  await house.stores.rows.update('what_if', id, { state: 'running' });
  const answer = await answerWhatIf(
    house,
    house.zone.dayOf(house.clock.now()),
    row['asked'] as WhatIf,
    { runs: Number(row['runs']), weeks: Number(row['weeks']), seed: Number(row['seed']) },
    { onProgress },
  );
  await beforeEnd();
  if (answer === null)
    return failWhatIf(
      house,
      id,
      'No night has been run by this version of the estimator: there is nothing to go by.',
    );
  await house.stores.rows.update('what_if', id, {
    state: 'done',
    progress: 1,
    answer: JSON.stringify(answer),
    finished_at: house.clock.now().toISOString(),
  });
}

/** A question that could not be worked out says why. */
export async function failWhatIf(house: House, id: string, because: string): Promise<void> {
  await house.stores.rows.update('what_if', id, {
    state: 'failed',
    failed_because: because,
    finished_at: house.clock.now().toISOString(),
  });
}
