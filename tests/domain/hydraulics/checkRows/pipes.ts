import { boreOfWallMm, boreVolumeL, pipeOf } from '../../../../src/domain/hydraulics/pipes.js';
import type { CheckGroup } from './checkRow.js';
import { gallons, inches, mm } from './usUnits.js';

/** Bores and what they hold. */
export const pipesRows: CheckGroup[] = [
  {
    source: 'PVC pipe data table after ASTM D1785',
    rows: [
      ['DIM-01', 1.364, 'abs:0.005', () => inches(pipeOf('schedule_40', '1-1/4').boreMm)],
      ['DIM-03', 1.592, 'abs:0.005', () => inches(pipeOf('schedule_40', '1-1/2').boreMm)],
      ['DIM-05', 2.049, 'abs:0.005', () => inches(pipeOf('schedule_40', '2').boreMm)],
      ['DIM-07', 3.042, 'abs:0.005', () => inches(pipeOf('schedule_40', '3').boreMm)],
      ['DIM-09', 3.998, 'abs:0.005', () => inches(pipeOf('schedule_40', '4').boreMm)],
      ['DIM-11', 6.031, 'abs:0.005', () => inches(pipeOf('schedule_40', '6').boreMm)],
    ],
  },
  {
    source: 'ASTM D1785 table after',
    rows: [
      ['DIM-02', 1.38, 'abs:0.0005', () => inches(boreOfWallMm(mm(1.66), mm(0.14)))],
      ['DIM-04', 1.61, 'abs:0.0005', () => inches(boreOfWallMm(mm(1.9), mm(0.145)))],
      ['DIM-06', 2.067, 'abs:0.0005', () => inches(boreOfWallMm(mm(2.375), mm(0.154)))],
      ['DIM-08', 3.068, 'abs:0.0005', () => inches(boreOfWallMm(mm(3.5), mm(0.216)))],
      ['DIM-10', 4.026, 'abs:0.0005', () => inches(boreOfWallMm(mm(4.5), mm(0.237)))],
      ['DIM-12', 6.065, 'abs:0.0005', () => inches(boreOfWallMm(mm(6.625), mm(0.28)))],
    ],
  },
  {
    source: 'AASHTO M252-09 cl. 7.2.1',
    rows: [
      ['DIM-15', 3, 'abs:0.12', () => inches(pipeOf('corrugated', '3').boreMm)],
      ['DIM-16', 4, 'abs:0.12', () => inches(pipeOf('corrugated', '4').boreMm)],
      ['DIM-17', 6, 'abs:0.12', () => inches(pipeOf('corrugated', '6').boreMm)],
    ],
  },
  {
    source: 'computed with scipy 1.17.1',
    rows: [
      ['DIM-18', 10.34058894, 'rel:1e-6', () => gallons(boreVolumeL(mm(1.592), 30.48))],
      ['DIM-19', 37.75526883, 'rel:1e-6', () => gallons(boreVolumeL(mm(3.042), 30.48))],
      ['DIM-20', 65.21458382, 'rel:1e-6', () => gallons(boreVolumeL(mm(3.998), 30.48))],
      ['DIM-21', 142.7475442, 'rel:1e-6', () => gallons(boreVolumeL(mm(5.915), 30.48))],
    ],
  },
];
