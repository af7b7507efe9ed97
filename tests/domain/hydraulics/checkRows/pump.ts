import { bucketError, bucketFlow, fieldDrainMmPerDay } from '../../../../src/domain/hydraulics/bucketFlow.js';
import { operatingPoint } from '../../../../src/domain/hydraulics/operatingPoint.js';
import {
  activeVolumeL,
  cycleMinutes,
  dutyShare,
  inflowOfShortestCycleLps,
  litresPerMm,
  shortestCycleMinutes,
} from '../../../../src/domain/hydraulics/pitCycle.js';
import { powerCurve } from '../../../../src/domain/hydraulics/pumpCurve.js';
import { blockedShareSlope } from '../../../../src/domain/hydraulics/segment.js';
import type { CheckGroup } from './checkRow.js';
import { gallons, gpm, litres, lps, mm } from './usUnits.js';

/** A generic third-horsepower pump, 22 ft − .0092593 Q² (gpm), lifting 9 ft through smooth plastic. */
function operatingGpm(lengthFt: number, boreIn: number): number {
  const pump = powerCurve(22 * 0.3048, (0.3048 * 0.00925925926) / lps(1) ** 2, 2);
  const point = operatingPoint(pump, {
    boreMm: mm(boreIn),
    lengthM: 0.3048 * lengthFt,
    liftM: 9 * 0.3048,
    friction: { law: 'hazen_williams', c: 150 },
    fittings: {},
  });
  return point === null ? Number.NaN : gpm(point.flowLps);
}

/** Pump against line, pit cycles, buckets. */
export const pumpRows: CheckGroup[] = [
  {
    source: 'computed with scipy 1.17.1 (brentq)',
    rows: [
      ['PMP-02', 31.69514021, 'rel:2e-3', () => operatingGpm(60, 1.592)],
      ['PMP-03', 28.97133959, 'rel:1e-4', () => operatingGpm(60, 1.4328)],
      ['PMP-04', 25.15699724, 'rel:1e-4', () => operatingGpm(60, 1.2736)],
      ['PMP-05', 20.29520598, 'rel:1e-4', () => operatingGpm(60, 1.1144)],
      ['PMP-06', 14.88273285, 'rel:1e-4', () => operatingGpm(60, 0.9552)],
      ['PMP-07', 9.739120103, 'rel:1e-4', () => operatingGpm(60, 0.796)],
      ['PMP-08', 35.49260433, 'rel:1e-4', () => operatingGpm(60, 2.049)],
      ['PMP-09', 25.90368226, 'rel:1e-4', () => operatingGpm(160, 1.592)],
    ],
  },
  {
    source: 'formula of MIL-HDBK-1005/9A sec. 2.5.3.6 eq. 1-2',
    rows: [
      ['CYC-01', 1.066666667, 'rel:1e-9', () => cycleMinutes(litres(8), lps(40), lps(10)) ?? Number.NaN],
      ['CYC-02', 0.8, 'rel:1e-9', () => cycleMinutes(litres(8), lps(40), lps(20)) ?? Number.NaN],
      ['CYC-03', 1.828571429, 'rel:1e-9', () => cycleMinutes(litres(8), lps(40), lps(5)) ?? Number.NaN],
      ['CYC-04', 1.333333333, 'rel:1e-9', () => cycleMinutes(litres(8), lps(25), lps(10)) ?? Number.NaN],
      ['CYC-05', 2.4, 'rel:1e-9', () => cycleMinutes(litres(8), lps(15), lps(10)) ?? Number.NaN],
      ['CYC-06', 0.8, 'abs:1e-9', () => shortestCycleMinutes(litres(8), lps(40))],
      ['CYC-07', 20, 'abs:1e-9', () => gpm(inflowOfShortestCycleLps(lps(40)))],
    ],
  },
  {
    source: 'formula of EI 11C201 / UFC 3-240-04A sec. 7 V=tq/4',
    rows: [['CYC-08', 100, 'abs:1e-9', () => gallons(activeVolumeL(10, lps(40)))]],
  },
  {
    source: 'closed form',
    rows: [
      ['CYC-10', 0.25, 'abs:1e-9', () => dutyShare(lps(40), lps(10))],
      ['CYC-13', 1.101597424, 'rel:1e-6', () => gallons(litresPerMm(mm(18)) * 25.4)],
      ['CYC-14', 1.95839542, 'rel:1e-6', () => gallons(litresPerMm(mm(24)) * 25.4)],
      ['FLD-01', 10, 'abs:1e-9', () => gpm(bucketFlow(litres(5), 30).flowLps)],
      ['FLD-02', 24, 'abs:1e-9', () => gpm(bucketFlow(litres(5), 12.5).flowLps)],
      ['FLD-03', 0.02828427125, 'rel:1e-9', () => bucketError(0.1 / 5, 0.3 / 15, 1)],
      ['FLD-04', 0.02309401077, 'rel:1e-9', () => bucketError(0.1 / 5, 0.3 / 15, 3)],
      ['FLD-08', 0.05263554992, 'rel:1e-9', () => (blockedShareSlope(0.5 / 4) * 0.25) / 4],
      ['FLD-09', 0.06891611193, 'rel:1e-9', () => (blockedShareSlope(1.0 / 4) * 0.25) / 4],
      ['FLD-10', 0.07957747155, 'rel:1e-9', () => (blockedShareSlope(2.0 / 4) * 0.25) / 4],
    ],
  },
  {
    source: 'University of Illinois Extension (D. Friend), sump sizing, 2013',
    rows: [
      ['CYC-11', 1, 'abs:0.15', () => gallons(litresPerMm(mm(18)) * 25.4)],
      ['CYC-12', 2, 'abs:0.10', () => gallons(litresPerMm(mm(24)) * 25.4)],
    ],
  },
  {
    source: 'formula of VND maintenance page',
    rows: [['FLD-06', 7.2, 'rel:1e-9', () => fieldDrainMmPerDay(200, 10, 1 / 6)]],
  },
];
