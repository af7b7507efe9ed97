import type { KitKind, TaskKind } from '../../domain/words.js';
import { type Entry, type EntryPlan, entryPlan } from '../../domain/work/ladder.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** The kit whose reach decides whether a task gets through a line. */
const KIT: Partial<Record<TaskKind, KitKind>> = { jet: 'jetter', hose_flush: 'hose', cable: 'cable_machine' };

/**
 * Entry points from which the business's own kit gets through a line, or where a cleanout is missing. Null while
 * length, entries or reach are unknown: nothing is proposed on an assumption.
 */
export async function entriesFor(stores: Stores, line: Row, task: TaskKind): Promise<EntryPlan | null> {
  const kind = KIT[task];
  if (kind === undefined || line['length_m'] === null) return null;
  const kit = await stores.rows.all('kit_item', [
    { column: 'kind', is: '=', value: kind },
    { column: 'archived_on', is: 'null' },
  ]);
  const reachM = Math.max(0, ...kit.map((item) => Number(item['reach_m'] ?? 0)));
  const points = await stores.rows.all('access_point', [
    { column: 'line_id', is: '=', value: line['id'] },
    { column: 'archived_on', is: 'null' },
  ]);
  const lengthM = Number(line['length_m']);
  const entries = points.filter((point) => mayEnter(point, kind)).map((point) => entryOf(point, lengthM));
  if (reachM === 0 || entries.every(({ atM }) => atM === null)) return null;
  return entryPlan(lengthM, reachM, entries);
}

function mayEnter(point: Row, kind: KitKind): boolean {
  const allowed = point['kit_can_enter'] as string[];
  return allowed.length === 0 || allowed.includes(kind);
}

/** Outlets stand at the line's end; other distances are taken from upstream, or from the outlet where that is named. */
function entryOf(point: Row, lengthM: number): Entry {
  const distance = point['distance_m'] === null ? null : Number(point['distance_m']);
  const fromOutlet = /outlet/i.test(String(point['distance_from'] ?? ''));
  const atM =
    point['kind'] === 'outlet'
      ? lengthM
      : distance === null
        ? null
        : Math.min(lengthM, fromOutlet ? lengthM - distance : distance);
  return { accessPointId: String(point['id']), atM, direction: point['direction'] as Entry['direction'] };
}
