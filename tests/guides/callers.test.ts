import { execFile } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import type { AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import openapiTS, { astToString } from 'openapi-typescript';
import sharp from 'sharp';
import { expect, onTestFinished, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { readClientBase } from '../../src/files/clientBase.js';
import { csvFromText } from '../../src/files/csvSource.js';
import { type Json, testHouse } from '../setup/testHouse.js';

const ROOT = join(import.meta.dirname, '../..');
const CLIENT = join(import.meta.dirname, 'typed/client.ts');
const DISPATCHER = join(import.meta.dirname, 'typed/dispatcherDay.ts');
const TECHNICIAN = join(import.meta.dirname, 'typed/technicianDay.ts');
const DAY = '2026-10-01';

test('a front end whose types are made from openapi.json compiles', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-typed-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const types = await openapiTS(new URL(`file://${ROOT}/openapi/openapi.json`));
  writeFileSync(join(folder, 'api.d.ts'), astToString(types));
  const compiles = async (...files: string[]) => {
    const config = {
      extends: join(ROOT, 'tsconfig.json'),
      compilerOptions: {
        incremental: false,
        tsBuildInfoFile: null,
        rootDir: '/',
        lib: ['ES2024', 'DOM', 'DOM.Iterable'],
        types: [],
        paths: { 'openbore-api': ['./api.d.ts'] },
      },
      files,
      include: [],
      exclude: [],
    };
    writeFileSync(join(folder, 'tsconfig.json'), JSON.stringify(config));
    try {
      await promisify(execFile)(
        process.execPath,
        [join(ROOT, 'node_modules/typescript/bin/tsc'), '-p', folder],
        {
          timeout: 150_000,
        },
      );
      return '';
    } catch (error) {
      return (error as { stdout: string }).stdout;
    }
  };
  expect(await compiles(DISPATCHER, TECHNICIAN)).toBe('');
  // The check sees something: a word that is no role of ours.
  const wrong = join(folder, 'wrong.ts');
  writeFileSync(
    wrong,
    "import type { components } from 'openbore-api';\nexport const roles: components['schemas']['NewAccessKey']['roles'] = ['driver'];\n",
  );
  expect(await compiles(wrong)).toMatch(/wrong\.ts.*driver/s);
}, 300_000);

/** Thirteen houses that are cleaned every quarter, one that is new, two crews. */
async function importedBase() {
  const houses = Array.from({ length: 13 }, (_, i) => i + 1);
  const sites = houses.map(
    (n) =>
      `S${n},Rowan Reed ${n},${n} Marsh Gate,Brindle,44.6${n % 4},-90.3${n % 5},555 01${n}0,anytime,finished,`,
  );
  const lines = houses.map((n) => `L${n},S${n},footing_drain,pvc,100,20,2.5,`);
  const quarters = ['2025-10-01', '2026-01-02', '2026-04-02', '2026-07-02'];
  const readings = houses.flatMap((n) =>
    quarters.flatMap((day) => [
      `L${n},${day}T15:00:00Z,before_cleaning,0,camera,0.${20 + n},gel`,
      `L${n},${day}T16:00:00Z,after_cleaning,0,camera,0.03,gel`,
    ]),
  );
  const got = await readClientBase(
    {
      sites: csvFromText(
        'sites.csv',
        `site_id,client,address,town,latitude,longitude,client_phone,access,basement,last_cleaned\n${sites.join('\n')}
S20,Ines Calder,12 Weir Street,Brindle,44.605,-90.305,555 0177,anytime,basement,2026-09-01\n`,
      ),
      lines: csvFromText(
        'lines.csv',
        `line_id,site_id,kind,material,inside_diameter_mm,length_m,ferrous_iron_mg_l,outlet\n${lines.join('\n')}
L20,S20,yard_drain,pvc,100,15,0.1,daylight\n`,
      ),
      readings: csvFromText(
        'readings.csv',
        `line_id,observed_at,phase,plugged,method,occlusion,deposit\n${readings.join('\n')}\n`,
      ),
      crews: csvFromText(
        'crews.csv',
        `crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays,people
C1,Heron,North yard,44.6,-90.3,hose;jetter;camera;vacuum;hand_tools;pump,07:00,16:00,mon;tue;wed;thu;fri,2
C2,Plover,North yard,44.6,-90.3,hose;jetter;camera;vacuum;hand_tools;pump,07:00,16:00,mon;tue;wed;thu;fri,2\n`,
      ),
    },
    '2026-09-30',
  );
  if ('faults' in got) throw new Error(JSON.stringify(got.faults));
  return got.base;
}

test("a dispatcher's and a technician's day, from an imported base to a closed day, through the typed client", async () => {
  const t = await testHouse('2026-10-01T07:00:00Z');
  const clock = (time: string) => {
    t.clock.at = new Date(`${DAY}T${time}:00Z`);
  };
  await importClientBase(
    t.house,
    { name: 'test' },
    { base: await importedBase(), source: 'book', asOf: '2026-09-30' },
  );
  await t.app.listen({ host: '127.0.0.1', port: 0 });
  onTestFinished(() => t.app.close());
  const url = `http://127.0.0.1:${(t.app.server.address() as AddressInfo).port}`;
  // Compiled above against the types of the document, which this project's own compiler does not have.
  const { openbore } = await import(CLIENT);
  const dispatcher = await import(DISPATCHER);
  const technician = await import(TECHNICIAN);
  const office = openbore(url, t.keys.dispatcher);
  const owner = openbore(url, t.keys.owner);
  const tern = openbore(url, await dispatcher.takeOn(owner, 'Tern', 'Heron', '2026-09-01'));
  const wren = openbore(url, await dispatcher.takeOn(owner, 'Wren', 'Heron', '2026-09-01'));

  // 2:00 in Chicago: the night makes the orders, plans the routes and tells the crews.
  const night = await dispatcher.theNight(office, DAY, t.work);
  expect(night).toMatchObject({ order: { orders: 13 }, route: { routes: 2 }, tell: { published: 2 } });

  // 7:00. The dispatcher looks at the day; the technician's phone reads its route.
  clock('12:00');
  const { book, week, unplaced } = await dispatcher.theMorning(office, DAY);
  expect(book.crews.map((crew: Json) => [crew.crewName, crew.route.state])).toEqual([
    ['Heron', 'published'],
    ['Plover', 'published'],
  ]);
  expect([book.totals.visits, unplaced.length, week.length]).toEqual([13, 0, 5]);
  const since = await technician.placeInChanges(tern);
  const asTold = await technician.readTheDay(tern, DAY);

  // 7:10. A client phones and is told the cheapest day; at 7:15 one of the other crew stays at home.
  const phoned = await dispatcher.aClientPhones(office, 'Ines Calder');
  expect(phoned.offered).toHaveLength(4);
  expect(phoned.offered.map(({ text }: Json) => text).join()).toMatch(
    /the cheapest day.*USD\s\d+ more than the/,
  );
  expect(phoned.promise).toMatchObject({ toldTo: 'Ines Calder', toldHow: 'phone', toldBy: 'dispatcher' });
  const short = await dispatcher.oneShort(office, 'Plover', t.work);
  // Jetting takes two: its visits go to the other crew, and the promise is kept.
  expect(short).toEqual({ because: 'Plover 1 short: flu', toPhone: [] });
  await dispatcher.publish(office, DAY);
  const fresh = await technician.readTheDay(tern, DAY);
  const news = await technician.whatChanged(tern, fresh.route.id, since);
  expect(news.onRecord[0].because).toBe('Plover 1 short: flu');
  const added = news.onRecord[0].changes.filter(({ kind }: Json) => kind === 'added');
  expect(added).toHaveLength(fresh.stops.length - asTold.stops.length);
  expect(new Set(news.changes.map(({ resource }: Json) => resource))).toContain('stop');

  // 7:35. The first visit, with reach.
  const [first] = fresh.stops;
  expect(first.site.contacts).toMatchObject([{ role: 'client', phone: expect.stringMatching(/^555 01/) }]);
  clock('12:36');
  const way = await technician.onTheWay(tern, first, `${DAY}T12:35:00Z`);
  expect(way).toMatchObject({ type: 'on_the_way', workOrderId: first.workOrder.id });
  clock('13:55');
  const visited = await technician.visitInReach(tern, first, DAY, await photograph());
  expect(visited.howFull.choices.map(({ value }: Json) => value)).toContain('half');
  expect(visited.found.items).toMatchObject([
    { priceMinor: 9500, acceptedBy: 'Rowan Reed', unconfirmed: true },
  ]);
  expect(visited.done.state).toBe('done');

  // 9:00. Water rises somewhere else. The crew is late, is sent there all the same, and its phone sees it.
  clock('14:00');
  const call = await dispatcher.waterRises(office);
  expect(call.sayFirst).toMatch(/^Do not enter the water/);
  expect(call.best.crewName).toBe('Heron');
  expect(Date.parse(call.best.startsAt)).toBeLessThanOrEqual(Date.parse(call.taken.call.respondBy));
  await dispatcher.publish(office, DAY);
  const { route, stops } = await technician.readTheDay(tern, DAY);
  const later = await technician.whatChanged(tern, route.id, news.place);
  const kinds = later.onRecord[0].changes.map(({ kind, workOrderId }: Json) => [kind, workOrderId]);
  expect(kinds).toContainEqual(['added', call.taken.workOrder.id]);
  for (const { workOrderId } of call.best.displaces) expect(kinds).toContainEqual(['removed', workOrderId]);

  const emergency = stops.find(({ workOrder }: Json) => workOrder.id === call.taken.workOrder.id);
  const [second, third] = stops.filter(
    (stop: Json) => stop.workOrder.state === 'placed' && stop !== emergency,
  );
  clock('15:30');
  expect((await technician.helpInNeed(tern, emergency, DAY)).state).toBe('done');

  // 11:00. The visit before it was out of reach; its end comes first and waits for the rest.
  clock('16:00');
  const sent = technician.visitOutOfReach(tern, second, DAY, randomUUID, () => clock('16:05'));
  const { first: early, second: all, taskId, foundTaskId } = await sent;
  expect(early.outcomes.map(({ kind, outcome }: Json) => [kind, outcome])).toEqual([
    ['finish', 'waiting'],
    ['clean', 'accepted'],
    ['start', 'accepted'],
    ['on_the_way', 'accepted'],
  ]);
  const answers = second.workOrder.question === null ? [] : [['answer', 'accepted']];
  expect(early.outcomes[0].waitsFor).toHaveLength(8 + answers.length);
  expect(all.outcomes.map(({ kind, outcome }: Json) => [kind, outcome])).toEqual([
    ['inspection', 'accepted'],
    ['task_result', 'accepted'],
    ['note', 'accepted'],
    ['discharge_plan', 'accepted'],
    ['incident', 'accepted'],
    ['trench_check', 'accepted'],
    ['price_acceptance', 'accepted'],
    ['found_work', 'accepted'],
    ...answers,
    ['finish', 'accepted'],
    ['clean', 'same'],
    ['start', 'same'],
    ['on_the_way', 'same'],
  ]);
  // Told when the crew had been there for hours: nobody is told that it is on its way.
  const told = await t.house.stores.rows.all('event', [
    { column: 'work_order_id', is: '=', value: second.workOrder.id },
  ]);
  expect(told.map(({ kind }) => kind).sort()).toEqual(['incident', 'work_finished', 'work_found']);

  // The colleague says otherwise of one task; the clock of that phone is an hour ahead.
  clock('16:10');
  const otherwise = await technician.saidOtherwise(wren, second, taskId, DAY, randomUUID);
  expect(otherwise.clock).toMatchObject({ right: false, offsetSeconds: 3600 });
  expect(otherwise.outcomes).toMatchObject([
    { kind: 'task_result', outcome: 'conflict', problem: { status: 409 } },
  ]);
  clock('16:45');
  const nobody = await technician.nobodyHome(tern, third, DAY, randomUUID);
  expect(nobody.outcomes.map(({ outcome }: Json) => outcome)).toEqual(['accepted', 'accepted']);

  // 17:30. What was said otherwise is settled, the day closed, the papers fetched.
  clock('22:30');
  const incidents = await dispatcher.incidentsOf(office);
  expect(incidents).toMatchObject([
    {
      kind: 'near_miss',
      workOrderId: second.workOrder.id,
      tell: [{ who: 'owner of the business', toldAt: null }],
    },
  ]);
  const settled = await dispatcher.settleConflicts(office);
  expect(settled).toMatchObject([
    { author: 'Wren', resourceId: taskId, content: { result: 'partly' }, settledBy: 'dispatcher' },
  ]);
  const [heron, plover] = await dispatcher.closeTheDay(office, DAY);
  expect(heron.done).toBe(3);
  for (const left of heron.notDone)
    expect(left).toMatchObject({ reason: 'out_of_time', notBefore: '2026-10-02', next: expect.any(String) });
  // The promise of the morning was not kept: the client is phoned, by the one number that the books hold.
  expect(plover.notDone).toMatchObject([{ address: '12 Weir Street', promiseBroken: true }]);
  expect(plover.toPhone).toMatchObject([
    { promised: { day: DAY }, contacts: [{ name: 'Ines Calder', role: 'client', phone: '555 0177' }] },
  ]);
  const standing = async (id: string) =>
    (await t.call('dispatcher', { method: 'GET', url: `/v1/work-orders/${id}` })).body;
  for (const { workOrder } of [first, second, emergency])
    expect((await standing(workOrder.id)).state).toBe('done');
  // Nobody was home: wanted again, and somebody phones before the next visit.
  expect(await standing(third.workOrder.id)).toMatchObject({ state: 'wanted' });
  const declined = (await standing(second.workOrder.id)).tasks.find(({ id }: Json) => id === foundTaskId);
  expect(declined).toMatchObject({ result: 'not_done', reason: 'refused', declinedBy: 'Rowan Reed' });
  const { sheet, report } = await dispatcher.papers(office, route.id, first.workOrder.id);
  for (const pdf of [sheet, report]) expect(Buffer.from(pdf).subarray(0, 5).toString()).toBe('%PDF-');
}, 180_000);

const photograph = async () =>
  new Blob([
    await sharp({ create: { width: 64, height: 48, channels: 3, background: '#8a4b00' } })
      .jpeg()
      .toBuffer(),
  ]);
