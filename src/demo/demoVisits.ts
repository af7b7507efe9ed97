import type { ClientBase, LineRow, ReadingRow, SiteRow } from '../actions/clientBase.js';
import { addDays, daysBetween, type IsoDate } from '../domain/calendar/isoDate.js';
import type { CameBack, FlowProven, PlugCause, TaskKind, WaterReceiver } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import type { DemoExtras } from './demoExtras.js';

/** Visits before that are in the books as readings alone, as of a business that kept its orders on paper. */
export const WORK_DAYS = 130;
const MINUTE_MS = 60_000;
const RETURNS = ['warranty', 'goodwill', 'time_and_material'] as const;
/** A line that is trouble again so soon after a clean brings its crew back. */
const RETURNS_WITHIN_DAYS = 60;
const TROUBLE_AGAIN = 0.2;

export type DemoPriceBasis = 'care_terms' | (typeof RETURNS)[number];

/** One visit that the demo's readings tell of, as the order that was made for it; lines by the ids of the base. */
export interface DemoVisit {
  siteId: string;
  day: IsoDate;
  startedAt: string;
  endedAt: string;
  crewId: string | null;
  cause: 'call' | 'due' | 'return_work';
  because: string;
  priceBasis: DemoPriceBasis;
  /** Null where the care terms say it. */
  priceMinor: number | null;
  plannedMinutes: number;
  tasks: DemoTask[];
  flowProven: FlowProven;
  water: DemoWater | null;
  /** Place in the list of the visit it returns for. */
  returnsFor: number | null;
  /** Told on the phone some days ahead. */
  promised: boolean;
  /** A crew stood before a closed door this many days earlier. */
  inVainDaysBefore: number | null;
}

export interface DemoTask {
  kind: TaskKind;
  lineId: string;
  /** Done on the pit that this line empties. */
  atPit: boolean;
  minutes: number;
  /** What is added to the clean that the reading implies; null where nothing was cleaned. */
  clean: { passes: number; cameBack: CameBack; waterL: number } | null;
  /** Found on site and agreed there and then. */
  addedMinor: number | null;
}

export interface DemoWater {
  receiver: WaterReceiver;
  place: string | null;
  /** Permit or ticket of who took it. */
  reference: string | null;
  waterL: number;
  sludgeL: number;
}

/** Orders behind the readings of the last months, oldest first. */
export function demoVisits(
  base: ClientBase,
  extras: Pick<DemoExtras, 'careTerms'>,
  asOf: IsoDate,
  chance: Chance,
): DemoVisit[] {
  const sites = new Map(base.sites.map((site) => [site.siteId, site]));
  const lines = new Map(base.lines.map((line) => [line.lineId, line]));
  const terms = new Map(extras.careTerms.map((each) => [each.siteId, each]));
  const trips = tripsOf(base.readings, lines, addDays(asOf, -WORK_DAYS));
  const visits = trips.map(({ siteId, day, readings }): DemoVisit => {
    const site = sites.get(siteId);
    if (!site) throw new RangeError(`a reading of ${siteId}, which has no site`);
    const own = terms.get(siteId);
    const inForce = own !== undefined && own.fromDay <= day;
    return visitOf({ site, day, readings, lines, every: inForce ? own.intervalDays : null, inForce }, chance);
  });
  returnsAmong(visits, base.readings);
  return visits;
}

interface Trip {
  siteId: string;
  day: IsoDate;
  readings: ReadingRow[];
}

function tripsOf(
  readings: readonly ReadingRow[],
  lines: ReadonlyMap<string, LineRow>,
  from: IsoDate,
): Trip[] {
  const trips = new Map<string, Trip>();
  for (const reading of readings) {
    const day = reading.observedAt.slice(0, 10);
    const siteId = lines.get(reading.lineId)?.siteId;
    if (siteId === undefined || day < from) continue;
    const key = `${day} ${siteId}`;
    const trip = trips.get(key) ?? { siteId, day, readings: [] };
    trip.readings.push(reading);
    trips.set(key, trip);
  }
  return [...trips.values()].sort((a, b) =>
    a.day === b.day ? a.siteId.localeCompare(b.siteId, 'en') : a.day < b.day ? -1 : 1,
  );
}

