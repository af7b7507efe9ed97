import type { CrewRow, ReadingRow } from '../actions/clientBase.js';
import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import type { PlugCause } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import { crewsNear } from './demoCrews.js';
import { grown, siteEffect, trueRate } from './demoFouling.js';
import type { DemoLine, DemoSystem } from './demoLines.js';
import { type Finding, measured, plugged, unmeasured } from './demoReading.js';
import type { DemoSite } from './demoSites.js';

const DAY_MS = 86_400_000;
const MINUTE_MS = 60_000;
const STEP_DAYS = 7;
/** From here on a line no longer carries its water and the client calls. */
const CALLS_FROM = 0.9;
const NEVER_CLEANED_BEFORE = 1250;
/** Another system of the site is done on the same trip when it would be due this soon. */
const JOINS_WITHIN_DAYS = 45;
const INTERVAL = { typicalDays: 180, atPerDay: 0.0008, shortest: 48, longest: 205, scatter: 0.18 };
const AFTER_PLUG_DAYS = [30, 60, 90];
const POSTPONED = 0.05;
/** A year and line; what is not fouling makes work, not trend. */
const OTHER_PLUGS_A_YEAR = 0.012;

interface LineLife {
  line: DemoLine;
  perDay: number;
  occlusion: number;
  cleanedDay: number;
  bornDay: number;
  /** Its crews clean and never write down what they saw. */
  neverRead: boolean;
}

interface SystemLife {
  lines: LineLife[];
  nextDay: number;
  /** Visits left on the short intervals after a plug. */
  shortVisits: number;
}

/** What the crews found and did at one site until the day before `asOf`, in order of time. */
export function demoHistory(
  site: DemoSite,
  systems: readonly DemoSystem[],
  span: { from: IsoDate; asOf: IsoDate },
  crews: readonly CrewRow[],
  chance: Chance,
): ReadingRow[] {
  const endDay = dayNumber(span.asOf);
  const lives = beginnings(site, systems, dayNumber(span.from), chance);
  const near = crewsNear(placeOf(site), crews);
  const readings: ReadingRow[] = [];
  let day = Math.min(
    dayNumber(span.from),
    ...lives.flatMap(({ lines }) => lines.map((life) => life.bornDay)),
  );
  for (;;) {
    const next = Math.min(day + STEP_DAYS, ...lives.map((life) => life.nextDay));
    if (next >= endDay) return readings;
    for (const { lines } of lives) for (const life of lines) grow(life, day, next, chance);
    day = next;
    const calls = callsOn(lives, day, chance);
    const due = lives.filter((life) => life.nextDay <= day || life.lines.some((line) => calls.has(line)));
    if (due.length === 0) continue;
    const onTheWay = lives.filter((life) => !due.includes(life) && life.nextDay <= day + JOINS_WITHIN_DAYS);
    const crew = chance.happens(0.8) ? near[0] : near[1];
    let atMs = day * DAY_MS + Math.floor(chance.between(13.5, 17) * 60) * MINUTE_MS;
    for (const system of [...due, ...onTheWay]) {
      atMs = visit(system, { day, atMs, crewId: crew?.crewId ?? null, calls }, readings, chance);
      system.nextDay = nextVisit(system, day, chance);
    }
  }
}

function placeOf(site: DemoSite) {
  return { latitude: site.row.latitude ?? 0, longitude: site.row.longitude ?? 0 };
}

function beginnings(
  site: DemoSite,
  systems: readonly DemoSystem[],
  fromDay: number,
  chance: Chance,
): SystemLife[] {
  const effect = siteEffect(chance);
  const takenOnDay = fromDay + (chance.happens(0.65) ? 0 : chance.whole(30, 480));
  return systems.map(({ lines }) => {
    const lived = lines.map((line) => lineLife(line, site, effect, fromDay, chance));
    const youngest = Math.max(...lines.map((line) => dayNumber(line.installedOn)));
    const first = isNew(youngest, fromDay)
      ? youngest + chance.whole(90, 300)
      : takenOnDay + chance.whole(0, 170);
    return { lines: lived, nextDay: workday(Math.max(first, fromDay)), shortVisits: 0 };
  });
}

/** Laid so short a time before the history begins that nobody cleaned it yet. */
const isNew = (laidDay: number, fromDay: number): boolean => laidDay > fromDay - NEVER_CLEANED_BEFORE;

function lineLife(line: DemoLine, site: DemoSite, effect: number, fromDay: number, chance: Chance): LineLife {
  const perDay = trueRate(line, site.ironMgL, effect, chance);
  const laidDay = dayNumber(line.installedOn);
  const cleanAtFirst = isNew(laidDay, fromDay);
  return {
    line,
    perDay,
    occlusion: cleanAtFirst ? chance.between(0, 0.02) : Math.min(0.7, perDay * chance.between(40, 420)),
    cleanedDay: cleanAtFirst ? laidDay : fromDay - 200,
    bornDay: cleanAtFirst ? laidDay : fromDay,
    neverRead: chance.happens(0.05),
  };
}

