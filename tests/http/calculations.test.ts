import { beforeAll, expect, test } from 'vitest';
import { blockedShareOfDepth } from '../../src/domain/hydraulics/segment.js';
import { expectPicture } from '../papers/readSvg.js';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

const ask = (path: string, payload: object, units = 'us') =>
  t.call('technician', { method: 'POST', url: `/v1/calculations/${path}?units=${units}`, payload });
async function answer(path: string, payload: object, units = 'us') {
  const got = await ask(path, payload, units);
  expect(got.status, got.text).toBe(200);
  expect(got.body.sources.length).toBeGreaterThan(0);
  return got.body;
}
async function refused(path: string, payload: object, status: number, pointer: string) {
  const got = await ask(path, payload);
  expect(got.status, got.text).toBe(status);
  expect(got.body.errors.map((fault: { pointer: string }) => fault.pointer)).toContain(pointer);
}

const SDR_35 = { product: 'sdr_35', nominal: '4' };
const GRAVITY = { pipe: SDR_35, slope: { value: 1, unit: '%' } };

test('a 4 in SDR 35 at 1 % carries 109.2 gpm clean; a deposit 40 % deep leaves half of it', async () => {
  // 3.975 in, n .010: 109.2 gpm; d/D .4: capacity .501, area blocked .3735 (both computed independently)
  const got = await answer('gravity-flow', {
    ...GRAVITY,
    deposit: { depth: { value: 0.4 * 3.975, unit: 'in' }, shape: 'flat_deposit' },
  });
  expect(got.clean.flow.unit).toBe('gpm');
  expect(got.clean.flow.value).toBeCloseTo(109.2, 0);
  expect(got.capacityLeft).toBeCloseTo(0.501, 3);
  expect(got.occlusion).toBeCloseTo(0.37353, 4);
  expect(got.fouled.flow.value).toBeCloseTo(109.2 * 0.501, 0);
});

test('the same in litres; the peak lowers the action limit, with the reason', async () => {
  const got = await answer('gravity-flow', { ...GRAVITY, peakInflow: { value: 3, unit: 'L/s' } }, 'metric');
  expect(got.clean.flow).toEqual({ value: expect.closeTo(413.4, 0), unit: 'L/min' });
  // 1.5 times 3 L/s of 6.89 L/s is .653 of the capacity: d/D .30 leaves .650, which blocks a quarter
  expect(got.actionLimit.occlusion).toBeCloseTo(0.25, 1);
  expect(got.actionLimit.reason.code).toBe('line-no-longer-carries');
  expect(got.peakInClean.depth.value).toBeLessThan(got.bore.value);
  expect(got.assumptions.map((each: { facts: { field?: string } }) => each.facts.field)).toContain('margin');
});

const PUMPED = {
  pipe: { product: 'schedule_40', nominal: '1-1/2' },
  length: { value: 60, unit: 'ft' },
  lift: { value: 9, unit: 'ft' },
  fittings: {},
  // H = 22 − .00926 Q²
  pumpCurve: [
    { flow: { value: 0, unit: 'gpm' }, head: { value: 22, unit: 'ft' } },
    { flow: { value: 36, unit: 'gpm' }, head: { value: 22 - 0.00926 * 36 ** 2, unit: 'ft' } },
    { flow: { value: 48, unit: 'gpm' }, head: { value: 22 - 0.00926 * 48 ** 2, unit: 'ft' } },
  ],
};

