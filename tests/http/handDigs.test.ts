import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

/** A dig somebody asks for has the metres, trench, pipe and stone that one of the ladder has. */
let t: TestHouse;

async function post(url: string, payload: object, status = 201): Promise<Json> {
  const answer = await t.call('owner', { method: 'POST', url, payload });
  expect(answer.status, `${url} ${answer.text}`).toBe(status);
  return answer.body;
}

beforeAll(async () => {
  t = await testHouse('2026-06-01T12:00:00Z');
}, 60_000);

test('by the last trace: where, how deep the hole gets, perforated pipe in washed stone', async () => {
  const site = await post('/v1/sites', { address: '5 Sluice Row', town: 'Brindle' });
  const system = await post('/v1/systems', { siteId: site.id, name: 'Drain', kind: 'gravity' });
  const line = await post('/v1/lines', {
    siteId: site.id,
    systemId: system.id,
    name: 'Footing',
    kind: 'footing_drain',
    outlet: 'daylight',
    length: { value: 18, unit: 'm' },
  });
  await post('/v1/line-sections', {
    lineId: line.id,
    material: 'corrugated_hdpe',
    bore: { value: 4, unit: 'in' },
    installedOn: '1990-05-01',
  });
  const order = async (kind: string) => {
    const made = await post('/v1/work-orders', {
      siteId: site.id,
      because: 'crushed',
      tasks: [{ kind, lineId: line.id }],
    });
    return t
      .call('owner', { method: 'GET', url: `/v1/work-orders/${made.id}` })
      .then(({ body }) => body as Json);
  };
  const trace = await order('trace');
  await post(
    `/v1/work-orders/${trace.id}/start`,
    { startedAt: '2026-06-01T11:00:00Z', cautionsSeen: true },
    200,
  );
  await post(
    `/v1/work-orders/${trace.id}/finish`,
    {
      endedAt: '2026-06-01T11:40:00Z',
      result: 'done',
      flowProven: 'not_possible',
      tasks: [
        {
          id: trace.tasks[0].id,
          result: 'done',
          found: {
            from: { value: 4, unit: 'm' },
            to: { value: 6, unit: 'm' },
            depth: { value: 1.45, unit: 'm' },
            depthOf: 'centre',
          },
        },
      ],
    },
    200,
  );
  const [task] = (await order('dig_and_replace')).tasks;
  expect(task.minutes).toBe(360);
  expect(task.plan).toMatchObject({
    fromM: 4,
    toM: 6,
    depthM: 1.45,
    depthOf: 'centre',
    newProduct: 'sdr_35',
    newNominal: '4',
    holes: 'perforated, holes down',
    assumed: [],
  });
  // 1.45 m to the centre, half of .10706 m, 4 in of bedding: past 5 ft
  expect(task.plan.trenchDepthM).toBeCloseTo(1.45 + 0.05353 + 0.1016, 6);
  expect(task.plan.wallsHeld).toContain('sloped 1.5 to 1');
});
