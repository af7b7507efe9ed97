import { beforeAll, expect, test } from 'vitest';
import { readXml } from '../papers/readSvg.js';
import { type PlannedHouse, plannedHouse, THURSDAY } from '../setup/plannedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: PlannedHouse;
let orders: string[];
beforeAll(async () => {
  t = await plannedHouse();
  const lock = { lock_crew_id: t.crews.heron, lock_day: THURSDAY };
  orders = [];
  for (const [east, task] of [
    [1, 'jet'],
    [2, 'jet'],
    [3, 'inspect'],
    [4, 'hose_flush'],
  ] as const)
    orders.push(await t.order({ east, task, minutes: 30, row: { people: 2, ...lock } }));
  const siteOf = async (at: number) =>
    String((await t.house.stores.rows.get('work_order', orders[at] ?? ''))?.['site_id']);
  for (const at of [0, 2])
    await t.pool.query(`UPDATE site SET basement = 'none' WHERE id = $1`, [await siteOf(at)]);
  await t.pool.query(
    `INSERT INTO pit (id, site_id, system_id, enterable)
     SELECT gen_random_uuid(), s.site_id, s.id, true FROM system s WHERE s.site_id = $1`,
    [await siteOf(1)],
  );
  await t.accept((await t.plan({ fromDay: THURSDAY, workingDays: 1 })).id);
}, 60_000);

const get = (url: string) => t.call('dispatcher', { method: 'GET', url });

test('the sheet of a day tells each stop all cautions of its order, once', async () => {
  const { rows } = await t.pool.query(
    `SELECT id FROM route WHERE state = 'live' AND crew_id = $1 AND day = $2`,
    [t.crews.heron, THURSDAY],
  );
  const { text } = await t.call('dispatcher', {
    method: 'GET',
    url: `/v1/routes/${rows[0].id}/sheet`,
    headers: { accept: 'text/html' },
  });
  const sheet = readXml(text.replace('<!DOCTYPE html>\n', '').trimEnd()).text.replaceAll(
    /[\u00A0\u202F]/g,
    ' ',
  );
  const [firstPage = '', ...boxes] = sheet.split(/(?=order \d+ · drive)/);
  expect(boxes).toHaveLength(4);
  const [everywhere = '', somewhere = ''] = firstPage.split('At the stops named');
  const { rows: numbers } = await t.pool.query('SELECT id, number FROM work_order');
  for (const { id, number } of numbers) {
    const at = boxes.findIndex((box) => box.startsWith(`order ${number} `));
    const box = boxes[at] ?? '';
    const cautions: Json[] = (await get(`/v1/work-orders/${id}/cautions`)).body.items;
    expect(cautions.length).toBeGreaterThan(2);
    for (const { text: words, name } of cautions) {
      const [, ofDay = ''] = /Cautions of the day: ([^.]*)\./.exec(box) ?? [];
      const told = [
        box.includes(words),
        everywhere.includes(`${name}: ${words}`) && ofDay.startsWith('those of every stop'),
        somewhere.includes(`${name}: ${words}`) && ofDay.split(', ').includes(name),
      ];
      expect(told.filter(Boolean), `${name} at ${number}`).toHaveLength(1);
    }
  }
});

test('a yard of a house without basement, pit and pumped line has no caution of a pump', async () => {
  const codesOf = async (at: number) =>
    (await get(`/v1/work-orders/${orders[at]}/cautions`)).body.items.map(({ code }: Json) => code);
  expect(await codesOf(0)).not.toContain('pump_power');
  expect(await codesOf(0)).toContain('electricity');
  // Nobody knows whether that house has a pump.
  expect(await codesOf(3)).toContain('pump_power');
  expect(await codesOf(1)).toEqual(expect.arrayContaining(['pump_power', 'pit_overflow', 'confined_space']));
});
