import {
  colebrook,
  darcyLossM,
  GRAVITY_MPS2,
  reynolds,
  swameeJain,
} from '../../../../src/domain/hydraulics/darcyWeisbach.js';
import { flowAtSpeedLps, speedMps } from '../../../../src/domain/hydraulics/dischargeLine.js';
import { elbowLengthM, pvcElbowLengthM } from '../../../../src/domain/hydraulics/equivalentLength.js';
import { type FittingCount, fittingsK, minorLossM } from '../../../../src/domain/hydraulics/fittings.js';
import { frictionPerM } from '../../../../src/domain/hydraulics/hazenWilliams.js';
import type { CheckGroup } from './checkRow.js';
import { feet, gpm, lps, mm } from './usUnits.js';

/** Velocity heads a fitting loses, from the head it loses at 3 m/s. */
const velocityHeads = (counts: FittingCount): number =>
  (minorLossM(fittingsK(counts), 3) * 2 * GRAVITY_MPS2) / 9;

/** Friction and fittings of pressure lines. */
export const frictionRows: CheckGroup[] = [
  {
    source:
      'Illinois Admin. Code tit. 77, part 906, app. A, exhibit I (Schedule 40 plastic, C=150), current to Jan 2025',
    rows: [
      ['HWF-01', 5.5, 'rel:0.035', () => 100 * frictionPerM(lps(10), mm(1.049), 150)],
      ['HWF-02', 1.46, 'rel:0.035', () => 100 * frictionPerM(lps(10), mm(1.38), 150)],
      ['HWF-03', 5.23, 'rel:0.035', () => 100 * frictionPerM(lps(20), mm(1.38), 150)],
      ['HWF-04', 0.7, 'rel:0.035', () => 100 * frictionPerM(lps(10), mm(1.61), 150)],
      ['HWF-05', 1.45, 'rel:0.035', () => 100 * frictionPerM(lps(15), mm(1.61), 150)],
      ['HWF-06', 2.46, 'rel:0.035', () => 100 * frictionPerM(lps(20), mm(1.61), 150)],
      ['HWF-07', 3.75, 'rel:0.035', () => 100 * frictionPerM(lps(25), mm(1.61), 150)],
      ['HWF-08', 5.22, 'rel:0.035', () => 100 * frictionPerM(lps(30), mm(1.61), 150)],
      ['HWF-09', 0.74, 'rel:0.035', () => 100 * frictionPerM(lps(20), mm(2.067), 150)],
      ['HWF-10', 1.1, 'rel:0.035', () => 100 * frictionPerM(lps(25), mm(2.067), 150)],
      ['HWF-11', 1.54, 'rel:0.035', () => 100 * frictionPerM(lps(30), mm(2.067), 150)],
      ['HWF-12', 2.62, 'rel:0.035', () => 100 * frictionPerM(lps(40), mm(2.067), 150)],
      ['HWF-13', 3.98, 'rel:0.035', () => 100 * frictionPerM(lps(50), mm(2.067), 150)],
      ['HWF-14', 0.58, 'rel:0.035', () => 100 * frictionPerM(lps(50), mm(3.068), 150)],
      ['HWF-15', 2.09, 'rel:0.035', () => 100 * frictionPerM(lps(100), mm(3.068), 150)],
      ['HWF-16', 0.55, 'rel:0.035', () => 100 * frictionPerM(lps(100), mm(4.026), 150)],
    ],
  },
  {
    source: 'computed with scipy 1.17.1; h=0.2083 (100/C)^1.852 Q^1.852 / d^4.8655',
    rows: [
      ['HWF-17', 2.62737362, 'rel:1e-4', () => 100 * frictionPerM(lps(20), mm(1.592), 150)],
      ['HWF-18', 5.567277215, 'rel:1e-4', () => 100 * frictionPerM(lps(30), mm(1.592), 150)],
      ['HWF-19', 9.484826415, 'rel:1e-4', () => 100 * frictionPerM(lps(40), mm(1.592), 150)],
      ['HWF-20', 1.630757646, 'rel:1e-4', () => 100 * frictionPerM(lps(30), mm(2.049), 150)],
      ['HWF-21', 2.778279686, 'rel:1e-4', () => 100 * frictionPerM(lps(40), mm(2.049), 150)],
    ],
  },
  {
    source: 'Fair, Geyer and Okun, Water and Wastewater Engineering, 3rd ed. 2010, table 14.9',
    rows: [
      ['HWF-22', 176, 'rel:0.01', () => gpm(flowAtSpeedLps(mm(6), 0.3048 * 2))],
      ['HWF-23', 313, 'rel:0.01', () => gpm(flowAtSpeedLps(mm(8), 0.3048 * 2))],
      ['HWF-24', 490, 'rel:0.01', () => gpm(flowAtSpeedLps(mm(10), 0.3048 * 2))],
      ['HWF-25', 1585, 'rel:0.01', () => gpm(flowAtSpeedLps(mm(18), 0.3048 * 2))],
      ['HWF-26', 2819, 'rel:0.01', () => gpm(flowAtSpeedLps(mm(24), 0.3048 * 2))],
    ],
  },
  {
    source: 'computed with scipy 1.17.1',
    rows: [
      ['HWF-27', 4.835341911, 'rel:1e-3', () => feet(speedMps(mm(1.592), lps(30)))],
      ['HWF-28', 12.40863647, 'rel:1e-3', () => gpm(flowAtSpeedLps(mm(1.592), 0.3048 * 2))],
      ['DWB-03', 0.01684168109, 'abs:1e-6', () => colebrook(599993, 0.0004)],
      ['DWB-04', 0.02200193655, 'abs:1e-6', () => colebrook(40000, 1e-5)],
      ['DWB-05', 0.01798977308, 'abs:1e-6', () => colebrook(100000, 0)],
      ['DWB-06', 0.03936323352, 'abs:1e-6', () => colebrook(40000, 0.01)],
    ],
  },
  {
    source: 'surge-analysis textbook supplement, problem 0.2',
    rows: [
      ['DWB-01', 0.0169, 'abs:0.0001', () => swameeJain(reynolds(2, 300, 1e-6), 0.12 / 300)],
      ['DWB-02', 0.0689, 'abs:0.0002', () => darcyLossM(0.0169, 6, 300, 2, 9.81)],
    ],
  },
  {
    source: 'LMNO Engineering, minor loss coefficients',
    rows: [
      ['MIN-01', 2, 'abs:0.001', () => velocityHeads({ swing_check: 1 })],
      ['MIN-02', 1.5, 'abs:0.001', () => velocityHeads({ elbow_90: 1 })],
      ['MIN-03', 0.7, 'abs:0.001', () => velocityHeads({ elbow_90_long: 1 })],
      ['MIN-04', 0.4, 'abs:0.001', () => velocityHeads({ elbow_45: 1 })],
      ['MIN-05', 0.15, 'abs:0.001', () => velocityHeads({ gate_valve: 1 })],
    ],
  },
  {
    source: 'International Residential Code 2018, table A.2.2 (equivalent lengths)',
    rows: [
      ['MIN-06', 4.02, 'abs:0.011', () => feet(elbowLengthM('elbow_90', mm(1.61)))],
      ['MIN-07', 5.17, 'abs:0.011', () => feet(elbowLengthM('elbow_90', mm(2.067)))],
      ['MIN-08', 1.88, 'abs:0.011', () => feet(elbowLengthM('elbow_45', mm(1.61)))],
      ['MIN-09', 2.41, 'abs:0.011', () => feet(elbowLengthM('elbow_45', mm(2.067)))],
    ],
  },
  {
    source: 'PVC equivalent length table',
    rows: [
      ['MIN-10', 3.8, 'abs:0.05', () => feet(pvcElbowLengthM('1-1/4'))],
      ['MIN-11', 4, 'abs:0.05', () => feet(pvcElbowLengthM('1-1/2'))],
      ['MIN-12', 5.7, 'abs:0.05', () => feet(pvcElbowLengthM('2'))],
      ['MIN-13', 7.9, 'abs:0.05', () => feet(pvcElbowLengthM('3'))],
      ['MIN-14', 12, 'abs:0.05', () => feet(pvcElbowLengthM('4'))],
    ],
  },
  {
    source: 'closed form',
    rows: [['MIN-15', 0.777024927, 'rel:1e-6', () => feet(minorLossM(2, 5 * 0.3048, 32.174 * 0.3048))]],
  },
];