test('a third-horsepower pump moves 31.7 gpm through 60 ft of clean line, 25.2 through four fifths of its bore', async () => {
  const got = await answer('pumped-discharge', {
    ...PUMPED,
    deposit: { occlusion: 0.36 },
    pit: { diameter: { value: 18, unit: 'in' }, floatTravel: { value: 6, unit: 'in' } },
    inflow: { value: 5, unit: 'gpm' },
  });
  expect(got.clean.flow.value).toBeCloseTo(31.7, 0);
  expect(got.fouled.flow.value).toBeCloseTo(25.2, 0);
  expect(got.flowLeft).toBeCloseTo(25.2 / 31.7, 2);
  // 18 in hold 1.10 gal an inch: 6.61 gal between the floats; 6.61/5 + 6.61/26.7 min
  expect(got.activeVolume.value).toBeCloseTo(6.61, 2);
  expect(got.clean.cycleMinutes).toBeCloseTo(6.61 / 5 + 6.61 / 26.7, 1);
  expect(got.clean.scours).toBe(true);
  const same = await answer('pumped-discharge', { ...PUMPED, deposit: { occlusion: 0.36 } }, 'metric');
  expect(same.fouled.flow.value).toBeCloseTo(got.fouled.flow.value * 3.785411784, 4);
});

test('a pump that cannot lift, and one that does not catch up, are said so', async () => {
  const high = await answer('pumped-discharge', { ...PUMPED, lift: { value: 30, unit: 'ft' } });
  expect(high.findings[0].code).toBe('pump-cannot-lift');
  expect(high.clean.head).toBeNull();
  const flooded = await answer('pumped-discharge', {
    ...PUMPED,
    deposit: { occlusion: 0.75 },
    inflow: { value: 15, unit: 'gpm' },
  });
  expect(flooded.findings[0].code).toBe('pump-does-not-catch-up');
});

const JET = {
  pipe: {
    material: 'pvc',
    condition: 'sound',
    perforated: false,
    bore: { value: 4, unit: 'in' },
    length: { value: 20, unit: 'm' },
  },
  occlusion: 0.45,
  deposit: 'gel',
  machine: { pressure: { value: 100, unit: 'bar' }, flow: { value: 25, unit: 'L/min' } },
  hose: { length: { value: 40, unit: 'm' }, bore: '3/4' },
  nozzle: {
    rear: { count: 4, bore: { value: 1.1, unit: 'mm' }, angleFromAxis: 20 },
    diameter: { value: 25, unit: 'mm' },
    rigidLength: { value: 160, unit: 'mm' },
  },
  water: { tank: { value: 250, unit: 'L' }, tap: { value: 0, unit: 'L/s' } },
};

test('a gel at 45 % takes three passes of 6.6 min; water over the tank is a refill; cautions come with it', async () => {
  // 20 m in at .1524 and out at .0762 m/s: 394 s a pass, three of them, 25 L/min, a tenth to rinse: 541 L
  const got = await answer('jetting', JET, 'metric');
  expect(got.passes).toBe(3);
  expect(got.jetMinutes).toBeCloseTo((3 * (20 / 0.1524 + 20 / 0.0762)) / 60, 6);
  expect(got.water.value).toBeCloseTo(got.jetMinutes * 25 * 1.1, 3);
  expect(got.supply.refills).toBe(2);
  const cautions = got.cautions.map((each: { code: string }) => each.code);
  expect(cautions).toEqual(expect.arrayContaining(['jet_injury', 'open_end', 'local_codes']));
});

test('a plan above the pressure limit is refused by field, with the limit', async () => {
  const strong = { ...JET, machine: { ...JET.machine, pressure: { value: 3000, unit: 'psi' } } };
  const got = await ask('jetting', strong);
  expect(got.status).toBe(422);
  expect(got.body.errors[0].pointer).toBe('#/machine/pressure');
  expect(got.body.errors[0].detail).toContain('Sewer Jetting Code of Practice');
});

test('18 in of pit with 16 in free run over after 2.9 min of 6 gpm; 10 min want 4.2 gpm taken out', async () => {
  // 1.1016 gal an inch, 17.63 gal, 6 gpm: 2.94 min; 6 − 17.63/10 = 4.24 gpm
  const got = await answer('pit-overflow', {
    pit: { diameter: { value: 18, unit: 'in' }, freeDepth: { value: 16, unit: 'in' } },
    jet: { value: 4, unit: 'gpm' },
    inflow: { value: 2, unit: 'gpm' },
    minutesNeeded: 10,
  });
  expect(got.minutes).toBeCloseTo(2.94, 2);
  expect(got.enough).toBe(false);
  expect(got.takeOut.value).toBeCloseTo(4.24, 2);
});

