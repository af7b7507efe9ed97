/** A stretch of time, milliseconds of the epoch; the end does not belong to it. */
export interface Span {
  from: number;
  to: number;
}

/** The same time as few spans in order: what overlaps or touches is one. */
export function joined(spans: readonly Span[]): Span[] {
  const result: Span[] = [];
  for (const { from, to } of [...spans].sort((a, b) => a.from - b.from || a.to - b.to)) {
    if (from >= to) continue;
    const last = result.at(-1);
    if (last && from <= last.to) last.to = Math.max(last.to, to);
    else result.push({ from, to });
  }
  return result;
}

/** What of a span none of the others covers, in order. */
export function uncovered(whole: Span, others: readonly Span[]): Span[] {
  const rest: Span[] = [];
  let at = whole.from;
  for (const { from, to } of joined(others)) {
    if (to <= at) continue;
    if (from >= whole.to) break;
    if (from > at) rest.push({ from: at, to: from });
    at = Math.max(at, to);
  }
  if (at < whole.to) rest.push({ from: at, to: whole.to });
  return rest;
}
