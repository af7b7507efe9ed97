import { daysBetween, type IsoDate } from '../../domain/calendar/isoDate.js';
import { pumpNeed } from '../../domain/work/temporaryPump.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { ladderLine } from './lineLadder.js';
import { type LinkedTask, makeLinkedOrder } from './linkedOrder.js';

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

const pumpTask = (pitId: string, plan: object): LinkedTask => ({
  kind: 'temporary_pump',
  lineId: null,
  pitId,
  part: 1,
  plan,
});

/** The pump that goes in before the next rung is tried; none where one runs already or no water runs in. */
export async function pumpFirst(stores: Stores, line: Row, today: IsoDate): Promise<LinkedTask[]> {
  const { pitId, hasInflow } = await pitOf(stores, line);
  if (pitId === null) return [];
  const { plugged } = await ladderLine(stores, line);
  const [pump] = await stores.workLife.temporaryPumps(pitId);
  const state = { plugged: plugged !== null, hasInflow, seenOn: pump ? today : null };
  return pumpNeed(state, today, 1) === 'set' ? [pumpTask(pitId, { set: true })] : [];
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
      line === null || (await ladderLine(stores, line)).plugged !== null || pump['dug'] === true;
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
