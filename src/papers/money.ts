import { numberText } from './printed.js';

/** One currency per business; amounts are whole minor units. */
export interface Currency {
  /** ISO 4217, as in "USD". */
  code: string;
  /** How many digits its minor unit has: 2 for cents, 0 for yen. */
  minorDigits: number;
}

export function moneyText(minorUnits: number, { code, minorDigits }: Currency, decimals = 0): string {
  return `${code}\u00A0${numberText(minorUnits / 10 ** minorDigits, Math.min(decimals, minorDigits))}`;
}
