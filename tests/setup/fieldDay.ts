import { createHash } from 'node:crypto';
import { createKey } from '../../src/actions/createKey.js';
import type { House } from '../../src/actions/house.js';
import type { RowStore } from '../../src/actions/ports.js';

/** The same id for the same name in every run. */
export function idOf(name: string): string {
  const hex = createHash('sha256').update(name).digest('hex');
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-7${hex.slice(13, 16)}-8${hex.slice(17, 20)}-${hex.slice(20, 32)}`;
}

export const DAY = '2026-10-01';
export const TERN = idOf('member tern');
export const WREN = idOf('member wren');

const CREW = [
  [TERN, 'Tern'],
  [WREN, 'Wren'],
] as const;

/** A bearer text for each of the two, by the id of the person. */
export async function keysOfCrew(house: House): Promise<Map<string, string>> {
  const keys = new Map<string, string>();
  for (const [memberId, name] of CREW) {
    const { key } = await house.transact({ name: 'test' }, (stores) =>
      createKey(stores, { name, roles: ['technician'], memberId, expiresAt: null }),
    );
    keys.set(memberId, key);
  }
  return keys;
}

/** One crew of two with a route of so many sites on one day, each with a pit, a discharge and a footing drain. */
export async function layFieldDay(rows: RowStore, visits: number): Promise<void> {
  await rows.insert('depot', { id: idOf('depot'), name: 'Yard', latitude: 44, longitude: -90 });
  await rows.insert('crew', { id: idOf('crew'), name: 'Heron', depot_id: idOf('depot'), people: 2 });
  for (const [id, name] of CREW) {
    await rows.insert('member', { id, name });
    await rows.insert('crew_membership', {
      id: idOf(`membership ${name}`),
      crew_id: idOf('crew'),
      member_id: id,
      from_day: '2026-01-01',
    });
  }
  await rows.insert('plan', {
    id: idOf('plan'),
    state: 'accepted',
    from_day: DAY,
    to_day: DAY,
    because: 'test',
    asked_by: 'test',
    seed: 1,
    search_seconds: 1,
  });
  await rows.insert('route', {
    id: idOf('route'),
    plan_id: idOf('plan'),
    crew_id: idOf('crew'),
    day: DAY,
    state: 'live',
  });
  for (let n = 0; n < visits; n++) await layVisit(rows, n);
}

async function layVisit(rows: RowStore, n: number): Promise<void> {
  const of = (what: string) => idOf(`${what} ${n}`);
  await rows.insert('site', { id: of('site'), address: `${n} Marsh Gate`, town: 'Brindle', area: 'Brindle' });
  await rows.insert('system', { id: of('system'), site_id: of('site'), name: 'Pit', kind: 'pit' });
  await rows.insert('line', {
    id: of('discharge'),
    site_id: of('site'),
    system_id: of('system'),
    name: 'Discharge',
    kind: 'sump_discharge',
    length_m: 20,
    drains_to: 'outlet',
  });
  await rows.insert('line_section', {
    id: of('section'),
    line_id: of('discharge'),
    material: 'pvc',
    bore_mm: 75,
    assumed: ['bore'],
  });
  await rows.insert('pit', {
    id: of('pit'),
    site_id: of('site'),
    system_id: of('system'),
    discharge_line_id: of('discharge'),
  });
  await rows.insert('line', {
    id: of('footing'),
    site_id: of('site'),
    system_id: of('system'),
    name: 'Footing',
    kind: 'footing_drain',
    length_m: 30,
    drains_to: 'pit',
    drains_to_pit_id: of('pit'),
  });
  await rows.insert('work_order', {
    id: of('order'),
    site_id: of('site'),
    cause: 'due',
    minutes: 90,
    state: 'placed',
  });
  const tasks = [
    ['footing clean', 'jet', 'footing'],
    ['discharge clean', 'jet', 'discharge'],
    ['pump', 'test_pump', null],
  ] as const;
  for (const [i, [name, kind, line]] of tasks.entries())
    await rows.insert('work_order_task', {
      id: of(name),
      work_order_id: of('order'),
      position: i + 1,
      kind,
      line_id: line === null ? null : of(line),
      pit_id: line === null ? of('pit') : null,
      minutes: 30,
    });
  await rows.insert('stop', {
    id: of('stop'),
    route_id: idOf('route'),
    position: n + 1,
    travel_s: 0,
    travel_m: 0,
    kind: 'visit',
    work_order_id: of('order'),
    arrives_at: `${DAY}T14:00:00Z`,
    starts_at: `${DAY}T14:00:00Z`,
    ends_at: `${DAY}T15:00:00Z`,
    live: true,
  });
}

/** What each visit asks for, and where its water is planned to go. */
export async function layOpenThings(rows: RowStore, visits: number): Promise<void> {
  for (let n = 0; n < visits; n++) {
    await rows.update('work_order', idOf(`order ${n}`), { question: questionOf(n) });
    await layPlan(rows, n);
  }
}

const askedOf = (n: number): 0 | 1 | 2 => (n % 3) as 0 | 1 | 2;
const isLeft = (n: number): boolean => n % 6 === 2;

/** What each visit asks for: where the discharge ends, how wide it is, whether there is a basement. */
function questionOf(n: number): object {
  const [fact, lineId] = (
    [
      ['outlet', idOf(`discharge ${n}`)],
      ['bore', idOf(`discharge ${n}`)],
      ['basement', null],
    ] as const
  )[askedOf(n)] as [string, string | null];
  return { fact, lineId, siteId: idOf(`site ${n}`), spreadDays: 0, text: fact, why: 'test' };
}

/** Every other order waits for a decision where its water goes; the others have the firm's standing plan. */
async function layPlan(rows: RowStore, n: number): Promise<void> {
  const of = (what: string) => idOf(`${what} ${n}`);
  const isOpen = n % 2 === 0;
  const planned = { receiver: 'own_ground', place: 'lawn', sludgeTo: null };
  await rows.insert('precondition', {
    id: of('precondition'),
    work_order_id: of('order'),
    kind: 'discharge_plan',
    ...(isOpen
      ? { facts: { decide: 'where the water goes' } }
      : {
          state: 'met',
          met_at: `${DAY}T05:00:00Z`,
          met_by: 'standing discharge plan',
          facts: { ...planned, permitRef: null, assumed: true, because: 'outlet unknown: Discharge' },
        }),
  });
  if (isOpen) return;
  await rows.insert('water_record', {
    id: of('water planned'),
    work_order_id: of('order'),
    phase: 'planned',
    assumed: true,
    receiver: 'own_ground',
    place: 'lawn',
    at: `${DAY}T05:00:00Z`,
    author: 'standing discharge plan',
  });
}

/** What the two say to the question of a visit: one thing each. */
const ANSWERS = [
  [{ outlet: 'creek' }, { outlet: 'daylight' }],
  [{ bore: { value: 70, unit: 'mm' } }, { bore: { value: 80, unit: 'mm' } }],
  [{ basement: 'finished' }, { notKnown: true }],
] as const;

export type Item = Record<string, unknown> & { id: string; kind: string; at: string };
/** An item and whose phone sends it. */
export interface SentBy {
  by: string;
  item: Item;
}

/** All that two phones bring of one visit: twenty-odd items of every kind. */
export function visitItems(n: number): SentBy[] {
  const of = (what: string) => idOf(`${what} ${n}`);
  // Five-minute steps from 12:00 UTC on; visits overlap, as nothing here rests on driving.
  const at = (minute: number) => new Date(Date.UTC(2026, 9, 1, 12, n + minute)).toISOString();
  const out: SentBy[] = [];
  const add = (by: string, kind: string, name: string, minute: number, more: object) =>
    out.push({ by, item: { kind, id: of(name), at: at(minute), ...more } });
  const order = { workOrderId: of('order') };
  add(TERN, 'start', 'start tern', 1, { ...order, cautionsSeen: true });
  add(WREN, 'start', 'start wren', 0, { ...order, cautionsSeen: true });
  if (n % 2 === 0) {
    add(WREN, 'discharge_plan', 'water plan wren', -4, { ...order, receiver: 'own_ground', place: 'hedge' });
    add(TERN, 'discharge_plan', 'water plan tern', -3, { ...order, receiver: 'caught', sludgeTo: 'depot' });
  }
  const [one, other] = ANSWERS[askedOf(n)];
  add(n % 2 === 0 ? TERN : WREN, 'answer', 'answer one', 10, { ...order, ...one });
  add(n % 2 === 0 ? WREN : TERN, 'answer', 'answer other', n % 4 < 2 ? 9 : 11, { ...order, ...other });
  add(TERN, 'trench_check', 'trench', 12, { ...order, checkedBy: 'Tern', protection: 'none' });
  add(WREN, 'incident', 'incident', 13, {
    ...order,
    siteId: of('site'),
    incident: 'jet_injury',
    consequence: 'hospital',
    what: 'hose slipped, hand',
  });
  add(WREN, 'on_the_way', 'on the way', -20, order);
  add(TERN, 'running_late', 'late', -10, { ...order, expectedAt: at(2) });
  add(TERN, 'inspection', 'before', 5, {
    ...order,
    lineId: of('footing'),
    phase: 'before_cleaning',
    reading: { method: 'by_word', word: 'half', cameBack: 'slugs' },
  });
  add(TERN, 'inspection', 'drawdown before', 6, {
    ...order,
    lineId: of('discharge'),
    phase: 'before_cleaning',
    reading: {
      method: 'pit_drawdown',
      rise: { value: 40, unit: 'mm' },
      fall: { value: 90, unit: 'mm' },
    },
  });
  if (n % 3 === 0)
    add(WREN, 'inspection', 'plugged', 7, {
      ...order,
      lineId: of('discharge'),
      phase: 'before_cleaning',
      plugged: { cause: 'deposit' },
    });
  if (n % 3 === 1) {
    add(WREN, 'danger', 'hard stop', 8, {
      ...order,
      lineId: of('footing'),
      danger: 'hard_stop',
      stopped: { value: 3, unit: 'm' },
    });
    add(WREN, 'inspection', 'looked in', 9, {
      ...order,
      lineId: of('footing'),
      phase: 'before_cleaning',
      reading: { method: 'camera', share: 0.4 },
    });
  }
  add(TERN, 'clean', 'clean footing', 20, {
    ...order,
    lineId: of('footing'),
    task: 'jet',
    cameBack: 'clear',
    flowProven: 'yes',
    passes: 2,
  });
  add(WREN, 'clean', 'clean discharge', 30, {
    ...order,
    lineId: of('discharge'),
    task: 'jet',
    flowProven: n % 3 === 0 ? 'no' : 'yes',
    ...(n % 3 === 0 ? { nozzleStopped: { value: 9, unit: 'm' } } : {}),
  });
  add(TERN, 'inspection', 'drawdown after', 40, {
    ...order,
    lineId: of('discharge'),
    phase: 'after_cleaning',
    reading: {
      method: 'pit_drawdown',
      rise: { value: 40, unit: 'mm' },
      fall: { value: 160, unit: 'mm' },
    },
  });
  add(WREN, 'inspection', 'drawdown corrected', 41, {
    ...order,
    lineId: of('discharge'),
    phase: 'after_cleaning',
    replacesId: of('drawdown after'),
    reading: {
      method: 'pit_drawdown',
      rise: { value: 40, unit: 'mm' },
      fall: { value: 170, unit: 'mm' },
    },
  });
  add(TERN, 'task_result', 'result tern', 42, {
    ...order,
    taskId: of('footing clean'),
    result: n % 2 === 0 ? 'done' : 'not_done',
    ...(n % 2 === 0 ? {} : { reason: 'kit' }),
  });
  add(WREN, 'task_result', 'result wren', 43, {
    ...order,
    taskId: of('footing clean'),
    result: 'done',
    takenMinutes: 25,
  });
  add(TERN, 'found_line', 'found line', 44, {
    ...order,
    systemId: of('system'),
    name: 'Stair drain',
    lineKind: 'floor_drain',
    drainsToPitId: of('pit'),
  });
  add(WREN, 'found_access_point', 'found point', 45, {
    ...order,
    lineId: of('found line'),
    pointKind: 'floor_opening',
    place: 'under the mat at the foot of the stair',
  });
  add(WREN, 'inspection', 'found reading', 46, {
    ...order,
    lineId: of('found line'),
    phase: 'no_cleaning',
    reading: { method: 'by_word', word: 'heavy' },
  });
  add(TERN, 'found_work', 'found work', 47, {
    ...order,
    tasks: [{ id: of('found task'), kind: 'hose_flush', lineId: of('found line'), priceMinor: 9500 }],
  });
  const unnamed = n % 4 === 1;
  const price = {
    ...order,
    ...(unnamed ? { after: [of('found work')] } : { taskId: of('found task') }),
    by: 'Ines Calder',
    amountMinor: 9500,
  };
  // Of every eight visits two hear a no, and one a no after a yes.
  const declined = n % 8 === 0 || n % 8 === 3 || n % 8 === 5;
  add(WREN, 'price_acceptance', 'price', 48, { ...price, ...(n % 8 === 0 ? { declined: true } : {}) });
  if (n % 8 > 2)
    add(TERN, 'price_acceptance', 'price again', n % 8 === 3 || n % 8 === 5 ? 49 : 47, {
      ...price,
      declined: true,
    });
  const left = isLeft(n);
  if (left) addWhatIsLeft(n, add);
  else if (!declined)
    add(TERN, 'task_result', 'found result', 55, { ...order, taskId: of('found task'), result: 'done' });
  add(TERN, 'attachment', 'picture', 56, {
    ...order,
    siteId: of('site'),
    lineId: of('found line'),
    inspectionId: of('found reading'),
    caption: 'gel at the opening',
  });
  add(WREN, 'note', 'note', 57, {
    ...order,
    siteId: of('site'),
    pitId: of('pit'),
    text: 'key under the third pot',
  });
  // Gas ended the visit, whatever one of the two says of its end.
  if (left) return n % 12 === 2 ? [...out, endAfterGas(n, out)] : out;
  add(TERN, 'finish', 'finish', 60, {
    ...order,
    after: out.map(({ item }) => item.id),
    result: n % 4 === 3 ? 'not_done' : 'done',
    ...(n % 4 === 3 ? { reason: 'out_of_time' } : {}),
    flowProven: n % 3 === 0 ? 'no' : 'yes',
    pumpRestored: { powerOn: true, valveOpen: true, floatCycled: true, lidBack: true },
    water: { receiver: 'own_ground', place: 'lawn behind the house' },
  });
  return out;
}

/** What a visit left for gas finds before it: a plug and a dead float, a nozzle that stopped; or both of the crew meet the gas. */
function addWhatIsLeft(
  n: number,
  add: (by: string, kind: string, name: string, minute: number, more: object) => void,
): void {
  const of = (what: string) => idOf(`${what} ${n}`);
  const order = { workOrderId: of('order') };
  add(WREN, 'danger', 'gas', 50, { ...order, danger: 'gas_meter', note: 'by the stair' });
  if (n % 12 === 8) add(TERN, 'danger', 'gas again', 52, { ...order, danger: 'gas_smell' });
  // Two reasons to come within the hour: one order tells both, whichever was heard of first.
  add(WREN, 'inspection', 'left plugged', 45, {
    ...order,
    lineId: of('discharge'),
    phase: 'after_cleaning',
    plugged: { cause: 'deposit' },
  });
  add(TERN, 'inspection', 'left dead', 8, {
    ...order,
    pitId: of('pit'),
    phase: 'no_cleaning',
    pitTest: { floatCycled: false },
  });
  add(WREN, 'danger', 'left stopped', 9, {
    ...order,
    lineId: of('footing'),
    danger: 'hard_stop',
    stopped: { value: 3, unit: 'm' },
  });
}

/** The end of a visit that gas had ended: somebody decides. */
const endAfterGas = (n: number, of: readonly SentBy[]): SentBy => ({
  by: TERN,
  item: {
    kind: 'finish',
    id: idOf(`finish ${n}`),
    at: new Date(Date.UTC(2026, 9, 1, 12, n + 60)).toISOString(),
    workOrderId: idOf(`order ${n}`),
    after: of.map(({ item }) => item.id),
    result: 'not_done',
    reason: 'out_of_time',
  },
});