test('minutes to overflow are not told without the inflow: nothing known is not nothing running in', async () => {
  const got = await t.call('technician', {
    method: 'POST',
    url: '/v1/calculations/pit-overflow',
    payload: { jet: { value: 4, unit: 'gpm' }, minutesNeeded: 10 },
  });
  expect([got.status, got.body.errors[0].pointer]).toEqual([400, '#/inflow']);
});

test('what is taken of corrugated pipe without a measure is said: its size as bore, its C by its roughness', async () => {
  // 150 x .010 / .018 = 83.3
  const got = await answer('pumped-discharge', {
    pipe: { product: 'corrugated', nominal: '3' },
    length: { value: 60, unit: 'ft' },
    lift: { value: 9, unit: 'ft' },
    pumpCurve: [{ flow: { value: 18, unit: 'gpm' }, head: { value: 16.5, unit: 'ft' } }],
  });
  const of = (field: string) => got.assumptions.find((each: Json) => each.facts.field === field);
  expect(of('pipe/hazenWilliamsC').facts.value).toBe(83);
  expect(of('pipe/bore').text).toContain('nominal size, 3 in');
  const smooth = await answer('pumped-discharge', {
    pipe: { product: 'schedule_40', nominal: '2' },
    length: { value: 60, unit: 'ft' },
    lift: { value: 9, unit: 'ft' },
    pumpCurve: [{ flow: { value: 18, unit: 'gpm' }, head: { value: 16.5, unit: 'ft' } }],
  });
  const fields = smooth.assumptions.map((each: Json) => each.facts.field);
  expect(fields.filter((field: string) => field?.startsWith('pipe/'))).toEqual([]);
});

test('minutes on site: 20 to arrive and leave, a jet of 12 + 20, a pump test of 10', async () => {
  const got = await answer('site-minutes', {
    tasks: [{ kind: 'jet', runMinutes: 20 }, { kind: 'test_pump' }],
  });
  expect(got.minutes).toBe(62);
});

test('a depth becomes an occlusion; a plug by ice is none of fouling', async () => {
  const got = await answer('occlusion', {
    kind: 'footing_drain',
    bore: { value: 4, unit: 'in' },
    reading: { method: 'outlet_depth', depth: { value: 1.5, unit: 'in' } },
  });
  expect(got.occlusion).toBeCloseTo(blockedShareOfDepth(0.375), 9);
  const ice = await answer('occlusion', { kind: 'sump_discharge', plugged: { cause: 'ice' } });
  expect([ice.bound, ice.foulingWeight]).toEqual(['at_least', 0]);
});

test('a refusal shows lengths without the noise of a conversion', async () => {
  const ft = (value: number) => ({ value, unit: 'ft' });
  const gpm = (value: number) => ({ value, unit: 'gpm' });
  // 22 ft is 6.7056 m, and 10 ft 3.048 m; 36 gpm is 2.271 L/s
  const pumpCurve = [
    { flow: gpm(0), head: ft(10) },
    { flow: gpm(36), head: ft(22) },
  ];
  const answer = await t.call('technician', {
    method: 'POST',
    url: '/v1/calculations/pumped-discharge',
    payload: { ...PUMPED, pumpCurve },
  });
  expect([answer.status, answer.body.errors[0].detail]).toEqual([
    422,
    expect.stringContaining('3.048 m at 0 L/s; 6.706 m at 2.271 L/s'),
  ]);
});

