import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { PlugCause } from '../../domain/words.js';
import {
  deadParts,
  faultTexts,
  nowAtFault,
  nowAtPlug,
  type PitAnswers,
  pitRepair,
  type WhatNow,
} from '../../domain/work/pitFaults.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { makeLinkedOrder } from './linkedOrder.js';
import { looksAt, standingFaults } from './pitLooks.js';
import { isRefused } from './refusedWork.js';
import { pitOf, pumpTask } from './temporaryPumps.js';
import { makeUrgentOrder } from './urgentPitWork.js';

/** A part found dead is told at once. */
export async function tellPitFault(stores: Stores, pit: Row, look: Row): Promise<void> {
  const dead = deadParts(look['raw'] as PitAnswers);
  if (dead.length === 0) return;
  await tell(stores, {
    type: 'pit_fault',
    subjectId: String(pit['id']),
    once: String(look['id']),
    facts: {
      address: String((await stores.rows.get('site', String(pit['site_id'])))?.['address']),
      place: (pit['place'] ?? null) as string | null,
      faults: faultTexts(dead),
      testedAt: String(look['observed_at']),
      inspectionId: String(look['id']),
    },
    about: {
      siteId: String(pit['site_id']),
      workOrderId: look['work_order_id'] as string | null,
      crewId: look['crew_id'] as string | null,
    },
  });
}

/**
 * What stands dead at a pit is ordered the same day: water taken out first where nothing starts the pump, then its
 * repair and a test, by what it leads to.
 */
export async function orderPitRepair(
  stores: Stores,
  pitId: string,
  from: { orderId: string | null; today: IsoDate; foundAt: string },
): Promise<void> {
  const dead = await standingFaults(stores, pitId);
  const repair = pitRepair(dead);
  const pit = await stores.rows.get('pit', pitId);
  if (repair === null || !pit) return;
  const work = { siteId: pit['site_id'], lineId: null, task: 'fit_pump' } as const;
  if (await isRefused(stores, work, from.today)) return;
  const because = faultTexts(dead).join('; ');
  const [pumpIn] = await stores.workLife.temporaryPumps(pitId);
  if (repair.pumpFirst && runsIn(pit) && !pumpIn)
    await makeUrgentOrder(
      stores,
      {
        pitId,
        tasks: [pumpTask(pitId, { set: true })],
        code: 'pump_does_not_start',
        because: `${because}: water runs in and the pump does not start`,
        backupWorks: (await answered(stores, pitId)).backupWorks === true,
        priceBasis: 'time_and_material',
      },
      from,
    );
  await makeLinkedOrder(
    stores,
    {
      siteId: String(pit['site_id']),
      cause: 'follow_up',
      becauseOf: [{ code: 'pit_fault', facts: { pitId, parts: dead }, text: because }],
      tasks: repair.tasks.map((task) => ({ ...task, lineId: null, pitId, part: 1 })),
      notBefore: from.today,
      wantedBy: addDays(from.today, repair.withinDays),
      followsId: null,
      followsAfterDays: 0,
      returnsForId: from.orderId,
      priceBasis: 'time_and_material',
      beyondTerms: true,
      waitsFor: [],
    },
    from.today,
  );
}

async function answered(stores: Stores, pitId: string): Promise<PitAnswers> {
  const looks = await looksAt(stores, pitId);
  return (looks.at(-1)?.['raw'] ?? {}) as PitAnswers;
}

const runsIn = (pit: Row): boolean => pit['inflow_lps'] === null || Number(pit['inflow_lps']) > 0;

/** What the crew does at once about what it found; null: nothing. */
export async function whatNow(stores: Stores, look: Row): Promise<WhatNow | null> {
  if (look['pit_id'] !== null) {
    const pit = (await stores.rows.get('pit', String(look['pit_id']))) ?? {};
    return nowAtFault(deadParts(look['raw'] as PitAnswers), String(pit['id']), runsIn(pit));
  }
  if (look['plugged'] !== true) return null;
  const line = (await stores.rows.get('line', String(look['line_id']))) ?? {};
  const { pitId, hasInflow } = await pitOf(stores, line);
  return nowAtPlug(look['plug_cause'] as PlugCause, hasInflow ? pitId : null);
}
