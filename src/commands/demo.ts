import { randomUUID } from 'node:crypto';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createKey } from '../actions/createKey.js';
import type { House } from '../actions/house.js';
import { importClientBase } from '../actions/importClientBase.js';
import { runNight } from '../actions/night/runNight.js';
import type { Clock, Row } from '../actions/ports.js';
import type { Config } from '../config.js';
import { DEMO_NAME, demoBusiness } from '../demo/demoBusiness.js';
import { FORECAST_DAYS_AGO } from '../demo/demoPlugs.js';
import { moveIn } from '../demo/moveIn.js';
import { offerProposals } from '../demo/offerProposals.js';
import { takePhotographs } from '../demo/takePhotographs.js';
import { type BusinessZone, businessZone } from '../domain/calendar/businessZone.js';
import { addDays, type IsoDate, weekdayOf } from '../domain/calendar/isoDate.js';
import { ROLES, type Role } from '../domain/words.js';
import { openHouse, planTools, serve } from '../main.js';
import { AT_FIRST } from '../persistence/keptHouse.js';
import { commandLog } from './commandLog.js';
import { keepDemoForecasts } from './demoForecasts.js';
import { progressLine } from './progress.js';
import { stopAsked } from './serve.js';

const NIGHT_ROUTE_SECONDS = 8;
const SEED = 1;
const DEMO_PAPERS = {
  businessName: DEMO_NAME,
  officePhone: '555 0100',
  businessAddress: '1 Harbour Yard, Alder Quay',
  licence: 'WR-D-0417',
};
const NIGHT_HOUR = 2;
const AFTERNOON_HOUR = 16;

/**
 * The demo's own time: the night of a working day (today's, or the next one), then its afternoon, so that the day's
 * routes are there to be looked at and to be posted to.
 */
function demoClock(zone: BusinessZone): Clock & { setTo: (day: IsoDate, hour: number) => void } {
  let shiftMs = 0;
  const setTo = (day: IsoDate, hour: number) => {
    shiftMs = zone.instantOf(day, hour * 3600).getTime() - Date.now();
  };
  let day = zone.dayOf(new Date());
  while (['sat', 'sun'].includes(weekdayOf(day))) day = addDays(day, 1);
  setTo(day, NIGHT_HOUR);
  return { now: () => new Date(Date.now() + shiftMs), setTo };
}

/** The invented business on a database of its own: one night with progress, tomorrow's routes, then it serves. `--once` ends. */
export async function demoCommand(args: string[], config: Config): Promise<number> {
  const folder = config.DATABASE_URL
    ? null
    : (config.OPENBORE_DATA ?? mkdtempSync(join(tmpdir(), 'openbore-demo-')));
  const clock = demoClock(businessZone(config.TIME_ZONE ?? AT_FIRST.timeZone));
  const open = await openHouse(
    {
      ...config,
      TIME_ZONE: config.TIME_ZONE ?? AT_FIRST.timeZone,
      CURRENCY: config.CURRENCY ?? AT_FIRST.currency,
      UNITS: config.UNITS ?? AT_FIRST.units,
      ...(folder ? { OPENBORE_DATA: folder, OPENBORE_FILES: config.OPENBORE_FILES ?? filesOf(folder) } : {}),
    },
    { log: commandLog(), clock },
  );
  const { house } = open;
  try {
    if (await isUsed(house)) {
      console.error(
        'The demo wants a database without sites, and this one holds some: leave DATABASE_URL and OPENBORE_DATA out, or name an empty one.',
      );
      return 2;
    }
    const today = house.zone.dayOf(house.clock.now());
    console.log(`${DEMO_NAME} in Wexley Reach\nall of it invented: ${today}, two years of history\n`);
    const business = demoBusiness(SEED, today);
    const writing = progressLine('bringing the books in');
    const counts = await importClientBase(
      house,
      { name: 'demo' },
      {
        base: business.base,
        source: 'demo',
        asOf: today,
        onProgress: (share, what) => writing.at(share, what),
      },
    );
    writing.end();
    await moveIn(house, business);
    await keepDemoForecasts(house, business.base, addDays(today, -FORECAST_DAYS_AGO));
    await house.transact({ name: 'demo' }, ({ settings }) => settings.put('papers', DEMO_PAPERS, 'demo'));
    const photographed = await takePhotographs(house, SEED);
    console.log(
      `${counts.sites} sites, ${counts.lines} lines, ${counts.inspections} inspections, ${counts.cleans} cleans, ${counts.crews} crews`,
    );
    await night(house, today, config);
    clock.setTo(today, AFTERNOON_HOUR);
    await offerProposals(house);
    console.log(`\nin the demo it is now ${today}, ${localTime(clock.now().toISOString(), house.zone.name)}`);
    await printRoutes(house, addDays(today, 1));
    await printUrgent(house);
    if (args.includes('--once')) return 0;

    const keys = await demoKeys(house);
    const running = await serve({ ...config, LOG_LEVEL: 'warn', NIGHT: 'off' }, open);
    console.log(`\nserving at ${running.url}, reference page ${running.url}/docs`);
    for (const [role, key] of keys) console.log(`  ${role.padEnd(11)} ${key}`);
    console.log(
      `try: curl -H "Authorization: Bearer ${keys.get('owner')}" "${running.url}/v1/trends?sort=dueOn&limit=3"`,
    );
    if (photographed)
      console.log(
        `a visit on paper, with photographs: curl -H "Authorization: Bearer ${keys.get('owner')}" "${running.url}/v1/work-orders/${photographed['id']}/report" > visit.html`,
      );
    console.log('Ctrl-C ends.');
    await stopAsked();
    await running.stop();
    return 0;
  } finally {
    await open.close();
    if (folder !== null && config.OPENBORE_DATA === undefined)
      for (const each of [folder, filesOf(folder)]) rmSync(each, { recursive: true, force: true });
  }
}

