import type { UnitSystem } from '../domain/units/quantity.js';
import type { OnBoardThing, SuppliedVisit } from '../domain/work/onBoard.js';
import { isolated, quantityText } from './printed.js';

const named = (items: readonly string[]): string => items.map(isolated).join(', ');

/** A thing to tick off, with what it holds and what the day needs. */
export function onBoardText(thing: OnBoardThing, units: UnitSystem): string {
  const volume = (litres: number) => quantityText(litres, 'volume', units);
  switch (thing.kind) {
    case 'kit': {
      const kind = thing.kit.replaceAll('_', ' ');
      if (thing.items.length === 0) return `${kind} (none on record)`;
      return thing.items.some((item) => item.toLowerCase().includes(kind))
        ? named(thing.items)
        : `${named(thing.items)} (${kind})`;
    }
    case 'water': {
      const needs =
        thing.needsL === 0 ? 'the taps give enough' : `about ${volume(thing.needsL)} needed from it`;
      return thing.holdsL === null
        ? `water, about ${volume(thing.needsL)}: tank size not recorded`
        : `water tank ${volume(thing.holdsL)} of ${named(thing.items)}, full: ${needs}`;
    }
    case 'sludge': {
      const needs = `about ${volume(thing.needsL)} of sludge`;
      if (thing.holdsL !== null)
        return `waste tank ${volume(thing.holdsL)} of ${named(thing.items)}, empty: ${needs}`;
      return thing.items.length > 0
        ? `${named(thing.items)} for ${needs}: tank size not recorded`
        : `buckets with lids for ${needs}`;
    }
    case 'thing':
      return thing.name;
    default:
      return thing satisfies never;
  }
}

/** Why nobody knows whether the water suffices at these houses without a tap. */
export function waterUncheckedText(
  crewName: string,
  visits: readonly Pick<SuppliedVisit, 'number' | 'waterL'>[],
  units: UnitSystem,
): string {
  const litres = visits.reduce((sum, { waterL }) => sum + waterL, 0);
  const orders = visits.map(({ number }) => number).join(', ');
  return `no tap at ${visits.length === 1 ? 'order' : 'orders'} ${orders}: bring about ${quantityText(litres, 'volume', units)} of water; the size of ${crewName}’s tank is not recorded, so nobody checked that it suffices`;
}