test.each([
  ['gravity-flow', { ...GRAVITY, slope: { value: 1, unit: 'psi' } }, 400, '#/slope/unit'],
  ['gravity-flow', { ...GRAVITY, pipe: { product: 'sdr_35', nominal: '1-1/2' } }, 422, '#/pipe/nominal'],
  [
    'gravity-flow',
    { ...GRAVITY, deposit: { depth: { value: 5, unit: 'in' }, shape: 'flat_deposit' } },
    422,
    '#/deposit/depth',
  ],
  [
    'pumped-discharge',
    {
      ...PUMPED,
      pumpCurve: [PUMPED.pumpCurve[0], { flow: { value: 10, unit: 'gpm' }, head: { value: 30, unit: 'ft' } }],
    },
    422,
    '#/pumpCurve',
  ],
  ['occlusion', { kind: 'yard_drain' }, 422, '#/reading'],
  [
    'occlusion',
    { kind: 'yard_drain', reading: { method: 'timed_fill', volume: { value: 5, unit: 'gal' } } },
    422,
    '#/reading/seconds',
  ],
])('%s names the field that is wrong', (path, payload, status, pointer) =>
  refused(path, payload, status, pointer),
);

test('both figures are pictures with the numbers of the answer in words', async () => {
  const capacity = await ask('gravity-flow/figure.svg', {
    ...GRAVITY,
    deposit: { occlusion: 0.37353, shape: 'flat_deposit' },
    peakInflow: { value: 30, unit: 'gpm' },
  });
  expect(capacity.status, capacity.text).toBe(200);
  expectPicture(capacity.text);
  expect(capacity.text).toMatch(/50.%/);
  const pump = await ask('pumped-discharge/figure.svg', { ...PUMPED, deposit: { occlusion: 0.36 } });
  expectPicture(pump.text);
  expect(pump.text).toMatch(/31\.[67].gpm/);
  expect(pump.text).toMatch(/25\.[12].gpm/);
});

test.each([
  ['a pump curve', { pumpCurve: [{ flow: { value: 1e-300, unit: 'L/s' }, head: { value: 6, unit: 'm' } }] }],
  [
    'a rising share',
    {
      pumpCurve: [
        { flow: { value: 0, unit: 'L/s' }, head: { value: 6, unit: 'm' } },
        { flow: { value: 1e-300, unit: 'L/s' }, head: { value: 1e-300, unit: 'm' } },
      ],
    },
  ],
])('%s of next to nothing is refused, not drawn', async (_name, more) => {
  const question = {
    pipe: { product: 'schedule_40', nominal: '1-1/2' },
    length: { value: 60, unit: 'ft' },
    lift: { value: 9, unit: 'ft' },
    ...more,
  };
  for (const path of ['pumped-discharge', 'pumped-discharge/figure.svg']) {
    const answer = await t.call('technician', {
      method: 'POST',
      url: `/v1/calculations/${path}`,
      payload: question,
    });
    expect([400, 422], `${path} ${answer.status} ${answer.text.slice(0, 200)}`).toContain(answer.status);
  }
});

test('the published example of jetting reaches; a pit nobody measured is as large as the owner says', async () => {
  const { body } = await t.call('owner', { method: 'GET', url: '/docs/json' });
  const example = body.paths['/v1/calculations/jetting'].post.requestBody.content['application/json'].schema;
  const question = body.components.schemas[example.$ref.split('/').at(-1)].example;
  const got = await answer('jetting', question);
  expect(got.findings.map(({ code }: Json) => code)).not.toContain('does-not-reach');
  expect(got.findings.map(({ code }: Json) => code)).not.toContain('jets-too-wide');
  const unknown = { jet: { value: 4, unit: 'gpm' }, inflow: { value: 0, unit: 'gpm' }, minutesNeeded: 1 };
  expect((await answer('pit-overflow', unknown, 'metric')).freeVolume.value).toBeCloseTo(57, 0);
  const version = (await t.call('owner', { method: 'GET', url: '/v1/settings' })).body.version;
  await t.call('owner', {
    method: 'PATCH',
    url: '/v1/settings',
    headers: { 'if-match': `"${version}"` },
    payload: { pits: { assumedFreeVolumeL: 30 } },
  });
  expect((await answer('pit-overflow', unknown, 'metric')).freeVolume.value).toBeCloseTo(30, 6);
});
