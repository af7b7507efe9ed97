import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Basement } from '../../domain/words.js';
import { pitHoldsL, respondWithinMinutes } from '../../domain/work/waterUrgency.js';
import type { Stores } from '../house.js';
import { AHEAD } from '../openOrder.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { type LinkedTask, makeLinkedOrder } from './linkedOrder.js';

/** Why water is taken out of a pit at once; the first that is told of gives the order its price. */
const URGENT = ['pump_round_plug', 'pump_does_not_start'] as const;
type UrgentCode = (typeof URGENT)[number];

/** Work on a pit that cannot wait for the night. */
export interface UrgentPitWork {
  pitId: string;
  tasks: readonly LinkedTask[];
  code: UrgentCode;
  because: string;
  backupWorks: boolean;
  priceBasis: string;
}

/** One reason of such an order, as the order keeps it. */
interface UrgentReason {
  code: UrgentCode;
  facts: { pitId: string; backupWorks: boolean; withinMinutes: number; foundAt: string };
  text: string;
}

/**
 * An order with a time to be there, by what runs into the pit and what it would flood; the office is told. Where one is
 * ahead for another reason it has both, and the sooner time of the two.
 *
 * @returns The order made; null: it was there.
 */
export async function makeUrgentOrder(
  stores: Stores,
  { pitId, tasks, code, because, backupWorks, priceBasis }: UrgentPitWork,
  from: { orderId: string | null; today: IsoDate; foundAt: string },
): Promise<Row | null> {
  const pit = (await stores.rows.get('pit', pitId)) ?? {};
  const withinMinutes = await minutesFor(stores, pit, backupWorks);
  const foundAt = new Date(from.foundAt).toISOString();
  const reason: UrgentReason = { code, facts: { pitId, backupWorks, withinMinutes, foundAt }, text: because };
  const known = await urgentOrderAt(stores, pitId);
  if (known !== null) {
    await addReason(stores, known, reason, priceBasis, from.orderId);
    return null;
  }
  const order = await makeLinkedOrder(
    stores,
    {
      siteId: String(pit['site_id']),
      cause: 'plugged',
      becauseOf: [reason],
      tasks,
      notBefore: from.today,
      wantedBy: from.today,
      respondBy: respondBy([reason]),
      followsId: null,
      followsAfterDays: 0,
      returnsForId: from.orderId,
      priceBasis,
      waitsFor: [],
    },
    from.today,
  );
  if (order !== null) await tellUrgent(stores, order, reason);
  return order;
}

const respondBy = (reasons: readonly UrgentReason[]): string =>
  new Date(
    Math.min(...reasons.map(({ facts }) => Date.parse(facts.foundAt) + facts.withinMinutes * 60_000)),
  ).toISOString();

async function minutesFor(stores: Stores, pit: Row, backupWorks: boolean): Promise<number> {
  const site = (await stores.rows.get('site', String(pit['site_id']))) ?? {};
  return respondWithinMinutes(
    {
      inflowLps: number(pit['inflow_lps']),
      holdsL: pitHoldsL(number(pit['diameter_mm']), number(pit['depth_mm'])),
      basement: site['basement'] as Basement,
      backupWorks,
    },
    (await ownerSettings(stores)).calls,
  );
}

const number = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);

const isUrgent = (reason: { code: string }): reason is UrgentReason =>
  URGENT.some((code) => code === reason.code);

const urgentReasons = (order: Row): UrgentReason[] =>
  (order['because_of'] as { code: string }[]).filter(isUrgent);

/** The order still ahead that takes the water out of a pit for such a reason. */
async function urgentOrderAt(stores: Stores, pitId: string): Promise<Row | null> {
  const open = await stores.rows.all('work_order_task', [
    { column: 'pit_id', is: '=', value: pitId },
    { column: 'kind', is: '=', value: 'temporary_pump' },
    { column: 'open', is: '=', value: true },
  ]);
  const orders = await stores.rows.all('work_order', [
    { column: 'id', is: 'in', value: open.map((task) => task['work_order_id']) },
    { column: 'state', is: 'in', value: AHEAD },
  ]);
  return orders.find((order) => urgentReasons(order).length > 0) ?? null;
}

