import { Project, Workspace } from 'epanet-js';
import { expect, test } from 'vitest';
import { GROUND_WATER_VISCOSITY_M2S } from '../../../src/domain/hydraulics/darcyWeisbach.js';
import type { DischargeLine, Friction } from '../../../src/domain/hydraulics/dischargeLine.js';
import { fittingsK } from '../../../src/domain/hydraulics/fittings.js';
import { operatingPoint } from '../../../src/domain/hydraulics/operatingPoint.js';
import { type PumpPoint, pumpCurve } from '../../../src/domain/hydraulics/pumpCurve.js';

// The network solver EPANET 2.3 (US EPA, public domain; Rossman), compiled to WebAssembly, sees one pit, one pump,
// one pipe with its fittings, one outlet. A fouled line is to it a pipe of the bore an even coat leaves.

const THIRD_HORSEPOWER: PumpPoint[] = [
  { flowLps: 0, headM: 6.7056 },
  { flowLps: 1.2618, headM: 5.577 },
  { flowLps: 2.5236, headM: 2.1907 },
];
const MANY_POINTS: PumpPoint[] = [
  { flowLps: 0, headM: 9.1 },
  { flowLps: 0.8, headM: 8.4 },
  { flowLps: 1.6, headM: 7.1 },
  { flowLps: 2.4, headM: 5.2 },
  { flowLps: 3.2, headM: 2.6 },
  { flowLps: 3.8, headM: 0.4 },
];
const DUTY_POINT: PumpPoint[] = [{ flowLps: 2, headM: 4.5 }];

const HAZEN: Friction = { law: 'hazen_williams', c: 150 };
const DARCY: Friction = { law: 'darcy_weisbach', roughnessMm: 0.0015 };
const ROUGH: Friction = { law: 'darcy_weisbach', roughnessMm: 0.5 };

const house: Omit<DischargeLine, 'friction'> = {
  boreMm: 40.4368,
  lengthM: 18.288,
  liftM: 2.7432,
  fittings: { swing_check: 1, elbow_90: 3 },
};
const long = {
  ...house,
  boreMm: 52.0446,
  lengthM: 48.768,
  fittings: { swing_check: 1, elbow_45: 2, gate_valve: 1 },
};

const CASES = [THIRD_HORSEPOWER, MANY_POINTS, DUTY_POINT].flatMap((points) =>
  [house, long].flatMap((line) =>
    [HAZEN, DARCY, ROUGH].map((friction) => ({ points, line: { ...line, friction } })),
  ),
);
const OCCLUSIONS = [0, 0.2, 0.36, 0.51, 0.75];

/** Link property of the EPANET toolkit. */
const EN_FLOW = 8;

const workspace = new Workspace();

async function epanetFlowLps(
  points: readonly PumpPoint[],
  line: DischargeLine,
  occlusion: number,
): Promise<number> {
  await workspace.loadModule();
  const hazen = line.friction.law === 'hazen_williams';
  const roughness = line.friction.law === 'hazen_williams' ? line.friction.c : line.friction.roughnessMm;
  const openMm = line.boreMm * Math.sqrt(1 - occlusion);
  // EPANET takes viscosity over that of water at 20 °C, 1.1e-5 ft²/s.
  const viscosity = GROUND_WATER_VISCOSITY_M2S / (1.1e-5 * 0.3048 ** 2);
  workspace.writeFile(
    'line.inp',
    `[JUNCTIONS]\nAfterPump 0 0\n[RESERVOIRS]\nPit 0\nOutlet ${line.liftM}\n
[PIPES]\nDischarge AfterPump Outlet ${line.lengthM} ${openMm} ${roughness} ${fittingsK(line.fittings)} Open\n
[PUMPS]\nPump Pit AfterPump HEAD Curve\n
[CURVES]\n${points.map(({ flowLps, headM }) => `Curve ${flowLps} ${headM}`).join('\n')}\n
[OPTIONS]\nUnits LPS\nHeadloss ${hazen ? 'H-W' : 'D-W'}\nViscosity ${viscosity}\nAccuracy 0.00001\nTrials 200\n[END]\n`,
  );
  const project = new Project(workspace);
  project.open('line.inp', 'line.rpt', 'line.out');
  project.openH();
  project.initH(0);
  project.runH();
  const flowLps = project.getLinkValue(project.getLinkIndex('Discharge'), EN_FLOW);
  project.closeH();
  project.close();
  return flowLps;
}

// Largest difference when written: .74 %.
test('what a pump moves through a clean and a fouled line agrees with EPANET within 1 %', async () => {
  let compared = 0;
  for (const { points, line } of CASES) {
    for (const occlusion of OCCLUSIONS) {
      const theirs = await epanetFlowLps(points, line, occlusion);
      const ours = operatingPoint(pumpCurve(points), line, { occlusion, shape: 'even_coat' })?.flowLps ?? 0;
      expect(theirs).toBeGreaterThan(0.1);
      expect(
        Math.abs(ours / theirs - 1),
        `${JSON.stringify({ points, line, occlusion, ours, theirs })}`,
      ).toBeLessThan(0.01);
      compared++;
    }
  }
  expect(compared).toBe(90);
});
