import type { DrainsTo, LineKind, SystemKind } from '../words.js';

export interface BookLine {
  ref: string;
  kind: LineKind;
  /** A line's ref, `pit` (the site's first), `outlet`, or null: the books are silent. */
  drainsTo: string | null;
}

/** What a site has before the books' lines come to it. */
export interface SiteThere {
  /** Key of each line's system, by the line's ref. */
  systemOf: ReadonlyMap<string, string>;
  /** In the order in which they were made. */
  pits: readonly { system: string; hasDischarge: boolean }[];
}

export interface Place {
  /** Number of the line's own system in `systems`. */
  system: number;
  drainsTo: DrainsTo;
  drainsToLine: string | null;
  /** Number of the system whose pit the line drains to. */
  drainsToPit: number | null;
  isDischarge: boolean;
  assumed: string[];
}

export interface Drainage {
  /** `there` is the key of a system that the site has already. */
  systems: { there: string | null; name: string; kind: SystemKind; assumed: string[] }[];
  lines: Map<string, Place>;
}

const NOTHING_THERE: SiteThere = { systemOf: new Map(), pits: [] };

/** The lines a house with a basement usually has, where the books name none (common practice, no source). */
export const assumedLines = (): LineKind[] => ['sump_discharge', 'footing_drain'];

/**
 * Systems of one site from the kinds of its lines (common practice, no source): each sump discharge has a pit;
 * footing and floor drains run to the first pit, else they are gravity lines with an outlet of their own; a yard
 * drain has its own outlet. What the books say of `drainsTo` comes first; what is inferred is marked, and never
 * closes a circle.
 *
 * @throws {RangeError} When a line drains to one that is not there, or what the books say runs in a circle.
 */
export function drainageOf(lines: readonly BookLine[], there: SiteThere = NOTHING_THERE): Drainage {
  if (circlesOf(lines, there).length > 0) throw new RangeError('what drains to what runs in a circle');
  const systems: Drainage['systems'] = there.pits.map(({ system }) => oldSystem(system));
  const pits = systems.map((_, i) => i);
  const unemptied = pits.filter((i) => !there.pits[i]?.hasDischarge);
  const newPit = (assumed: string[]): number => {
    const name = pits.length === 0 ? 'Pit' : `Pit ${pits.length + 1}`;
    const number = systems.push({ there: null, name, kind: 'pit', assumed }) - 1;
    pits.push(number);
    return number;
  };
  const emptied = new Map<string, number>();
  for (const line of lines.filter(isDischarge)) emptied.set(line.ref, unemptied.shift() ?? newPit(['pit']));
  if (pits.length === 0 && lines.some((line) => line.drainsTo === 'pit')) newPit([]);

  const placed: Drainage['lines'] = new Map();
  const keptApart = wayFromFirstPit(lines, there);
  const targetOf = (line: BookLine): string => {
    if (line.drainsTo !== null) return line.drainsTo;
    const toPit = pits.length > 0 && line.kind !== 'yard_drain' && !isDischarge(line);
    return toPit && !keptApart.has(line.ref) ? 'pit' : 'outlet';
  };
  const place = (line: BookLine, rest: Pick<Place, 'system' | 'drainsTo'> & Partial<Place>) =>
    placed.set(line.ref, {
      drainsToLine: null,
      drainsToPit: null,
      isDischarge: isDischarge(line),
      assumed: line.drainsTo === null ? ['drains_to'] : [],
      ...rest,
    });

  const joining: BookLine[] = [];
  for (const line of lines) {
    const target = targetOf(line);
    const own = emptied.get(line.ref);
    if (target === 'pit') {
      const pit = pits[0] ?? 0;
      place(line, { system: own ?? pit, drainsTo: 'pit', drainsToPit: pit });
    } else if (target !== 'outlet') {
      if (own === undefined) joining.push(line);
      else place(line, { system: own, drainsTo: 'line', drainsToLine: target });
    } else {
      place(line, { system: own ?? gravity(systems, line.kind), drainsTo: 'outlet' });
    }
  }
  joinOthers(joining, placed, systems, there);
  return { systems, lines: placed };
}

