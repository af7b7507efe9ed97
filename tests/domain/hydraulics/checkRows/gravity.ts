import { fullFlow } from '../../../../src/domain/hydraulics/manning.js';
import type { CheckGroup } from './checkRow.js';
import { cubicFeet, feet, gpm, mm } from './usUnits.js';

/** Full pipes under their own fall. */
export const gravityRows: CheckGroup[] = [
  {
    source: 'Allen & Major Associates, storm pipe sizing sheet, Hingham MA, 2016-17',
    rows: [
      ['MAN-01', 4.2, 'abs:0.08', () => cubicFeet(fullFlow(mm(12), 0.01, 0.011).flowLps)],
      ['MAN-02', 5.36, 'abs:0.01', () => feet(fullFlow(mm(12), 0.01, 0.011).speedMps)],
      ['MAN-03', 6, 'abs:0.08', () => cubicFeet(fullFlow(mm(12), 0.02, 0.011).flowLps)],
      ['MAN-04', 7.58, 'abs:0.01', () => feet(fullFlow(mm(12), 0.02, 0.011).speedMps)],
      ['MAN-05', 8.8, 'abs:0.08', () => cubicFeet(fullFlow(mm(12), 0.0433, 0.011).flowLps)],
      ['MAN-06', 11.16, 'abs:0.01', () => feet(fullFlow(mm(12), 0.0433, 0.011).speedMps)],
      ['MAN-07', 9.4, 'abs:0.08', () => cubicFeet(fullFlow(mm(12), 0.05, 0.011).flowLps)],
      ['MAN-08', 11.99, 'abs:0.01', () => feet(fullFlow(mm(12), 0.05, 0.011).speedMps)],
      ['MAN-09', 7.7, 'abs:0.08', () => cubicFeet(fullFlow(mm(15), 0.01, 0.011).flowLps)],
      ['MAN-10', 6.22, 'abs:0.01', () => feet(fullFlow(mm(15), 0.01, 0.011).speedMps)],
      ['MAN-11', 10.8, 'abs:0.08', () => cubicFeet(fullFlow(mm(15), 0.02, 0.011).flowLps)],
      ['MAN-12', 8.8, 'abs:0.01', () => feet(fullFlow(mm(15), 0.02, 0.011).speedMps)],
    ],
  },
  {
    source: 'Purcell OK municipal code sewer slopes',
    rows: [
      ['MAN-13', 2, 'ge', () => feet(fullFlow(mm(8), 0.004, 0.013).speedMps)],
      ['MAN-14', 2, 'ge', () => feet(fullFlow(mm(12), 0.0022, 0.013).speedMps)],
      ['MAN-15', 2, 'ge', () => feet(fullFlow(mm(15), 0.0015, 0.013).speedMps)],
      ['MAN-16', 2, 'ge', () => feet(fullFlow(mm(18), 0.0012, 0.013).speedMps)],
      ['MAN-17', 2, 'ge', () => feet(fullFlow(mm(21), 0.001, 0.013).speedMps)],
      ['MAN-18', 2, 'ge', () => feet(fullFlow(mm(24), 0.0008, 0.013).speedMps)],
    ],
  },
  {
    source: 'computed with scipy 1.17.1 with K=1.486',
    rows: [
      ['MAN-24', 111.4547171, 'rel:1e-4', () => gpm(fullFlow(mm(3.975), 0.010416667, 0.01).flowLps)],
      ['MAN-25', 109.2028745, 'rel:1e-4', () => gpm(fullFlow(mm(3.975), 0.01, 0.01).flowLps)],
      ['MAN-26', 315.1720619, 'rel:1e-4', () => gpm(fullFlow(mm(5.915), 0.01, 0.01).flowLps)],
      ['MAN-27', 52.34663499, 'rel:1e-4', () => gpm(fullFlow(mm(4), 0.005, 0.015).flowLps)],
      ['MAN-28', 74.02932114, 'rel:1e-4', () => gpm(fullFlow(mm(4), 0.01, 0.015).flowLps)],
      ['MAN-29', 24.30629725, 'rel:1e-4', () => gpm(fullFlow(mm(3), 0.005, 0.015).flowLps)],
      ['MAN-30', 154.3353673, 'rel:1e-4', () => gpm(fullFlow(mm(6), 0.005, 0.015).flowLps)],
      ['MAN-31', 38.20029102, 'rel:1e-4', () => gpm(fullFlow(mm(4), 0.002, 0.013).flowLps)],
    ],
  },
];
