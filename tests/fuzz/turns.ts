import type { Operation } from './document.js';

/** An operation of these comes round once while the others do as often as said here: a plan, a night, a paper cost a hundred times a list. */
const RARER: readonly [RegExp, number][] = [
  [/^(startNightlyRun|askForPlan|acceptPlan|reportDisruption|withdrawDisruption|askWhatIf|drawWhatIf)$/, 8],
  [
    /^(closeRoute|closeDay|publishDay|publishRoute|placeWorkOrder|offerPlaces|offerDays|getRoute|printRouteSheet|listRouteChanges)$/,
    4,
  ],
  [/^(print|draw|calculate)/, 2],
];

const restOf = ({ id }: Operation): number => RARER.find(([names]) => names.test(id))?.[1] ?? 1;

/** The operations in the order they are asked, for ever. */
export function* turns(operations: readonly Operation[]): Generator<Operation, never> {
  if (operations.length === 0) throw new RangeError('no operation is asked for');
  for (let round = 0; ; round++)
    for (const [at, operation] of operations.entries())
      if ((round + at) % restOf(operation) === 0 || operations.length === 1) yield operation;
}
