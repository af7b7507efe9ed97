/** Later than any time of a plan, and small enough to add to another time within 31 bits. */
export const NEVER = 0x3fff_ffff;

/** Windows of many (order, day) pairs in one run of arrays: pair p owns `first[p]` up to `first[p + 1]`. */
export interface WindowTable {
  readonly first: Int32Array;
  readonly from: Int32Array;
  readonly to: Int32Array;
}

/** Earliest start at or after `seconds` inside a window of the pair; `NEVER` when all have closed. */
export function nextOpen(table: WindowTable, pair: number, seconds: number): number {
  const end = table.first[pair + 1]!;
  for (let w = table.first[pair]!; w < end; w++) {
    if (seconds <= table.to[w]!) return Math.max(seconds, table.from[w]!);
  }
  return NEVER;
}

/** Latest start at or before `seconds` inside a window of the pair; -1 when none has opened. */
export function lastOpen(table: WindowTable, pair: number, seconds: number): number {
  for (let w = table.first[pair + 1]! - 1; w >= table.first[pair]!; w--) {
    if (seconds >= table.from[w]!) return Math.min(seconds, table.to[w]!);
  }
  return -1;
}

export interface Span {
  from: number;
  to: number;
}

/** Sorted, with overlapping spans joined and empty ones dropped. */
export function joinSpans(spans: readonly Span[]): Span[] {
  const joined: Span[] = [];
  for (const span of [...spans].sort((a, b) => a.from - b.from || a.to - b.to)) {
    if (span.from > span.to) continue;
    const last = joined.at(-1);
    if (last && span.from <= last.to) last.to = Math.max(last.to, span.to);
    else joined.push({ ...span });
  }
  return joined;
}
