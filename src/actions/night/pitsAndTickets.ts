import { addDays, dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import { dueDateOfPit, type PitTest } from '../../domain/fouling/dueDateOfPit.js';
import { ochreAt } from '../../domain/fouling/policy.js';
import type { Deposit } from '../../domain/words.js';
import { mustRenew } from '../../domain/work/locateTicket.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { makeLinkedOrder } from '../workLife/linkedOrder.js';
import { ruleOf } from '../workLife/locateTickets.js';
import { basisOf } from '../workLife/priceBasis.js';
import { isRefused } from '../workLife/refusedWork.js';

/** Orders for pits are made this long before their day, as those for lines are (common practice, no source). */
const LEAD_DAYS = 21;
const EARLY_DAYS = 14;

/** Dates pits for their next test: those with news, and those that come near. */
export async function datePits(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<number> {
  const rows = await stores.workLife.pitsToDate(addDays(day, LEAD_DAYS));
  const dates = rows.map((row) => ({ id: row['id'], due_on: dueOf(house, row, day, settings).dueOn }));
  return stores.workLife.setPitDates(dates);
}

function dueOf(house: House, row: Row, day: IsoDate, settings: OwnerSettings) {
  const testedOn = row['last_tested_on'] === null ? null : String(row['last_tested_on']);
  const lookedOn = row['tested_at'] === null ? null : house.zone.dayOf(new Date(String(row['tested_at'])));
  const looked = (row['test'] ?? {}) as Partial<PitTest>;
  // What was found at a look counts until a visit after it tested the pump.
  const newest = lookedOn !== null && (testedOn === null || lookedOn >= testedOn) ? looked : {};
  const lastDay = [testedOn, lookedOn].flatMap((each) => (each === null ? [] : [dayNumber(each)]));
  const due = dueDateOfPit(
    {
      lastTest: lastDay.length === 0 ? null : { day: Math.max(...lastDay), ...FINE, ...newest },
      bookedSinceDay: dayNumber(house.zone.dayOf(new Date(String(row['created_at'])))),
      ochre: ochreAt(
        row['iron'] === null ? null : Number(row['iron']),
        (row['deposits'] ?? []) as Deposit[],
        settings,
      ),
    },
    dayNumber(day),
    settings,
  );
  return { dueOn: isoDate(due.dueDay), reason: due.reason };
}

const FINE = {
  floatCycled: null,
  checkValveHolds: null,
  backupWorks: null,
  alarmWorks: null,
  sludgeShare: null,
} as const;

/** Pits that come due before any visit to their lines get a visit of their own. */
export async function orderPits(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
): Promise<number> {
  const rows = await stores.workLife.pitsToDate(addDays(day, LEAD_DAYS));
  let made = 0;
  for (const row of rows.filter(({ ordered }) => ordered !== true)) {
    const { dueOn, reason } = dueOf(house, row, day, settings);
    if (dueOn > addDays(day, LEAD_DAYS)) continue;
    const pitId = String(row['id']);
    const work = { siteId: row['site_id'], lineId: null, task: 'test_pump' } as const;
    if (await isRefused(stores, work, dueOn < day ? day : dueOn)) continue;
    const notBefore = addDays(dueOn, -EARLY_DAYS);
    const tasks = [
      { kind: 'clear_pit' as const, lineId: null, pitId, part: 1, plan: {} },
      { kind: 'test_pump' as const, lineId: null, pitId, part: 1, plan: { cycleTheFloat: true } },
    ];
    const priceBasis = await basisOf(stores, String(row['site_id']), tasks, day);
    const order = await makeLinkedOrder(
      stores,
      {
        siteId: String(row['site_id']),
        cause: 'due',
        becauseOf: [{ ...reason, facts: { ...reason.facts, pitId } }],
        tasks,
        notBefore: notBefore < day ? day : notBefore,
        wantedBy: dueOn < day ? day : dueOn,
        followsId: null,
        followsAfterDays: 0,
        returnsForId: null,
        priceBasis,
        beyondTerms: priceBasis === 'time_and_material',
        waitsFor: [],
      },
      day,
    );
    if (order) made++;
  }
  return made;
}

/**
 * Raises tickets that must be called again now to be good before they end, and opens the precondition of those that
 * ended: nobody is sent to dig on them.
 */
export async function raiseTickets(house: House, stores: Stores, day: IsoDate): Promise<number> {
  let raised = 0;
  for (const ticket of await stores.workLife.expiringTickets()) {
    const lastDay = String(ticket['good_to']);
    const id = String(ticket['id']);
    if (lastDay < day) {
      await reopen(stores, id, lastDay);
    } else if (!mustRenew(lastDay, day, ruleOf(ticket), house.zone)) continue;
    const workOrderId = String(ticket['work_order_id']);
    await tell(stores, {
      type: 'locate_ticket_ends',
      subjectId: id,
      once: `${id}:${lastDay < day ? 'ended' : 'soon'}`,
      facts: { workOrderId, orderNumber: Number(ticket['number']), lastDay },
      about: { workOrderId, siteId: String(ticket['site_id']) },
    });
    raised++;
  }
  return raised;
}

/** What was met by a ticket that ended is open again, where the work is still to come. */
async function reopen(stores: Stores, ticketId: string, lastDay: IsoDate): Promise<void> {
  for (const row of await stores.rows.all('precondition', [
    { column: 'kind', is: '=', value: 'locate_ticket' },
    { column: 'state', is: '=', value: 'met' },
    { column: 'valid_to', is: '>=', value: lastDay },
  ])) {
    const facts = row['facts'] as Record<string, unknown>;
    if (facts['ticketId'] !== ticketId) continue;
    const order = await stores.rows.get('work_order', String(row['work_order_id']));
    if (order?.['state'] === 'done' || order?.['state'] === 'withdrawn') continue;
    await stores.rows.update('precondition', String(row['id']), {
      state: 'open',
      met_at: null,
      met_by: null,
      facts: { ...facts, open: `the ticket ended on ${lastDay}` },
    });
  }
}
