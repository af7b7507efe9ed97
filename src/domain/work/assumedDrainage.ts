import type { DrainsTo, LineKind, SystemKind } from '../words.js';

export interface BookLine {
  ref: string;
  kind: LineKind;
  /** A line's ref, `pit`, `outlet`, or null: the books are silent. */
  drainsTo: string | null;
}

export interface Drainage {
  systems: { name: string; kind: SystemKind; assumed: string[] }[];
  lines: Map<
    string,
    {
      system: number;
      drainsTo: DrainsTo;
      drainsToLine: string | null;
      isDischarge: boolean;
      assumed: string[];
    }
  >;
}

/** The lines a house with a basement usually has, where the books name none (common practice, no source). */
export const assumedLines = (): LineKind[] => ['sump_discharge', 'footing_drain'];

/**
 * Systems of one site from the kinds of its lines (common practice, no source): each sump discharge has a pit;
 * footing and floor drains run to the first pit, else they are gravity lines with an outlet of their own; a yard
 * drain has its own outlet. What the books say of `drainsTo` comes first; what is inferred is marked.
 */
export function drainageOf(lines: readonly BookLine[]): Drainage {
  const systems: Drainage['systems'] = [];
  const placed: Drainage['lines'] = new Map();
  const discharges = lines.filter((line) => line.kind === 'sump_discharge');
  for (const [i, line] of discharges.entries()) {
    systems.push({ name: discharges.length > 1 ? `Pit ${i + 1}` : 'Pit', kind: 'pit', assumed: ['pit'] });
    placed.set(line.ref, {
      system: i,
      drainsTo: 'outlet',
      drainsToLine: null,
      isDischarge: true,
      assumed: line.drainsTo === 'outlet' ? [] : ['drains_to'],
    });
  }
  const inFlow = lines.filter((line) => line.kind !== 'sump_discharge');
  const refs = new Set(lines.map((line) => line.ref));
  const joined = (line: BookLine): boolean => line.drainsTo !== null && refs.has(line.drainsTo);
  for (const line of inFlow.filter((each) => !joined(each))) {
    const toPit =
      discharges.length > 0 &&
      (line.drainsTo === 'pit' || (line.drainsTo === null && line.kind !== 'yard_drain'));
    const assumed = line.drainsTo === null ? ['drains_to'] : [];
    if (toPit) {
      placed.set(line.ref, { system: 0, drainsTo: 'pit', drainsToLine: null, isDischarge: false, assumed });
    } else {
      systems.push({ name: line.kind.replaceAll('_', ' '), kind: 'gravity', assumed: [] });
      placed.set(line.ref, {
        system: systems.length - 1,
        drainsTo: 'outlet',
        drainsToLine: null,
        isDischarge: false,
        assumed,
      });
    }
  }
  // A line that joins another belongs to its system; chains resolve from the far end.
  let waiting = inFlow.filter(joined);
  while (waiting.length > 0) {
    const left = waiting.filter((line) => {
      const next = placed.get(line.drainsTo ?? '');
      if (!next) return true;
      placed.set(line.ref, {
        system: next.system,
        drainsTo: 'line',
        drainsToLine: line.drainsTo,
        isDischarge: false,
        assumed: [],
      });
      return false;
    });
    if (left.length === waiting.length) throw new RangeError('what drains to what runs in a circle');
    waiting = left;
  }
  return { systems, lines: placed };
}