const isDischarge = (line: BookLine): boolean => line.kind === 'sump_discharge';

const oldSystem = (key: string): Drainage['systems'][number] => ({
  there: key,
  name: '',
  kind: 'pit',
  assumed: [],
});

function gravity(systems: Drainage['systems'], kind: LineKind): number {
  return systems.push({ there: null, name: kind.replaceAll('_', ' '), kind: 'gravity', assumed: [] }) - 1;
}

/** A line that joins another belongs to its system; chains resolve from the far end. */
function joinOthers(
  joining: readonly BookLine[],
  placed: Drainage['lines'],
  systems: Drainage['systems'],
  there: SiteThere,
): void {
  const byRef = new Map(joining.map((line) => [line.ref, line]));
  const numbers = new Map(systems.map((system, i) => [system.there, i]));
  const numberOf = (key: string): number => {
    const known = numbers.get(key) ?? systems.push(oldSystem(key)) - 1;
    numbers.set(key, known);
    return known;
  };
  for (const line of joining) {
    const chain: BookLine[] = [];
    let here: BookLine | undefined = line;
    while (here !== undefined && !placed.has(here.ref)) {
      chain.push(here);
      here = byRef.get(here.drainsTo ?? '');
    }
    const end = chain.at(-1);
    if (end === undefined) continue;
    const ref = end.drainsTo ?? '';
    const key = there.systemOf.get(ref);
    const system = placed.get(ref)?.system ?? (key === undefined ? undefined : numberOf(key));
    if (system === undefined) throw new RangeError(`line ${end.ref} drains to ${ref}, which is not there`);
    for (const { ref: own, drainsTo } of chain) {
      placed.set(own, {
        system,
        drainsTo: 'line',
        drainsToLine: drainsTo,
        drainsToPit: null,
        isDischarge: false,
        assumed: [],
      });
    }
  }
}

/**
 * Circles in what the books say of one site: the refs around each, in the direction of the water. What drains to
 * the pit goes on through the first discharge; where the books are silent the water ends.
 */
export function circlesOf(lines: readonly BookLine[], there: SiteThere = NOTHING_THERE): string[][] {
  const below = belowOf(lines, there);
  const settled = new Set<string>();
  const circles: string[][] = [];
  for (const line of lines) {
    const path = new Set<string>();
    let here: BookLine | undefined = line;
    while (here !== undefined && !settled.has(here.ref) && !path.has(here.ref)) {
      path.add(here.ref);
      here = below(here);
    }
    if (here !== undefined && path.has(here.ref)) {
      const way = [...path];
      circles.push(way.slice(way.indexOf(here.ref)));
    }
    for (const ref of path) settled.add(ref);
  }
  return circles;
}

/** The one of these lines that empties the first pit. */
function firstDischarge(lines: readonly BookLine[], there: SiteThere): BookLine | undefined {
  return there.pits[0]?.hasDischarge ? undefined : lines.find(isDischarge);
}

/** The line that the water of a line goes to next, through the pit too. */
function belowOf(lines: readonly BookLine[], there: SiteThere): (line: BookLine) => BookLine | undefined {
  const byRef = new Map(lines.map((line) => [line.ref, line]));
  const first = firstDischarge(lines, there);
  return ({ drainsTo }) => (drainsTo === 'pit' ? first : byRef.get(drainsTo ?? ''));
}

/** The lines that the first pit's water runs through: a silent one of them cannot drain to the pit. */
function wayFromFirstPit(lines: readonly BookLine[], there: SiteThere): Set<string> {
  const below = belowOf(lines, there);
  const way = new Set<string>();
  let here = firstDischarge(lines, there);
  while (here !== undefined && !way.has(here.ref)) {
    way.add(here.ref);
    here = below(here);
  }
  return way;
}
