import { expect, test } from 'vitest';
import { type JetJob, planJet } from '../../../src/domain/jetting/jetPlan.js';
import { nozzleFlowLps } from '../../../src/domain/jetting/nozzle.js';

const PSI = 6.894757293168;
const NOZZLE: JetJob['nozzle'] = {
  rear: { count: 4, boreMm: 1.1, angleFromAxisDeg: 20 },
  front: null,
  coefficient: 0.95,
  diameterMm: 25,
  rigidLengthMm: 160,
};
const FLOW_LPS = nozzleFlowLps(NOZZLE, 7000);
const JOB: JetJob = {
  pipe: { material: 'pvc', condition: 'sound', perforated: false, boreMm: 101.6, lengthM: 20, bends: [] },
  occlusion: 0.45,
  residue: 0.05,
  deposit: 'gel',
  machine: { pressureKpa: 8000, flowLps: FLOW_LPS },
  hose: { lengthM: 40, lossCoefficient: 1100, weightNPerM: 3, drag: 0.4 },
  nozzle: NOZZLE,
};

function plan(change: Partial<JetJob>) {
  const got = planJet({ ...JOB, ...change });
  if (!got.ok) throw new Error(JSON.stringify(got.faults));
  return got.plan;
}
function faults(change: Partial<JetJob>) {
  const got = planJet({ ...JOB, ...change });
  return got.ok ? [] : got.faults.map((fault) => fault.code);
}
const pipe = (change: Partial<JetJob['pipe']>) => ({ pipe: { ...JOB.pipe, ...change } });

test('a gel at 45 % takes three passes; water and minutes follow from speeds and flow', () => {
  const got = plan({});
  // 1 + ceil((.45 − .20) / .17) = 3; in 20 m at .1524 m/s, out at .0762: 131 + 262 s, three times: 19.7 min
  expect(got.passes).toBe(3);
  expect(got.jetMinutes).toBeCloseTo((3 * (20 / 0.1524 + 20 / 0.0762)) / 60, 9);
  expect(got.waterL).toBeCloseTo(got.jetMinutes * 60 * FLOW_LPS * 1.1, 6);
  // bore 8.107 L a metre, 20 m, .40 of it, loosened by half
  expect(got.sludgeL).toBeCloseTo(8.107 * 20 * 0.4 * 1.5, 1);
  expect(got.findings).toEqual([]);
});

test('crust takes more passes at half the speed', () => {
  const crust = plan({ deposit: 'crust' });
  expect(crust.passes).toBeGreaterThan(plan({}).passes);
  expect(crust.jetMinutes).toBeGreaterThan(3 * plan({}).jetMinutes);
});

test('a plan above the pressure limit is refused, with the limit and its source', () => {
  const strong = { machine: { pressureKpa: 3000 * PSI, flowLps: FLOW_LPS } };
  expect(faults(strong)).toEqual(['pressure-above-limit']);
  expect(faults({ machine: { pressureKpa: 2600 * PSI, flowLps: FLOW_LPS } })).toEqual([]);
  const got = planJet({ ...JOB, ...strong });
  expect(got.ok ? '' : got.faults[0]?.text).toContain('Sewer Jetting Code of Practice');
});

test('an unknown condition counts as weak, slots lower the limit', () => {
  const machine = { pressureKpa: 1500 * PSI, flowLps: FLOW_LPS };
  expect(faults({ machine })).toEqual([]);
  expect(faults({ machine, ...pipe({ condition: 'unknown' }) })).toEqual(['pressure-above-limit']);
  expect(faults({ machine, ...pipe({ condition: 'worn' }) })).toEqual([]);
  expect(faults({ machine, ...pipe({ perforated: true }) })).toEqual(['pressure-above-limit']);
});

