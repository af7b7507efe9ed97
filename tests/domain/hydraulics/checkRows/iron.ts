import type { CheckGroup } from './checkRow.js';
import { lps } from './usUnits.js';

/**
 * Orders of magnitude behind the model, by hand: no rule of the service rests on them, but they say that supply is no
 * limit and what growth a bare surface saw.
 */
const ironKgPerYear = (flowLps: number, mgPerL: number): number => (flowLps * mgPerL * 86_400 * 365.25) / 1e6;
const wetOchreKg = (ironKg: number, ironShareOfDry: number, solidsShare: number): number =>
  ironKg / ironShareOfDry / solidsShare;
const filmMmPerYear = (microgPerCm2: number, hours: number, ironShare: number, solidsShare: number): number =>
  (wetOchreKg(microgPerCm2 / 1e6, ironShare, solidsShare) * 10 * (24 * 365.25)) / hours;
const halfLifeMinutes = (ratePerMinute: number): number => Math.log(2) / ratePerMinute;
const byHydroxide = (pH: number): number => 8e13 * (10 ** (pH - 14)) ** 2 * 0.21;
const byThreeSpecies = (pH: number): number => 6e-5 + 1.7 * 10 ** (pH - 9.5) + 4.3e5 * 10 ** (2 * pH - 20.6);

export const ironRows: readonly CheckGroup[] = [
  {
    source: 'closed form; shares from Ford CIR671, deposit from Pedersen and Hallbeck 1985',
    rows: [
      ['FEO-01', 9.95487591, 'rel:1e-6', () => ironKgPerYear(lps(1), 5)],
      ['FEO-02', 663.6666667, 'rel:1e-6', () => wetOchreKg(9.955, 0.3, 0.05)],
      ['FEO-03', 2.2889, 'rel:1e-6', () => filmMmPerYear(18.8, 48, 0.3, 0.05)],
    ],
  },
  {
    source:
      'arithmetic alone: rate law and k recalled from Stumm and Lee 1961; k1 to k3 after Morgan and Lahav 2007',
    rows: [
      ['FEO-05', 4.125876075, 'rel:1e-3', () => halfLifeMinutes(byHydroxide(7))],
      ['FEO-06', 412.5876075, 'rel:1e-3', () => halfLifeMinutes(byHydroxide(6))],
      ['FEO-07', 6.109877303, 'rel:1e-4', () => halfLifeMinutes(byThreeSpecies(7))],
    ],
  },
];
