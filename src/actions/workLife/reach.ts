import type { OrderJet } from '../../domain/jetting/orderJet.js';
import type { KitKind, TaskKind } from '../../domain/words.js';
import { placeAlong } from '../../domain/work/accessPlace.js';
import { type Entry, type EntryPlan, entryPlan } from '../../domain/work/ladder.js';
import type { PlannedTask } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** The kit whose reach decides whether a task gets through a line. */
const KIT: Partial<Record<TaskKind, KitKind>> = { jet: 'jetter', hose_flush: 'hose', cable: 'cable_machine' };

/** How far the business's own kit goes, by kind; kinds it has none of are left out. */
export async function reachByKit(stores: Stores): Promise<Map<KitKind, number>> {
  const kit = await stores.rows.all('kit_item', [
    { column: 'kind', is: 'in', value: Object.values(KIT) },
    { column: 'archived_on', is: 'null' },
  ]);
  const reach = new Map<KitKind, number>();
  for (const { kind, reach_m: reachM } of kit)
    reach.set(kind as KitKind, Math.max(reach.get(kind as KitKind) ?? 0, Number(reachM ?? 0)));
  return reach;
}

/**
 * Entry points from which the business's own kit gets through a line, or where a cleanout is missing. Null while
 * length, entries or reach are unknown: nothing is proposed on an assumption.
 *
 * @param points The line's access points.
 */
export function entriesOn(
  line: Row,
  task: TaskKind,
  points: readonly Row[],
  reach: ReadonlyMap<KitKind, number>,
): EntryPlan | null {
  const kind = KIT[task];
  const reachM = kind === undefined ? 0 : (reach.get(kind) ?? 0);
  if (kind === undefined || reachM === 0 || line['length_m'] === null) return null;
  const lengthM = Number(line['length_m']);
  const entries = points.filter((point) => mayEnter(point, kind)).map((point) => entryOf(point, lengthM));
  return entries.every(({ atM }) => atM === null) ? null : entryPlan(lengthM, reachM, entries);
}

/**
 * Tasks with where to go in, and why a cleanout is proposed where no entry reaches through. A jet goes no further than
 * its own pull takes the hose.
 */
export function enteredTasks(
  lines: readonly Row[],
  tasks: readonly PlannedTask[],
  points: ReadonlyMap<string, readonly Row[]>,
  reach: ReadonlyMap<KitKind, number>,
): { tasks: PlannedTask[]; proposals: ReturnType<typeof outOfReach>[] } {
  const proposals: ReturnType<typeof outOfReach>[] = [];
  const entered = tasks.map((task) => {
    const line = lines.find(({ id }) => id === task.lineId);
    const own = points.get(String(task.lineId)) ?? [];
    const plan = line && entriesOn(line, task.kind, own, shortened(reach, task));
    if (!plan) return task;
    if (plan.missingM > 0) proposals.push(outOfReach(task.lineId, plan));
    return { ...task, plan: { ...task.plan, entries: plan.entries } };
  });
  return { tasks: entered, proposals };
}

function shortened(reach: ReadonlyMap<KitKind, number>, { plan }: PlannedTask): ReadonlyMap<KitKind, number> {
  const jet = plan['jet'] as OrderJet | undefined;
  // By assumed figures nothing is proposed.
  if (jet === undefined || jet.assumed.some((name) => name.startsWith('machine_'))) return reach;
  return new Map([...reach, ['jetter', Math.min(reach.get('jetter') ?? 0, jet.reachM)]]);
}

/** Access points of some lines, by line. */
export async function pointsOf(stores: Stores, lineIds: readonly string[]): Promise<Map<string, Row[]>> {
  const points = new Map<string, Row[]>();
  for (const row of await stores.rows.all('access_point', [
    { column: 'line_id', is: 'in', value: lineIds },
    { column: 'archived_on', is: 'null' },
  ])) {
    const lineId = String(row['line_id']);
    points.set(lineId, [...(points.get(lineId) ?? []), row]);
  }
  return points;
}

/** The same for one line and task. */
export async function entriesFor(stores: Stores, line: Row, task: TaskKind): Promise<EntryPlan | null> {
  const id = String(line['id']);
  const points = (await pointsOf(stores, [id])).get(id) ?? [];
  return entriesOn(line, task, points, await reachByKit(stores));
}

/** Why a cleanout is proposed. */
export function outOfReach(lineId: unknown, { missingM, cleanoutAtM }: EntryPlan) {
  const [missing, at] = [metres(missingM), metres(cleanoutAtM ?? 0)];
  return {
    code: 'out_of_reach',
    facts: { lineId, missingM, cleanoutAtM },
    text: `${missing} of the line are out of reach: a cleanout at ${at} from upstream`,
  };
}

/** In both units: whoever reads it may use either. */
const metres = (m: number): string => `${m.toFixed(1)} m (${(m / 0.3048).toFixed(0)} ft)`;

function mayEnter(point: Row, kind: KitKind): boolean {
  const allowed = point['kit_can_enter'] as string[];
  return allowed.length === 0 || allowed.includes(kind);
}

function entryOf(point: Row, lengthM: number): Entry {
  const atM = placeAlong(
    {
      kind: String(point['kind']),
      distanceM: point['distance_m'] === null ? null : Number(point['distance_m']),
      distanceFrom: point['distance_from'] as string | null,
    },
    lengthM,
  );
  return { accessPointId: String(point['id']), atM, direction: point['direction'] as Entry['direction'] };
}
