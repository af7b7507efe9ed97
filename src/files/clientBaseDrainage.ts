import type { LineRow } from '../actions/clientBase.js';
import type { Ids } from './clientBaseReading.js';
import type { RowFaultNote } from './csvRow.js';

type NoteOfLine = (lineId: string) => RowFaultNote;

/** Water stays on its site and does not run in circles; each circle is told once. */
export function checkDrainage(lines: readonly LineRow[], ids: Ids, noteOf: NoteOfLine): void {
  const byId = new Map(lines.map((line) => [line.lineId, line]));
  for (const line of lines) checkTarget(line, byId, ids, noteOf);
  const settled = new Set<string>();
  for (const line of lines) {
    const circle = circleFrom(line, byId, settled);
    if (circle === null) continue;
    const way = circle.length > 6 ? [...circle.slice(0, 5), '…', circle[0]] : circle;
    noteOf(circle[0] ?? line.lineId)(
      'drains_to',
      circle[1] ?? '',
      `the water runs in a circle: ${way.join(' → ')}`,
      'let one of these lines drain to pit or outlet',
    );
  }
}

function lineTarget({ drainsTo }: LineRow): string | null {
  return drainsTo === 'pit' || drainsTo === 'outlet' ? null : drainsTo;
}

function checkTarget(line: LineRow, byId: ReadonlyMap<string, LineRow>, ids: Ids, noteOf: NoteOfLine): void {
  const target = lineTarget(line);
  if (target === null) return;
  const next = byId.get(target);
  const note = noteOf(line.lineId);
  if (next === undefined) {
    const remedy = 'the line_id of a line of the same site, pit, or outlet';
    if (!ids.lineOf.has(target)) note('drains_to', target, 'no such line', remedy);
  } else if (next.siteId !== line.siteId) {
    const problem = `a line of another site, ${next.siteId}`;
    note('drains_to', target, problem, `a line of site ${line.siteId}, pit, or outlet`);
  }
}

/** The ids around the circle that the water of `line` runs into, the first one again at the end. */
function circleFrom(
  line: LineRow,
  byId: ReadonlyMap<string, LineRow>,
  settled: Set<string>,
): string[] | null {
  const path: string[] = [];
  const onPath = new Set<string>();
  let here: LineRow | undefined = line;
  while (here !== undefined && !settled.has(here.lineId) && !onPath.has(here.lineId)) {
    path.push(here.lineId);
    onPath.add(here.lineId);
    here = byId.get(lineTarget(here) ?? '');
  }
  for (const id of path) settled.add(id);
  if (here === undefined || !onPath.has(here.lineId)) return null;
  return [...path.slice(path.indexOf(here.lineId)), here.lineId];
}