interface VisitFacts {
  site: SiteRow;
  day: IsoDate;
  readings: readonly ReadingRow[];
  lines: ReadonlyMap<string, LineRow>;
  /** Days between visits by the care terms, where they count days. */
  every: number | null;
  inForce: boolean;
}

function visitOf(facts: VisitFacts, chance: Chance): DemoVisit {
  const { site, day, readings, lines, inForce } = facts;
  const befores = readings.filter(({ phase }) => phase !== 'after_cleaning');
  const plug = befores.find(({ plugged }) => plugged);
  const tasks = befores
    .sort((a, b) => rank(lines.get(a.lineId)) - rank(lines.get(b.lineId)))
    .flatMap((reading) => tasksOf(reading, lines.get(reading.lineId), chance));
  const times = readings.map(({ observedAt }) => Date.parse(observedAt));
  const startMs = Math.min(...times) - 8 * MINUTE_MS;
  const endMs = Math.max(...times) + chance.whole(20, 35) * MINUTE_MS;
  const cleaned = tasks.flatMap(({ clean }) => clean ?? []);
  const called = plug !== undefined;
  const priceBasis = inForce && !called ? 'care_terms' : 'time_and_material';
  const someoneHome = site.access === 'someone_home';
  const taken = (endMs - startMs) / MINUTE_MS;
  return {
    siteId: site.siteId,
    day,
    startedAt: new Date(startMs).toISOString(),
    endedAt: new Date(endMs).toISOString(),
    crewId: readings.find(({ crewId }) => crewId !== null)?.crewId ?? null,
    cause: called ? 'call' : 'due',
    because: becauseOf(facts, plug),
    priceBasis,
    priceMinor: priceBasis === 'care_terms' ? null : 14_500 + tasks.length * 5_500 + (called ? 12_000 : 0),
    plannedMinutes: Math.max(15, Math.round((taken * chance.between(0.85, 1.2)) / 5) * 5),
    tasks,
    flowProven: chance.weighted<FlowProven>({ yes: 90, not_possible: 10 }),
    water: waterOf(cleaned, lines.get(befores.at(-1)?.lineId ?? ''), chance),
    returnsFor: null,
    promised: someoneHome,
    inVainDaysBefore: someoneHome && !called && chance.happens(0.06) ? chance.whole(2, 4) : null,
  };
}

/** The lines toward the pit first, the discharge once it has been proven. */
const rank = (line: LineRow | undefined): number => (line?.kind === 'sump_discharge' ? 1 : 0);

const PLUG_WORK: Record<PlugCause, TaskKind[]> = {
  deposit: ['jet'],
  unknown: ['jet'],
  ice: ['hose_flush'],
  roots: ['cable', 'jet'],
  crushed: ['trace', 'jet'],
  debris: ['jet'],
  buried_outlet: ['clear_outlet', 'hose_flush'],
  animal: ['jet'],
};

function tasksOf(reading: ReadingRow, line: LineRow | undefined, chance: Chance): DemoTask[] {
  const { lineId, phase, plugged, plugCause, occlusion } = reading;
  const task = (kind: TaskKind, more: Partial<DemoTask> = {}): DemoTask => ({
    kind,
    lineId,
    atPit: false,
    minutes: 20,
    clean: null,
    addedMinor: null,
    ...more,
  });
  if (phase === 'no_cleaning') return [task('inspect', { minutes: 10 })];
  const kinds = plugged
    ? PLUG_WORK[plugCause ?? 'unknown']
    : [(occlusion ?? 0) >= 0.25 ? ('jet' as const) : ('hose_flush' as const)];
  const passes = plugged ? chance.whole(4, 7) : 1 + Math.round((occlusion ?? 0.15) * 6);
  const clean = {
    passes,
    cameBack: chance.weighted<CameBack>({ clear: 70, tinted: 30 }),
    waterL: Math.round((passes * chance.between(45, 80)) / 5) * 5,
  };
  const work = kinds.map((kind, i) =>
    task(kind, {
      minutes: kind === 'jet' ? 35 : 25,
      clean: i === kinds.length - 1 ? clean : null,
    }),
  );
  if (!plugged && chance.happens(0.03)) work.push(task('clear_outlet', { addedMinor: 6_500 }));
  return line?.kind === 'sump_discharge'
    ? [
        task('clear_pit', { atPit: true, minutes: 15 }),
        ...work,
        task('test_pump', { atPit: true, minutes: 10 }),
      ]
    : work;
}

