import { type DimensionName, fromStored, type UnitSystem } from '../domain/units/quantity.js';

export { clockText, dayText, MONTHS, monthText, weekdayText } from '../domain/calendar/saidDay.js';

/** Keeps a number and its unit on one line; a thin one between thousands, which no country reads as a comma. */
const NO_BREAK = '\u00A0';
const THIN = '\u202F';
const MINUS = '\u2212';

/** A number as printed: thousands apart, a real minus sign, at most `decimals` decimals, no trailing zeros. */
export function numberText(value: number, decimals = 0): string {
  if (!Number.isFinite(value)) throw new RangeError(`not a number that can be printed: ${value}`);
  const [whole = '0', part = ''] = Math.abs(value).toFixed(decimals).split('.');
  const kept = part.replace(/0+$/, '');
  const grouped = whole.replace(/\B(?=(\d{3})+(?!\d))/g, THIN);
  const sign = value < 0 && /[1-9]/.test(whole + kept) ? MINUS : '';
  return `${sign}${grouped}${kept === '' ? '' : `.${kept}`}`;
}

export function shareText(share: number, decimals = 0): string {
  return `${numberText(100 * share, decimals)}${NO_BREAK}%`;
}

/** "1 reading", "23 readings": every figure says how much stands behind it. */
export function countText(count: number, one: string, many = `${one}s`): string {
  return `${numberText(count)}${NO_BREAK}${count === 1 ? one : many}`;
}

export function withUnit(value: number, unit: string, decimals = 0): string {
  return `${numberText(value, decimals)}${NO_BREAK}${unit}`;
}

/** A stored quantity in the unit people of that system use, to about three figures. */
export function quantityText(stored: number, dimension: DimensionName, system: UnitSystem): string {
  const { value, unit } = fromStored(stored, dimension, system);
  const size = Math.abs(value);
  return withUnit(value, unit, size >= 100 || size === 0 ? 0 : size >= 10 ? 1 : 2);
}

/** The same for a client, who is told about how much: whole units. */
export function aboutText(stored: number, dimension: DimensionName, system: UnitSystem): string {
  const { value, unit } = fromStored(stored, dimension, system);
  return Math.abs(value) < 1 ? quantityText(stored, dimension, system) : withUnit(value, unit, 0);
}

/** What somebody estimated by hand: "about 86 gal", "about 170 gal", "about 3 gal"; two figures at most, one under ten. */
export function estimateText(stored: number, dimension: DimensionName, system: UnitSystem): string {
  const { value, unit } = fromStored(stored, dimension, system);
  const figures = Math.abs(value) < 10 ? 1 : 2;
  return `about ${withUnit(Number(value.toPrecision(figures)), unit, Math.abs(value) < 1 ? 2 : 0)}`;
}

/** Somebody's words as the end of a sentence: with one stop, whether they wrote one or not. */
export function stopped(words: string): string {
  const said = words.trimEnd();
  return /[.!?…。！？۔।]$/u.test(said) ? said : `${said}.`;
}

/** Somebody's words as the beginning of a sentence. */
export const begun = (words: string): string => words.slice(0, 1).toUpperCase() + words.slice(1);

/** Whole numbers in order: "457 to 463, 465". */
export function runsText(numbers: readonly number[]): string {
  const runs: [number, number][] = [];
  for (const number of [...numbers].sort((a, b) => a - b)) {
    const last = runs.at(-1);
    if (last !== undefined && number === last[1] + 1) last[1] = number;
    else runs.push([number, number]);
  }
  return runs
    .map(([from, to]) => (from === to ? `${from}` : `${from}${to === from + 1 ? ', ' : ' to '}${to}`))
    .join(', ');
}

/** "45 min", "1 h 05". */
export function durationText(seconds: number): string {
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return withUnit(minutes, 'min');
  return `${numberText(Math.floor(minutes / 60))}${NO_BREAK}h${NO_BREAK}${String(minutes % 60).padStart(2, '0')}`;
}

/** Road distance in km or miles. */
export function distanceText(metres: number, system: UnitSystem): string {
  return system === 'metric' ? withUnit(metres / 1000, 'km', 1) : withUnit(metres / METRES_PER_MILE, 'mi', 1);
}

/** International mile, exact by definition. */
export const METRES_PER_MILE = 1609.344;

/** Words that may run right to left, kept from turning the words around them. */
export function isolated(words: string): string {
  return `\u2068${words}\u2069`;
}
