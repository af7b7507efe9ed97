import { numberText } from './printed.js';

/** One currency per business; amounts are whole minor units. */
export interface Currency {
  /** ISO 4217, as in "USD". */
  code: string;
  /** How many digits its minor unit has: 2 for cents, 0 for yen. */
  minorDigits: number;
}

/** A currency with the digits its minor unit has by ISO 4217. */
export function currencyOf(code: string): Currency {
  const { maximumFractionDigits } = new Intl.NumberFormat('en', {
    style: 'currency',
    currency: code,
  }).resolvedOptions();
  return { code, minorDigits: maximumFractionDigits ?? 2 };
}

export function moneyText(minorUnits: number, { code, minorDigits }: Currency, decimals = 0): string {
  return `${code}\u00A0${numberText(minorUnits / 10 ** minorDigits, Math.min(decimals, minorDigits))}`;
}
