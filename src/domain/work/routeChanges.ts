/** A stop as a crew was told of it, or as it stands now; visits only. */
export interface ToldStop {
  workOrderId: string;
  number: number;
  address: string;
  /** ISO instant. */
  startsAt: string;
}

export type RouteChange =
  | { kind: 'added'; workOrderId: string; number: number; address: string; from: null; to: Where }
  | { kind: 'removed'; workOrderId: string; number: number; address: string; from: Where; to: null }
  | { kind: 'moved' | 'time'; workOrderId: string; number: number; address: string; from: Where; to: Where };

/** Its place among the visits of the day, from 1, and when it starts. */
export interface Where {
  position: number;
  startsAt: string;
}

/** Starts that shift less than this are nobody's news (common practice, no source). */
const NEWS_MS = 15 * 60_000;

/**
 * What is different on a crew's day: visits added and removed, moved in the sequence, or starting at another time.
 * As few visits as possible count as moved: the longest run of visits that kept their order stays.
 */
export function routeChanges(told: readonly ToldStop[], now: readonly ToldStop[]): RouteChange[] {
  const before = new Map(told.map((stop, at) => [stop.workOrderId, { stop, at }]));
  const after = new Set(now.map(({ workOrderId }) => workOrderId));
  const stayed = inOrder(now.flatMap((stop) => before.get(stop.workOrderId)?.at ?? []));
  const changes: RouteChange[] = [];
  now.forEach((stop, at) => {
    const { workOrderId, number, address } = stop;
    const names = { workOrderId, number, address };
    const to = { position: at + 1, startsAt: stop.startsAt };
    const old = before.get(workOrderId);
    if (!old) {
      changes.push({ kind: 'added', ...names, from: null, to });
      return;
    }
    const from = { position: old.at + 1, startsAt: old.stop.startsAt };
    if (!stayed.has(old.at)) changes.push({ kind: 'moved', ...names, from, to });
    else if (Math.abs(Date.parse(from.startsAt) - Date.parse(to.startsAt)) >= NEWS_MS)
      changes.push({ kind: 'time', ...names, from, to });
  });
  for (const { stop, at } of before.values()) {
    const { workOrderId, number, address, startsAt } = stop;
    if (!after.has(workOrderId))
      changes.push({
        kind: 'removed',
        workOrderId,
        number,
        address,
        from: { position: at + 1, startsAt },
        to: null,
      });
  }
  return changes;
}

/** Members of the longest rising run (not necessarily neighbours) of different numbers. */
function inOrder(places: readonly number[]): Set<number> {
  const best: number[][] = [];
  for (const place of places) {
    const longest = best
      .filter((run) => (run.at(-1) ?? -1) < place)
      .reduce<number[]>((a, b) => (b.length > a.length ? b : a), []);
    best.push([...longest, place]);
  }
  return new Set(best.reduce((a, b) => (b.length > a.length ? b : a), []));
}