function waterOf(
  cleaned: readonly NonNullable<DemoTask['clean']>[],
  line: LineRow | undefined,
  chance: Chance,
): DemoWater | null {
  if (cleaned.length === 0) return null;
  const waterL = cleaned.reduce((sum, each) => sum + each.waterL, 0);
  const sludgeL = Math.round(waterL * chance.between(0.03, 0.08));
  const onTheLot = line?.outlet === 'daylight' || line?.outlet === 'pop_up' || line?.outlet === 'dry_well';
  if (onTheLot && chance.happens(0.4))
    return { receiver: 'own_ground', place: 'lawn below the garden', reference: null, waterL, sludgeL };
  // One crew in a few forgets to write down who took it.
  const isTold = waterL % 4 !== 0;
  return {
    receiver: 'caught',
    place: isTold ? 'Fulling Green treatment works' : null,
    reference: isTold ? 'WT-208' : null,
    waterL,
    sludgeL,
  };
}

const PLUG_SAID: Record<PlugCause, string> = {
  deposit: 'no water came out of it',
  unknown: 'no water came out of it',
  ice: 'ice stood at its end',
  roots: 'it ran slower each week and then not at all',
  crushed: 'the ground above it had sunk',
  debris: 'it backed up after the rain',
  buried_outlet: 'nobody could find its end under the new beds',
  animal: 'it backed up and smelled',
};

function becauseOf({ lines, every }: VisitFacts, plug: ReadingRow | undefined): string {
  if (plug !== undefined) {
    const kind = (lines.get(plug.lineId)?.kind ?? 'line').replaceAll('_', ' ');
    return `The client called about the ${kind}: ${PLUG_SAID[plug.plugCause ?? 'unknown']}.`;
  }
  return every === null ? 'Its next clean was due.' : `Care terms promise a visit every ${every} days.`;
}

/** Of the visits that met trouble soon after another on the same line, the first few were made good by their crew. */
function returnsAmong(visits: DemoVisit[], readings: readonly ReadingRow[]): void {
  const found = new Map(
    readings
      .filter(({ phase }) => phase === 'before_cleaning')
      .map((row) => [`${row.observedAt.slice(0, 10)} ${row.lineId}`, row]),
  );
  const troubled = (visit: DemoVisit, lineId: string): boolean => {
    const row = found.get(`${visit.day} ${lineId}`);
    if (row === undefined) return false;
    // Roots, ice and what fell in are nobody's poor work.
    return row.plugged ? row.plugCause === 'deposit' : (row.occlusion ?? 0) >= TROUBLE_AGAIN;
  };
  let next = 0;
  for (const visit of visits) {
    const basis = RETURNS[next];
    if (basis === undefined) return;
    const before = visits.findLastIndex(
      (other) =>
        other.siteId === visit.siteId &&
        other.day < visit.day &&
        daysBetween(other.day, visit.day) <= RETURNS_WITHIN_DAYS &&
        other.returnsFor === null &&
        visit.tasks.some(
          ({ lineId, clean }) =>
            clean !== null &&
            troubled(visit, lineId) &&
            other.tasks.some((task) => task.lineId === lineId && task.clean !== null),
        ),
    );
    const first = visits[before];
    if (first === undefined) continue;
    visit.cause = 'return_work';
    visit.because = `Cleaned ${daysBetween(first.day, visit.day)} days before, and it runs slowly again.`;
    visit.priceBasis = basis;
    visit.priceMinor = basis === 'time_and_material' ? (visit.priceMinor ?? 18_500) : null;
    visit.returnsFor = before;
    next++;
  }
}
