import type { OrderJet } from '../../domain/jetting/orderJet.js';
import { toStored, type UnitSystem } from '../../domain/units/quantity.js';
import { countText, numberText, quantityText, withUnit } from '../../papers/printed.js';
import type { Row } from '../ports.js';

interface PlannedEntry {
  accessPointId: string;
  runM: number;
}

/**
 * How hard, with what and from where a line is jetted, in the order in which a crew sets it up.
 *
 * @param lengthM Of the line.
 * @param points  Access points of the site, with `id`, `kind`, `place`.
 */
export function jetWords(
  jet: OrderJet,
  lengthM: number,
  entries: readonly PlannedEntry[],
  points: readonly Row[],
  units: UnitSystem,
): string[] {
  const { nozzle } = jet;
  return [
    ...jet.limits.map(
      ({ kpa, at, because }) => `at most ${quantityText(kpa, 'pressure', units)} at the ${at}: ${because}`,
    ),
    `hold the pump to ${quantityText(jet.pumpKpa, 'pressure', units)}, ${quantityText(jet.flowLps, 'flow', units)}: ` +
      `${quantityText(jet.nozzleKpa, 'pressure', units)} at the nozzle`,
    `nozzle: ${nozzle.jets} jets of ${withUnit(nozzle.jetBoreMm, 'mm', 2)} at ${nozzle.angleFromAxisDeg}°; with its rigid end ` +
      `at least ${quantityText(nozzle.leastLengthMm, 'bore', units)} long, at most ${quantityText(nozzle.mostWidthMm, 'bore', units)} wide`,
    `${countText(jet.passes, 'pass', 'passes')}: in at ${perMinute(jet.inMps, units)}, out at ${perMinute(jet.outMps, units)}, ` +
      `${withUnit(jet.jetMinutes, 'min')} of jet`,
    ...wayIn(entries, points, units),
    reachWords(jet.reachM, lengthM, units),
    `water ${quantityText(jet.waterL, 'volume', units)}, sludge ${quantityText(jet.sludgeL, 'volume', units)}`,
    ...overflowWords(jet, units),
    ...jet.findings.flatMap(({ code, text }) => (SAID_ABOVE.has(code) ? [] : [text])),
    ...(jet.machine === null ? [] : [`reckoned with ${jet.machine}`]),
    ...(jet.assumed.length === 0
      ? []
      : [`taken for want of facts: ${jet.assumed.map((name) => name.replaceAll('_', ' ')).join(', ')}`]),
  ];
}

/** Findings whose numbers stand in the units of the sheet already. */
const SAID_ABOVE = new Set(['second-pump-needed', 'does-not-reach']);

function reachWords(reachM: number, lengthM: number, units: UnitSystem): string {
  const [reach, length] = [quantityText(reachM, 'length', units), quantityText(lengthM, 'length', units)];
  return reachM >= lengthM
    ? `its pull takes the hose through (${reach} of ${length})`
    : `its pull takes the hose ${reach} of ${length}: go in from the other end too, or a cleanout is needed`;
}

function wayIn(entries: readonly PlannedEntry[], points: readonly Row[], units: UnitSystem): string[] {
  const ways = entries.flatMap(({ accessPointId, runM }) => {
    const point = points.find(({ id }) => id === accessPointId);
    if (!point) return [];
    const kind = String(point['kind']).replaceAll('_', ' ');
    return [`${kind} ${String(point['place'])} for ${quantityText(runM, 'length', units)}`];
  });
  return ways.length === 0 ? [] : [`in at ${ways.join(', then ')}`];
}

function overflowWords({ overflow }: OrderJet, units: UnitSystem): string[] {
  if (overflow === null) return [];
  const { minutes, minutesNeeded, freeVolumeL, takeOutLps } = overflow;
  if (minutes === null) return [];
  const holds = `the pit holds ${quantityText(freeVolumeL, 'volume', units)} with its pump locked out and runs over after ${withUnit(minutes, 'min', 1)}`;
  if (minutes >= minutesNeeded) return [`${holds}: time enough, with a person inside`];
  const stretch =
    minutes >= LEAST_STRETCH ? ` or stop after ${withUnit(Math.floor(minutes), 'min')} and empty it` : '';
  return [
    `${holds} of ${withUnit(minutesNeeded, 'min')}: a second pump or vacuum that takes out ${quantityText(takeOutLps, 'flow', units)}${stretch}; a person inside`,
  ];
}

/** Shorter stretches clear nothing. Common practice, no source. */
const LEAST_STRETCH = 3;

const MINUTE = 60;
const FOOT_M = toStored({ value: 1, unit: 'ft' }, 'length');
const perMinute = (mps: number, units: UnitSystem): string =>
  units === 'us'
    ? `${numberText((mps * MINUTE) / FOOT_M)} ft a minute`
    : `${numberText(mps * MINUTE, 1)} m a minute`;
