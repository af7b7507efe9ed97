import { expect, test } from 'vitest';
import {
  type JetMeans,
  type JettedLine,
  machineFor,
  orderJet,
} from '../../../src/domain/jetting/orderJet.js';
import { pressureLimits } from '../../../src/domain/jetting/pressureLimit.js';
import { tankWater } from '../../../src/domain/jetting/waterSupply.js';
import { CONDITIONS, DEPOSITS, LINE_KINDS, MATERIALS } from '../../../src/domain/words.js';

const PSI = 6.894757293168;
const GPM = 3.785411784 / 60;

const LINE: JettedLine = {
  kind: 'footing_drain',
  lengthM: 25,
  boreMm: 101.6,
  occlusion: 0.4,
  deposit: 'gel',
  unseen: false,
  walls: [{ material: 'corrugated_hdpe', condition: 'sound' }],
  perforated: true,
  pit: { diameterMm: 457.2, depthMm: 762, floatOnMm: 300, inflowLps: 0.1 },
};
const MACHINE = { name: 'Trailer jetter', pressureKpa: 4000 * PSI, flowLps: 18.5 * GPM, reachM: 60 };
const MEANS: JetMeans = { machines: [MACHINE], assumedFreeVolumeL: 57 };
const plan = (change: Partial<JettedLine> = {}, means = MEANS) => orderJet({ ...LINE, ...change }, means);

test('slotted corrugated pipe is held to 15 bar at the nozzle however strong the machine is', () => {
  const jet = plan();
  // VND (Dutch drainage contractors), drain jetters: 10 to 15 bar at the nozzle
  expect(jet.nozzleKpa).toBeLessThanOrEqual(1500);
  expect(jet.nozzleKpa).toBeGreaterThan(1000);
  expect(jet.limits.map(({ at, kpa }) => [at, Math.round(kpa)])).toEqual([
    ['pump', Math.round(2600 * PSI)],
    ['nozzle', 1500],
  ]);
  // 3/4 in: 1100 × .185² × 1.969 = 74.1 psi lost in 60 m
  expect(jet.pumpKpa - jet.nozzleKpa).toBeCloseTo(74.1 * PSI, -1);
  expect(jet.machine).toBe('Trailer jetter');
  expect(jet.assumed).toEqual(['bends', 'nozzle']);
});

test('passes, minutes and water are those of the calculator: three passes, 24.6 min, 18.5 gpm and a tenth to rinse', () => {
  const jet = plan();
  // 1 + ceil((.4 − .2) / .17) = 3; (25/.1524 + 25/.0762) s = 8.202 min each
  expect(jet.passes).toBe(3);
  expect(jet.jetMinutes).toBeCloseTo(24.61, 2);
  expect(jet.waterL).toBeCloseTo(24.606 * 60 * 18.5 * GPM * 1.1, -1);
});

test('a nozzle with its rigid end is one and a half bores long, and its jets pass the flow at the pressure', () => {
  const { nozzle, nozzleKpa, flowLps } = plan();
  expect(nozzle.leastLengthMm).toBeCloseTo(1.5 * 101.6, 1);
  expect(nozzle.mostWidthMm).toBeCloseTo(0.8 * 101.6, 1);
  // Q = 29.84 c d² √P of six jets
  const gpm = 6 * 29.84 * 0.95 * (nozzle.jetBoreMm / 25.4) ** 2 * Math.sqrt(nozzleKpa / PSI);
  expect(gpm * GPM).toBeCloseTo(flowLps, 2);
});

test('a drain to a pit says after how many minutes the pit runs over and what to take out', () => {
  const { overflow, findings } = plan();
  // 18 in pit: .16417 L/mm × (762 − 300) mm = 75.8 L; 1.167 + .1 L/s fill it in 1.0 min of 24.6
  expect(overflow?.freeVolumeL).toBeCloseTo(75.85, 1);
  expect(overflow?.minutes).toBeCloseTo(75.85 / (18.5 * GPM + 0.1) / 60, 2);
  expect(overflow?.takeOutLps).toBeCloseTo(18.5 * GPM + 0.1 - 75.85 / (24.606 * 60), 2);
  expect(findings.map(({ code }) => code)).toContain('second-pump-needed');
  expect(plan({ pit: null }).overflow).toBeNull();
});

test('what nobody knows is taken with care and named', () => {
  const jet = plan(
    {
      walls: [],
      perforated: null,
      boreMm: null,
      lengthM: null,
      deposit: 'unknown',
      unseen: true,
      pit: UNKNOWN_PIT,
    },
    { machines: [], assumedFreeVolumeL: 57 },
  );
  expect(jet.assumed.sort()).toEqual(
    [
      ...['length', 'bore', 'material', 'condition', 'perforated', 'occlusion', 'deposit', 'bends', 'nozzle'],
      ...['machine_pressure', 'machine_flow', 'hose_length', 'pit_free_volume', 'pit_inflow'],
    ].sort(),
  );
  // Unknown condition counts as weak, 1200 psi; a footing drain counts as slotted: 70 L/min
  expect(jet.limits[0]).toMatchObject({ at: 'pump', because: 'condition unknown counts as weak' });
  expect(jet.flowLps).toBeCloseTo(70 / 60, 3);
  expect(jet.overflow?.freeVolumeL).toBe(57);
});
const UNKNOWN_PIT = { diameterMm: null, depthMm: null, floatOnMm: null, inflowLps: null };