test('corrugated pipe counts as slotted: 15 bar at the nozzle, and water enough', () => {
  const slotted = pipe({ material: 'corrugated_hdpe', perforated: null });
  expect(faults(slotted)).toEqual(['pressure-above-limit']); // 70 bar at the nozzle
  const at = (kpa: number, count: number) => {
    const nozzle = { ...NOZZLE, rear: { count, boreMm: 2, angleFromAxisDeg: 20 } };
    return { ...slotted, nozzle, machine: { pressureKpa: 5000, flowLps: nozzleFlowLps(nozzle, kpa) } };
  };
  const codes = (kpa: number, count: number) => plan(at(kpa, count)).findings.map((finding) => finding.code);
  // VND: 10 to 15 bar, at least 70 L/min. Eight 2 mm jets at 14 bar pass 76 L/min, four 38.
  expect(codes(1400, 8)).toEqual(['keep-moving']);
  expect(codes(1400, 4)).toContain('little-water');
  expect(codes(900, 12)).toEqual(['little-pressure', 'keep-moving']);
  expect(faults(at(1600, 8))).toEqual(['pressure-above-limit']);
});

test('a nozzle that can turn back in the bore is refused', () => {
  expect(faults({ nozzle: { ...NOZZLE, rigidLengthMm: 120 } })).toEqual(['nozzle-may-turn-back']); // 1.5 × 101.6
  expect(faults(pipe({ boreMm: 30 }))).toEqual(['nozzle-too-wide']);
});

test('a machine that cannot give nozzle and hose their pressure is refused', () => {
  expect(faults({ machine: { pressureKpa: 7000, flowLps: FLOW_LPS } })).toEqual(['machine-too-weak']);
});

test('a hose that is not pulled to the end says so and jets what it reaches', () => {
  const bends = [
    { atM: 5, degrees: 90 },
    { atM: 6, degrees: 90 },
    { atM: 12, degrees: 90 },
    { atM: 14, degrees: 90 },
  ];
  const got = plan({ ...pipe({ bends, lengthM: 40 }) });
  expect(got.reachM).toBeLessThan(40);
  expect(got.findings.map((finding) => finding.code)).toEqual(['does-not-reach']);
  expect(got.waterL).toBeLessThan(plan(pipe({ lengthM: 40 })).waterL);
});

test('a line that would take more passes than a jet is good for raises the next rung', () => {
  expect(plan({ occlusion: 0.95, deposit: 'crust' }).findings[0]?.code).toBe('too-many-passes');
});

test('every limit is kept at its own place: little at the nozzle does not free the pump', () => {
  const nozzle = { ...NOZZLE, rear: { count: 8, boreMm: 2, angleFromAxisDeg: 20 } };
  const flowLps = nozzleFlowLps(nozzle, 1400);
  const slotted = pipe({ material: 'corrugated_hdpe', perforated: true });
  expect(faults({ ...slotted, nozzle, machine: { pressureKpa: 17000, flowLps } })).toEqual([]);
  expect(faults({ ...slotted, nozzle, machine: { pressureKpa: 19000, flowLps } })).toEqual([
    'pressure-above-limit',
  ]);
});

test('front jets that push back as hard as the rear jets pull are refused', () => {
  const nozzle = { ...NOZZLE, front: { count: 20, boreMm: 1.1 } };
  const flowLps = nozzleFlowLps(nozzle, 1000);
  expect(faults({ nozzle, machine: { pressureKpa: 8000, flowLps } })).toContain('no-pull');
});

test('rear jets that do not move the first metre of hose are no plan', () => {
  const across = { ...NOZZLE, rear: { ...NOZZLE.rear, angleFromAxisDeg: 90 } };
  expect(faults({ nozzle: across })).toEqual(['no-pull']);
  // At 4 gpm four jets of 1.1 mm make some 24 bar; at 89 degrees they pull with a hundredth of that thrust.
  const nearly = { ...NOZZLE, rear: { ...NOZZLE.rear, angleFromAxisDeg: 89 } };
  expect(faults({ nozzle: nearly, hose: { ...JOB.hose, weightNPerM: 12 } })).toEqual(['no-pull']);
});

test('jets that make less than half of the machine’s pressure are too wide for it', () => {
  const wide = plan({ machine: { pressureKpa: 1500 * PSI, flowLps: 0.2524 } });
  expect(wide.findings.map(({ code }) => code)).toContain('jets-too-wide');
  const narrow = plan({
    machine: { pressureKpa: 1500 * PSI, flowLps: 0.2524 },
    nozzle: { ...NOZZLE, rear: { ...NOZZLE.rear, boreMm: 0.85 } },
  });
  expect(narrow.findings).toEqual([]);
});
