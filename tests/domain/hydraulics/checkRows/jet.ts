import { HOSE_LOSS, hoseLossKpa } from '../../../../src/domain/jetting/hose.js';
import {
  axialN,
  hydraulicPowerW,
  jetSpeedMps,
  type Nozzle,
  nozzleFlowLps,
  orificeFlowLps,
  orificeReactionN,
  reactionN,
} from '../../../../src/domain/jetting/nozzle.js';
import { passWaterL } from '../../../../src/domain/jetting/passes.js';
import { pressureLimit } from '../../../../src/domain/jetting/pressureLimit.js';
import type { CheckGroup } from './checkRow.js';
import { feet, gallons, gpm, horses, kpa, lps, mm, pounds, psi } from './usUnits.js';

const rearJets = (count: number, boreIn: number): Nozzle => ({
  rear: { count, boreMm: mm(boreIn), angleFromAxisDeg: 30 },
  front: null,
  coefficient: 0.95,
  diameterMm: 25,
  rigidLengthMm: 60,
});

/** Jets, hoses, pressure limits. */
export const jetRows: CheckGroup[] = [
  {
    source: 'fire hydrant flow worked example after NFPA 291',
    rows: [
      ['JET-01', 1061, 'abs:2', () => gpm(orificeFlowLps(mm(2.5), 0.9, kpa(40)))],
      ['JET-05', 1127, 'abs:2', () => gpm(orificeFlowLps(mm(4), 0.9 * 0.83, kpa(10)))],
    ],
  },
  {
    source: 'fire flow worked table after NFPA 291',
    rows: [
      ['JET-02', 530, 'abs:2', () => gpm(orificeFlowLps(mm(2.5), 0.9, kpa(10)))],
      ['JET-03', 918, 'abs:2', () => gpm(orificeFlowLps(mm(2.5), 0.9, kpa(30)))],
      ['JET-04', 1186, 'abs:2', () => gpm(orificeFlowLps(mm(2.5), 0.9, kpa(50)))],
    ],
  },
  {
    source: 'closed form',
    rows: [
      ['JET-06', 1.75666131, 'rel:1e-4', () => gpm(nozzleFlowLps(rearJets(1, 0.04), kpa(1500)))],
      ['JET-07', 7.026645241, 'rel:1e-4', () => gpm(nozzleFlowLps(rearJets(4, 0.04), kpa(1500)))],
      ['JET-08', 18.78747526, 'rel:1e-4', () => gpm(nozzleFlowLps(rearJets(4, 0.055), kpa(3000)))],
      ['JET-09', 14.45470052, 'rel:1e-4', () => gpm(nozzleFlowLps(rearJets(4, 0.05), kpa(2600)))],
      ['JET-16', 4.07437848, 'rel:1e-3', () => pounds(reactionN(lps(2), kpa(1500)))],
      ['JET-17', 1.750291715, 'rel:1e-3', () => horses(hydraulicPowerW(lps(2), kpa(1500)))],
      ['JET-18', 11.52408261, 'rel:1e-3', () => pounds(reactionN(lps(4), kpa(3000)))],
      ['JET-19', 7.001166861, 'rel:1e-6', () => horses(hydraulicPowerW(lps(4), kpa(3000)))],
      ['JET-20', 21.45667411, 'rel:1e-6', () => pounds(reactionN(lps(8), kpa(2600)))],
      ['JET-21', 12.13535589, 'rel:1e-6', () => horses(hydraulicPowerW(lps(8), kpa(2600)))],
      ['JET-22', 9.110587248, 'rel:1e-6', () => pounds(reactionN(lps(5), kpa(1200)))],
      ['JET-23', 3.500583431, 'rel:1e-6', () => horses(hydraulicPowerW(lps(5), kpa(1200)))],
      ['JET-24', 9.980148295, 'rel:1e-6', () => pounds(axialN(reactionN(lps(4), kpa(3000)), 30))],
      ['JET-25', 667.6737976, 'rel:2e-3', () => feet(jetSpeedMps(kpa(3000)))],
      [
        'JET-30',
        40,
        'rel:1e-9',
        () => gallons(passWaterL(30.48, (30 * 0.3048) / 60, (15 * 0.3048) / 60, lps(4))),
      ],
    ],
  },
  {
    source: 'arithmetic on the fire-service formula',
    rows: [
      ['JET-10', 78.5, 'abs:0.1', () => pounds(orificeReactionN(mm(1), kpa(50)))],
      ['JET-11', 50.5, 'abs:0.1', () => pounds(reactionN(lps(100), kpa(100), 0.0505))],
    ],
  },
  {
    source: 'arithmetic on the formula of Fire Engineering, nozzle reaction (R=2PA, Freeman 37.83)',
    rows: [['JET-12', 52.86809411, 'abs:0.2', () => pounds(reactionN(lps(100), kpa(100), 2 / 37.83))]],
  },
  {
    source: 'Engineering ToolBox, jet propulsion example',
    rows: [['JET-13', 106, 'abs:0.5', () => orificeReactionN(15, 400 - 100)]],
  },
  {
    source: 'fire text metric forms R=0.157 P d^2 and L=(2/3) d^2 sqrt(P)',
    rows: [
      ['JET-14', 450, 'abs:1.5', () => orificeFlowLps(23.4, 1, 152) * 60],
      ['JET-15', 130, 'abs:1', () => orificeReactionN(23.4, 152)],
    ],
  },
  {
    source: 'friction loss formula page FL=C (Q/100)^2 L/100',
    rows: [['JET-26', 69.75, 'abs:0.01', () => psi(hoseLossKpa(lps(150), 0.3048 * 200, HOSE_LOSS['1-3/4']))]],
  },
  {
    source: 'coefficient from friction loss formula page FL=C (Q/100)^2 L/100',
    rows: [
      ['JET-27', 5.5, 'rel:1e-9', () => psi(hoseLossKpa(lps(10), 0.3048 * 50, HOSE_LOSS['3/4']))],
      ['JET-28', 24.75, 'rel:1e-9', () => psi(hoseLossKpa(lps(15), 0.3048 * 100, HOSE_LOSS['3/4']))],
      ['JET-29', 6, 'rel:1e-9', () => psi(hoseLossKpa(lps(20), 0.3048 * 100, HOSE_LOSS['1']))],
    ],
  },
  {
    source: 'WRc Sewer Jetting Code of Practice 2nd ed. 2005, table 1',
    rows: [
      [
        'LIM-01',
        5000,
        'le',
        () => psi(pressureLimit({ material: 'concrete', condition: 'sound', perforated: false }).kpa),
      ],
      [
        'LIM-02',
        5000,
        'le',
        () => psi(pressureLimit({ material: 'clay', condition: 'sound', perforated: false }).kpa),
      ],
      [
        'LIM-03',
        2600,
        'le',
        () => psi(pressureLimit({ material: 'pvc', condition: 'sound', perforated: false }).kpa),
      ],
      [
        'LIM-04',
        1500,
        'le',
        () => psi(pressureLimit({ material: 'other', condition: 'sound', perforated: false }).kpa),
      ],
    ],
  },
  {
    source: 'Morris and Cant, Sewer Jetting, PPCA 1998',
    rows: [
      [
        'LIM-05',
        1900,
        'le',
        () => psi(pressureLimit({ material: 'pvc', condition: 'worn', perforated: false }).kpa),
      ],
      [
        'LIM-06',
        1200,
        'le',
        () => psi(pressureLimit({ material: 'pvc', condition: 'weak', perforated: false }).kpa),
      ],
    ],
  },
  {
    source: 'Dutch association of drainage contractors (VND), drain jetters',
    rows: [
      [
        'LIM-08',
        15,
        'abs:0',
        () => pressureLimit({ material: 'corrugated_hdpe', condition: 'sound', perforated: true }).kpa / 100,
      ],
    ],
  },
];