test('the weakest section of a line rules', () => {
  const walls = [
    { material: 'pvc', condition: 'sound' },
    { material: 'pvc', condition: 'weak' },
  ] as const;
  const [limit] = plan({ walls, perforated: false }).limits;
  expect(limit?.kpa).toBeCloseTo(1200 * PSI, 6);
});

test('a pumped discharge holds pressure: nobody need say that it has no slots', () => {
  const walls = [{ material: 'pvc', condition: 'sound' }] as const;
  const jet = plan({ kind: 'sump_discharge', walls, perforated: null, pit: null });
  expect(jet.limits.map(({ because }) => because)).toEqual(['sound pvc']);
});

test('a strong pipe and a strong machine are no reason to jet with all of it', () => {
  const walls = [{ material: 'concrete', condition: 'sound' }] as const;
  for (const machines of [[MACHINE], []]) {
    const jet = plan({ walls, perforated: false }, { ...MEANS, machines });
    expect(jet.limits[0]?.kpa).toBeCloseTo(5000 * PSI, 3);
    expect(jet.pumpKpa).toBeLessThanOrEqual(1500 * PSI);
    expect(jet.pumpKpa).toBeGreaterThan(1000 * PSI);
  }
});

test('the machine that suits a line: hose long enough, then water enough, then the least of it', () => {
  const cart = { name: 'Cart', pressureKpa: 1500 * PSI, flowLps: 4 * GPM, reachM: 45 };
  const short = { ...MACHINE, name: 'Short', reachM: 20 };
  const bare = { name: 'Bare', pressureKpa: null, flowLps: null, reachM: null };
  const solid = { ...LINE, perforated: false, walls: [{ material: 'pvc', condition: 'sound' }] as const };
  expect(machineFor(LINE, [cart, MACHINE, short])?.name).toBe('Trailer jetter');
  expect(machineFor(solid, [MACHINE, cart])?.name).toBe('Cart');
  expect(machineFor(LINE, [bare])).toBeNull();
  const weak = plan({}, { ...MEANS, machines: [cart] });
  expect(weak.findings.map(({ code }) => code)).toContain('little-water');
});

test('a long thin hose turns the flow down: the plan keeps its limits whatever the line and the machine', () => {
  const machines = [
    null,
    MACHINE,
    { name: 'Reel', pressureKpa: 800, flowLps: 2, reachM: 300 },
    { name: 'Cart', pressureKpa: 10_000, flowLps: 0.13, reachM: null },
  ];
  for (const machine of machines)
    for (const kind of LINE_KINDS)
      for (const material of MATERIALS)
        for (const condition of CONDITIONS)
          for (const perforated of [true, false, null])
            for (const deposit of DEPOSITS) {
              const walls = [{ material, condition }];
              const jet = plan(
                { kind, walls, perforated, deposit },
                { machines: machine === null ? [] : [machine], assumedFreeVolumeL: 57 },
              );
              for (const { at, kpa } of pressureLimits({ material, condition, perforated }))
                if (perforated !== null || kind !== 'sump_discharge')
                  expect((at === 'pump' ? jet.pumpKpa : jet.nozzleKpa) / kpa).toBeLessThan(1.001);
              if (machine?.pressureKpa != null) expect(jet.pumpKpa / machine.pressureKpa).toBeLessThan(1.001);
              expect(jet.reachM).toBeGreaterThan(0);
            }
});

test('a tap gives 5 gpm while the crew works, the tank the rest; more than a tank is fetched', () => {
  // 50 of 70 min at .315 L/s: 945 L
  expect(tankWater(1500, 70, 'yes', 2000)).toEqual({ litres: 1500 - 945, fetchMinutes: 0 });
  expect(tankWater(900, 70, 'yes', 2000).litres).toBe(0);
  expect(tankWater(1500, 70, 'unknown', 2000).litres).toBe(1500);
  // 1500 L out of tanks of 600 L: three, two of them fetched
  expect(tankWater(1500, 70, 'no', 600)).toEqual({ litres: 600, fetchMinutes: 90 });
  expect(tankWater(1500, 70, 'no', null)).toEqual({ litres: 1500, fetchMinutes: 0 });
});

test('a machine too weak to drag its hose is told of on the order, not refused', () => {
  // 1 psi at the pump, half of it lost in the hose: Q √P leaves the jets a pull of millinewtons
  const jet = plan({}, { ...MEANS, machines: [{ ...MACHINE, pressureKpa: PSI }] });
  expect(jet.reachM).toBe(0);
  expect(jet.findings.map(({ code }) => code)).toContain('no-pull');
});
