import { daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import { pumpNeed } from '../../domain/work/temporaryPump.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { ladderLine } from './lineLadder.js';
import { type LinkedTask, makeLinkedOrder } from './linkedOrder.js';
import { standingFaults } from './pitLooks.js';
import { isRefused } from './refusedWork.js';
import { makeUrgentOrder } from './urgentPitWork.js';

/** The pit of a line, and whether a plug of the line drowns it: it does where the line is the pit's discharge. */
export async function pitOf(
  stores: Stores,
  line: Row,
): Promise<{ pitId: string | null; hasInflow: boolean }> {
  const [own] = await stores.rows.all('pit', [{ column: 'discharge_line_id', is: '=', value: line['id'] }]);
  const into =
    line['drains_to_pit_id'] === null ? null : await stores.rows.get('pit', String(line['drains_to_pit_id']));
  const pit = own ?? into;
  if (!pit) return { pitId: null, hasInflow: false };
  // A discharge that does not carry leaves its pit with whatever runs in, known or not.
  const runsIn = pit['inflow_lps'] === null || Number(pit['inflow_lps']) > 0;
  return { pitId: String(pit['id']), hasInflow: own !== undefined && runsIn };
}

export const pumpTask = (pitId: string, plan: object): LinkedTask => ({
  kind: 'temporary_pump',
  lineId: null,
  pitId,
  part: 1,
  plan,
});

/**
 * The pump that goes round a plug: an order of its own with a time to be there, which waits for nobody's yes to the
 * work on the plug; none where one runs already, no water runs in, or the client refused it.
 */
export async function setPump(
  stores: Stores,
  line: Row,
  isPlugged: boolean,
  from: { orderId: string | null; today: IsoDate; foundAt: string },
  priceBasis: string,
): Promise<Row[]> {
  const { pitId, hasInflow } = await pitOf(stores, line);
  if (pitId === null) return [];
  const [pump] = await stores.workLife.temporaryPumps(pitId);
  const state = { plugged: isPlugged, hasInflow, seenOn: pump ? from.today : null };
  if (pumpNeed(state, from.today, 1) !== 'set') return [];
  const work = { siteId: line['site_id'], lineId: line['id'], task: 'temporary_pump' } as const;
  if (await isRefused(stores, work, from.today)) return [];
  const made = await makeUrgentOrder(
    stores,
    {
      pitId,
      tasks: [pumpTask(pitId, { set: true })],
      code: 'pump_round_plug',
      because: `${String(line['name'])} is plugged and water runs into its pit: a pump goes round it first`,
      backupWorks: false,
      priceBasis,
    },
    from,
  );
  return made === null ? [] : [made];
}

/**
 * Every temporary pump that is in: seen to while its line is shut or dug, taken out once it carries again.
 *
 * @returns Number of orders made.
 */
export async function orderPumpChecks(house: House, stores: Stores, day: IsoDate): Promise<number> {
  const { digs } = await ownerSettings(stores);
  let made = 0;
  for (const pump of await stores.workLife.temporaryPumps()) {
    const line =
      pump['discharge_line_id'] === null
        ? null
        : await stores.rows.get('line', String(pump['discharge_line_id']));
    const plugged =
      line === null ||
      pump['dug'] === true ||
      (await ladderLine(stores, line)).plugged !== null ||
      (await standingFaults(stores, String(pump['id']))).includes('floatCycled');
    const seenOn = house.zone.dayOf(new Date(String(pump['seen_at'])));
    const need = pumpNeed({ plugged, hasInflow: true, seenOn }, day, digs.pumpCheckDays);
    if (need === null) continue;
    const order = await makeLinkedOrder(
      stores,
      {
        siteId: String(pump['site_id']),
        cause: 'follow_up',
        becauseOf: [
          {
            code: `temporary_pump_${need}`,
            facts: { pitId: pump['id'], seenOn },
            text:
              need === 'check'
                ? `the temporary pump was last seen to on ${seenOn}, ${daysBetween(seenOn, day)} days ago`
                : 'the line carries again: the temporary pump comes out',
          },
        ],
        tasks: [pumpTask(String(pump['id']), { [need]: true })],
        notBefore: day,
        wantedBy: day,
        followsId: null,
        followsAfterDays: 0,
        returnsForId: String(pump['order_id']),
        priceBasis: String(pump['price_basis']),
        waitsFor: [],
        // Its price and its water were settled when it was set.
        covered: true,
      },
      day,
    );
    if (order !== null) made++;
  }
  return made;
}
