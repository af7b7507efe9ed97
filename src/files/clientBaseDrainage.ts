import type { LineRow } from '../actions/clientBase.js';
import { type BookLine, circlesOf } from '../domain/work/assumedDrainage.js';
import type { Ids } from './clientBaseReading.js';
import type { RowFaultNote } from './csvRow.js';

type NoteOfLine = (lineId: string) => RowFaultNote;

/** Water stays on its site and does not run in circles, through the pit neither; each circle is told once. */
export function checkDrainage(lines: readonly LineRow[], ids: Ids, noteOf: NoteOfLine): void {
  const byId = new Map(lines.map((line) => [line.lineId, line]));
  for (const line of lines) checkTarget(line, byId, ids, noteOf);
  for (const ofSite of bySite(lines).values()) {
    for (const circle of circlesOf(ofSite)) noteCircle(circle, byId, noteOf);
  }
}

function bySite(lines: readonly LineRow[]): Map<string, BookLine[]> {
  const sites = new Map<string, BookLine[]>();
  for (const { lineId, siteId, kind, drainsTo } of lines) {
    const line = { ref: lineId, kind, drainsTo };
    const held = sites.get(siteId);
    if (held) held.push(line);
    else sites.set(siteId, [line]);
  }
  return sites;
}

function noteCircle(circle: string[], byId: ReadonlyMap<string, LineRow>, noteOf: NoteOfLine): void {
  const [first = ''] = circle;
  const cell = byId.get(first)?.drainsTo ?? '';
  const stations = circle.flatMap((id) => (byId.get(id)?.drainsTo === 'pit' ? [id, 'pit'] : [id]));
  const way = stations.length > 6 ? [...stations.slice(0, 5), '…', first] : [...stations, first];
  const remedy = stations.includes('pit') ? 'outlet' : 'pit or outlet';
  noteOf(first)(
    'drains_to',
    cell,
    `the water runs in a circle: ${way.join(' → ')}`,
    `let one of these lines drain to ${remedy}`,
  );
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