/** Reasons stand in one order, whichever was heard of first; its price is by what is known of its visit now. */
async function addReason(
  stores: Stores,
  order: Row,
  reason: UrgentReason,
  priceBasis: string,
  raisedBy: string | null,
): Promise<void> {
  const there = urgentReasons(order);
  if (there.some(({ code }) => code === reason.code)) {
    const isPriced = there[0]?.code === reason.code && order['returns_for_id'] === raisedBy;
    if (isPriced && order['price_basis'] !== priceBasis)
      await stores.rows.update('work_order', String(order['id']), { price_basis: priceBasis });
    return;
  }
  const reasons = [...there, reason].sort((a, b) => URGENT.indexOf(a.code) - URGENT.indexOf(b.code));
  const others = (order['because_of'] as { code: string }[]).filter((each) => !isUrgent(each));
  await stores.rows.update('work_order', String(order['id']), {
    because_of: JSON.stringify([...reasons, ...others]),
    respond_by: respondBy(reasons),
    ...(reasons[0] === reason ? { price_basis: priceBasis } : {}),
  });
  await tellUrgent(stores, order, reason);
}

async function tellUrgent(stores: Stores, order: Row, { code, facts, text }: UrgentReason): Promise<void> {
  const id = String(order['id']);
  const site = (await stores.rows.get('site', String(order['site_id']))) ?? {};
  await tell(stores, {
    type: 'urgent_work',
    subjectId: id,
    once: `${id}:${code}`,
    facts: {
      orderNumber: Number(order['number']),
      address: String(site['address']),
      because: text,
      withinMinutes: facts.withinMinutes,
      respondBy: respondBy([{ code, facts, text }]),
    },
    about: { workOrderId: id, siteId: String(site['id']) },
  });
}

/**
 * What the time to be there rests on is known better than when the work was raised: it is counted again. A time that
 * somebody set otherwise stays.
 *
 * @param at Orders that are ahead and take water out of a pit: of a site, or raised by a visit of an order.
 * @param found Reasons found at the first moment were found at the second.
 */
export async function countAgain(
  stores: Stores,
  at: { column: 'site_id' | 'returns_for_id'; value: unknown },
  found?: { heardAs: string; at: string },
): Promise<void> {
  const ahead = await stores.rows.all('work_order', [
    { ...at, is: '=' },
    { column: 'state', is: 'in', value: AHEAD },
  ]);
  for (const order of ahead) {
    const before = urgentReasons(order);
    if (before.length === 0 || order['respond_by'] === null) continue;
    if (Date.parse(String(order['respond_by'])) !== Date.parse(respondBy(before))) continue;
    const reasons: UrgentReason[] = [];
    for (const reason of before) reasons.push(await asKnownNow(stores, reason, found));
    const others = (order['because_of'] as { code: string }[]).filter((each) => !isUrgent(each));
    await stores.rows.update('work_order', String(order['id']), {
      because_of: JSON.stringify([...reasons, ...others]),
      respond_by: respondBy(reasons),
    });
  }
}

async function asKnownNow(
  stores: Stores,
  { code, facts, text }: UrgentReason,
  found: { heardAs: string; at: string } | undefined,
): Promise<UrgentReason> {
  const pit = (await stores.rows.get('pit', facts.pitId)) ?? {};
  const withinMinutes = await minutesFor(stores, pit, facts.backupWorks);
  const isMoved = found !== undefined && Date.parse(found.heardAs) === Date.parse(facts.foundAt);
  const foundAt = isMoved ? new Date(found.at).toISOString() : facts.foundAt;
  return { code, facts: { ...facts, withinMinutes, foundAt }, text };
}