/** The invented business must not move in with a real one. */
const isUsed = async (house: House): Promise<boolean> => (await house.stores.rows.count('site', [])) > 0;

const filesOf = (folder: string): string => `${folder}-files`;

async function night(house: House, businessDay: string, config: Config): Promise<void> {
  let current = '';
  let line = progressLine('night');
  const runId = await runNight(house, {
    businessDay,
    askedBy: 'demo',
    holder: randomUUID(),
    routeSeconds: NIGHT_ROUTE_SECONDS,
    tools: planTools(config),
    onProgress: (step, share) => {
      if (step !== current) {
        line.end();
        current = step;
        line = progressLine(`night: ${step}`);
      }
      line.at(share, businessDay);
    },
  });
  line.end();
  const steps = await house.stores.rows.all(
    'nightly_step',
    [{ column: 'run_id', is: '=', value: runId }],
    'position',
  );
  console.log(
    `night ${steps.map((step) => `${String(step['name'])} ${Number(step['seconds']).toFixed(1)} s`).join(', ')}`,
  );
}

async function printRoutes(house: House, today: string): Promise<void> {
  for (let ahead = 0; ahead < 7; ahead++) {
    const day = addDays(today, ahead);
    const routes = await house.stores.answers.routes(day, null, house.zone.instantOf(day, 0).toISOString());
    if (routes.length === 0) continue;
    console.log(`\nroutes of ${day}`);
    for (const route of routes) {
      console.log(
        `  ${String(route['crew_name'])}, from ${String(route['depot_name'])}: ${Math.round(Number(route['drive_m']) / 1000)} km, ${(Number(route['work_s']) / 3600).toFixed(1)} h on site`,
      );
      for (const stop of route['stops'] as Row[]) {
        if (stop['number'] === null) continue;
        const tasks = (stop['tasks'] as { kind: string }[])
          .map(({ kind }) => kind.replaceAll('_', ' '))
          .join(', ');
        console.log(
          `    ${localTime(String(stop['starts_at']), house.zone.name)}  order ${String(stop['number'])}  ${String(stop['address'])}, ${String(stop['town'])}: ${tasks}`,
        );
      }
    }
    return;
  }
  console.log('\nno routes in the coming week');
}

const localTime = (instant: string, zone: string): string =>
  new Date(instant).toLocaleTimeString('en-GB', { timeZone: zone, hour: '2-digit', minute: '2-digit' });

async function printUrgent(house: House): Promise<void> {
  const rows = await house.stores.rows.page('trend_list', {
    where: [],
    sort: { column: 'action_chance_30d', descending: true },
    limit: 8,
  });
  console.log('\nmost urgent lines');
  for (const row of rows) {
    const [reason] = row['due_reasons'] as { text: string }[];
    console.log(
      `  ${String(row['name'])}  ${String(row['kind']).replaceAll('_', ' ')}, ${String(row['address'])}: about ${Math.round(Number(row['occlusion']) * 100)} % blocked, due ${String(row['due_on'])}. ${reason?.text ?? ''}`,
    );
  }
}

async function demoKeys(house: House): Promise<Map<Role, string>> {
  const [membership] = await house.stores.rows.all('crew_membership', [], 'crew_id');
  return house.transact({ name: 'demo' }, async (stores) => {
    const keys = new Map<Role, string>();
    for (const role of ROLES) {
      const { key } = await createKey(stores, {
        name: `demo ${role}`,
        roles: [role],
        memberId: role === 'technician' ? String(membership?.['member_id']) : null,
        expiresAt: null,
      });
      keys.set(role, key);
    }
    return keys;
  });
}
