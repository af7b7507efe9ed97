import { tankWater } from '../jetting/waterSupply.js';
import type { KitKind, TaskKind } from '../words.js';
import { type CarriedKit, type CrewDayFacts, kitOf, tankOf } from './crewDayFacts.js';

/** A visit of the day, as far as what must be on board follows from it. */
export interface SuppliedVisit {
  /** The order's number. */
  number: number;
  kit: readonly KitKind[];
  tasks: readonly TaskKind[];
  tap: 'yes' | 'no' | 'unknown';
  /** On site. */
  minutes: number;
  waterL: number;
  sludgeL: number;
}

/** One thing to have on board before leaving. */
export type OnBoardThing =
  | { kind: 'kit'; kit: KitKind; items: readonly string[] }
  /** `holdsL` null: no tank's size is on record; `needsL`: what taps do not give while the crew works. */
  | { kind: 'water'; items: readonly string[]; holdsL: number | null; needsL: number }
  | { kind: 'sludge'; items: readonly string[]; holdsL: number | null; needsL: number }
  | { kind: 'thing'; name: string };

/** What small things a task needs. Common practice, no source. */
const THINGS: Partial<Record<TaskKind, readonly string[]>> = {
  survey: ['torch'],
  inspect: ['torch', 'rule for the outlet'],
  jet: ['jet injury card'],
  clear_pit: ['scoop and gloves'],
  clear_outlet: ['spade', 'cutters'],
  replace_outlet: ['spade', 'new outlet'],
  cable: ['leather gloves'],
  trace: ['marking paint'],
  dig_and_replace: ['trench protection', 'ladder', 'spades', 'new pipe and stone'],
  add_cleanout: ['trench protection', 'ladder', 'spades', 'new cleanout'],
  restore: ['fill and seed'],
  fit_alarm: ['the alarm'],
  fit_pump: ['the pump'],
};

/** Whether its water must be brought: with a tap on the site the crew draws from it. */
export const bringsWater = ({ tap, waterL }: Pick<SuppliedVisit, 'tap' | 'waterL'>): boolean =>
  tap !== 'yes' && waterL > 0;

/** What a day's visits ask for, by the name of the crew's own where it has one; nothing for a day without visits. */
export function onBoard(crew: CrewDayFacts, visits: readonly SuppliedVisit[]): OnBoardThing[] {
  if (visits.length === 0) return [];
  const kinds = [...new Set(visits.flatMap(({ kit }) => kit))].sort();
  const sum = (litres: readonly number[]): number =>
    Math.round(litres.reduce((total, each) => total + each, 0));
  const waterL = sum(visits.map((visit) => tankWater(visit.waterL, visit.minutes, visit.tap, null).litres));
  const sludgeL = sum(visits.map((visit) => visit.sludgeL));
  const holds = { water: tankOf(crew, 'tankL'), sludge: tankOf(crew, 'wasteL') };
  const own = (has: (item: CarriedKit) => boolean) =>
    crew.kit.filter((item) => item.isOwn && item.outBecause === null && has(item)).map(({ name }) => name);
  const waste = own(({ wasteL }) => wasteL !== null);
  return [
    ...kinds.map(
      (kit): OnBoardThing => ({ kind: 'kit', kit, items: kitOf(crew, kit).map(({ name }) => name) }),
    ),
    ...(waterL > 0 || holds.water !== null
      ? [
          {
            kind: 'water' as const,
            items: own(({ tankL }) => tankL !== null),
            holdsL: holds.water,
            needsL: waterL,
          },
        ]
      : []),
    ...(sludgeL > 0
      ? [
          {
            kind: 'sludge' as const,
            items: waste.length > 0 ? waste : own(({ kind }) => kind === 'vacuum'),
            holdsL: holds.sludge,
            needsL: sludgeL,
          },
        ]
      : []),
    ...[...new Set(visits.flatMap(({ tasks }) => tasks.flatMap((task) => THINGS[task] ?? [])))].map(
      (name): OnBoardThing => ({ kind: 'thing', name }),
    ),
  ];
}

/** Visits to houses without a tap that ask for water, where nobody wrote down how much the crew can bring. */
export const waterUnchecked = <V extends SuppliedVisit>(crew: CrewDayFacts, visits: readonly V[]): V[] =>
  tankOf(crew, 'tankL') === null ? visits.filter((visit) => visit.tap === 'no' && bringsWater(visit)) : [];