function grow(life: LineLife, fromDay: number, toDay: number, chance: Chance): void {
  const from = Math.max(fromDay, life.bornDay);
  if (toDay > from) life.occlusion = Math.min(1, life.occlusion + grown(life.perDay, from, toDay, chance));
}

/** Lines that stopped carrying water, and why. */
function callsOn(lives: readonly SystemLife[], day: number, chance: Chance): Map<LineLife, PlugCause> {
  const calls = new Map<LineLife, PlugCause>();
  for (const { lines } of lives) {
    for (const life of lines) {
      if (life.bornDay > day) continue;
      if (life.occlusion >= CALLS_FROM) calls.set(life, 'deposit');
      else if (chance.happens((OTHER_PLUGS_A_YEAR * STEP_DAYS) / 365))
        calls.set(life, otherCause(life, day, chance));
    }
  }
  return calls;
}

function otherCause({ line }: LineLife, day: number, chance: Chance): PlugCause {
  const month = new Date(day * DAY_MS).getUTCMonth();
  const winter = month === 11 || month <= 1;
  if (winter && line.row.kind === 'sump_discharge') return 'ice';
  const ground = line.material === 'clay' || line.material === 'concrete';
  return chance.weighted<PlugCause>({
    roots: ground ? 60 : 10,
    debris: 30,
    buried_outlet: 25,
    crushed: ground ? 10 : 20,
    animal: 8,
    unknown: 7,
  });
}

interface Trip {
  day: number;
  atMs: number;
  crewId: string | null;
  calls: ReadonlyMap<LineLife, PlugCause>;
}

/** One system's visit. @returns When the crew is done with it. */
function visit(system: SystemLife, trip: Trip, readings: ReadingRow[], chance: Chance): number {
  const lookOnly = !system.lines.some((life) => trip.calls.has(life)) && chance.happens(0.05);
  let { atMs } = trip;
  for (const life of system.lines) {
    if (life.bornDay > trip.day) continue;
    const finding = (phase: Finding['phase']): Finding => ({
      line: life.line,
      occlusion: life.occlusion,
      depositDays: trip.day - life.cleanedDay,
      atMs,
      phase,
      crewId: chance.happens(0.9) ? trip.crewId : null,
    });
    const cause = trip.calls.get(life);
    if (lookOnly) {
      readings.push(measured(finding('no_cleaning'), chance));
      atMs += 10 * MINUTE_MS;
      continue;
    }
    if (cause !== undefined) readings.push(plugged(finding('before_cleaning'), cause));
    else if (life.neverRead || chance.happens(0.05)) readings.push(unmeasured(finding('before_cleaning')));
    else readings.push(measured(finding('before_cleaning'), chance));
    atMs += chance.whole(20, 55) * MINUTE_MS;
    clean(life, trip.day, chance);
    if (!life.neverRead && chance.happens(cause === undefined ? 0.5 : 0.9)) {
      readings.push(measured(finding('after_cleaning'), chance));
    }
    atMs += 5 * MINUTE_MS;
  }
  system.shortVisits = shortVisitsAfter(system, trip.calls);
  return atMs;
}

/** Gel comes out, crust less so. */
function clean(life: LineLife, day: number, chance: Chance): void {
  const hardened = day - life.cleanedDay > 190 ? 0.25 : 0.05;
  const left = Math.abs(0.03 * chance.normal()) + hardened * life.occlusion * chance.unit();
  life.occlusion = Math.min(life.occlusion, left);
  life.cleanedDay = day;
}

function shortVisitsAfter(system: SystemLife, calls: ReadonlyMap<LineLife, PlugCause>): number {
  if (system.lines.some((life) => calls.get(life) === 'deposit')) return AFTER_PLUG_DAYS.length;
  return Math.max(0, system.shortVisits - 1);
}

/** Worse lines are visited more often, as far as the crews can tell; some clients put a visit off. */
function nextVisit(system: SystemLife, day: number, chance: Chance): number {
  const short = AFTER_PLUG_DAYS[AFTER_PLUG_DAYS.length - system.shortVisits];
  if (system.shortVisits > 0 && short !== undefined) return workday(day + short);
  const worst = Math.max(...system.lines.map((life) => life.perDay));
  const wanted = INTERVAL.typicalDays * Math.exp(-0.55 * Math.log(worst / INTERVAL.atPerDay));
  const kept = Math.min(INTERVAL.longest, Math.max(INTERVAL.shortest, wanted));
  const scattered = kept * Math.exp(INTERVAL.scatter * chance.normal());
  const putOff = chance.happens(POSTPONED) ? chance.whole(30, 150) : 0;
  return workday(day + Math.round(scattered) + putOff);
}

/** The day itself or the Monday after; 1970-01-01 was a Thursday. */
function workday(day: number): number {
  const weekday = (((day + 4) % 7) + 7) % 7;
  if (weekday === 6) return day + 2;
  return weekday === 0 ? day + 1 : day;
}
