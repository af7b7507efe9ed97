/** A visit that will come; days as numbers. */
export interface ComingVisit {
  id: string;
  hours: number;
  /** Where it stands before weeks are evened out: some days ahead of its due day, today where it is late. */
  ownDay: number;
  /** It may come from this day on, … */
  earliestDay: number;
  /** … and not later than this: its due day, or as long as a late one may wait. */
  latestDay: number;
  /** It is late: of those that are, the dearest to wait come first. */
  late: boolean;
  /** What a day away from its own costs; the cheapest are moved. */
  costADay: number;
  /** On an order already: it keeps its week. */
  fixed: boolean;
}

export interface LevelWeek {
  mondayDay: number;
  capacityHours: number;
}

const DAYS = 7;
const FRIDAY = 4;
/** Two weeks whose use differs by less than this share of their hours are even (common practice, no source). */
const EVEN_SHARE = 0.05;

/**
 * Days of visits so that the weeks ahead are as evenly used as can be, below their hours too: visits that come due in
 * a heap come sooner, those that are late and may wait come later, the dearest to wait first.
 *
 * From the fullest week, the visit that is cheapest to move goes to the emptiest week that it may come in, as long
 * as that leaves both less full than the one was. So no move makes a peak, and the fullest week is never fuller than
 * before; the hours beyond what the weeks hold never grow. Weeks less used than `fromShare` of their hours are left
 * alone. The order in which visits are given decides nothing.
 *
 * @param weeks From the first on, one after the other.
 * @returns The day of each visit that does not stay on its own day, between its earliest and its latest.
 */
export function levelLoad(
  visits: readonly ComingVisit[],
  weeks: readonly LevelWeek[],
  fromShare = 0,
): Map<string, number> {
  const calendar = calendarOf(weeks);
  const free: FreeVisit[] = [];
  const used = weeks.map(() => 0);
  for (const visit of [...visits].sort((a, b) => (a.id < b.id ? -1 : 1))) {
    const week = calendar.weekOf(visit.ownDay);
    if (used[week] === undefined) continue;
    used[week] += visit.hours;
    const [first, last] = calendar.window(visit);
    if (!visit.fixed && first < last) free.push({ visit, first, last, week });
  }
  const load: Load = { weeks, used, fromShare };
  const before = fullestOf(load);
  evenOut(load, free);
  dearestFirst(load, free, before);
  const days = new Map<string, number>();
  for (const { visit, week } of free)
    if (week !== calendar.weekOf(visit.ownDay)) days.set(visit.id, calendar.dayIn(week, visit));
  return days;
}

/** A visit that may come in several weeks, all of them among those given. */
interface FreeVisit {
  visit: ComingVisit;
  first: number;
  last: number;
  week: number;
}

interface Load {
  weeks: readonly LevelWeek[];
  /** Hours taken, by week. */
  used: number[];
  fromShare: number;
}

function calendarOf(weeks: readonly LevelWeek[]) {
  const start = weeks[0]?.mondayDay ?? 0;
  const weekOf = (day: number): number => Math.max(0, Math.floor((day - start) / DAYS));
  const fridayOf = (week: number): number => start + DAYS * week + FRIDAY;
  return {
    weekOf,
    /** The first and the last week with a working day for it; its own is always one of them. */
    window({ ownDay, earliestDay, latestDay }: ComingVisit): [first: number, last: number] {
      const own = weekOf(ownDay);
      const from = weekOf(earliestDay);
      const first = earliestDay > fridayOf(from) ? from + 1 : from;
      return [Math.min(own, first), Math.min(weeks.length - 1, Math.max(own, weekOf(latestDay)))];
    },
    dayIn: (week: number, { earliestDay, latestDay }: ComingVisit): number =>
      Math.max(earliestDay, Math.min(latestDay, fridayOf(week))),
  };
}

/** Share of a week's hours; a week without hours is full of anything. */
function shareOf({ weeks, used }: Load, week: number, more = 0): number {
  const hours = Math.max(0, (used[week] ?? 0) + more);
  const there = weeks[week]?.capacityHours ?? 0;
  return there > 0 ? hours / there : hours > 0 ? Infinity : 0;
}

const overHours = ({ weeks, used }: Load, week: number, more = 0): number =>
  Math.max(0, (used[week] ?? 0) + more - (weeks[week]?.capacityHours ?? 0));

/** Whether the move leaves both weeks clearly less full than the fuller one was, and no more hours too many. */
function evens(load: Load, from: number, to: number, hours: number): boolean {
  const before = shareOf(load, from);
  const after = shareOf(load, to, hours);
  const tooMany = overHours(load, from) + overHours(load, to);
  if (overHours(load, from, -hours) + overHours(load, to, hours) > tooMany) return false;
  return after + (before > 1 ? 0 : EVEN_SHARE) < before;
}

/** Visits of one week by their windows, the cheapest to move last. */
type Shelf = Map<string, FreeVisit[]>;

const cheapestLast = (a: FreeVisit, b: FreeVisit): number =>
  b.visit.costADay - a.visit.costADay || (a.visit.id < b.visit.id ? 1 : -1);

function evenOut(load: Load, free: readonly FreeVisit[]): void {
  const shelves = load.weeks.map((): Shelf => new Map());
  for (const each of [...free].sort(cheapestLast)) put(shelves[each.week], each, 'sorted');
  for (let move = nextMove(load, shelves); move !== null; move = nextMove(load, shelves)) {
    const { moved, to } = move;
    take(shelves[moved.week], moved);
    load.used[moved.week] = (load.used[moved.week] ?? 0) - moved.visit.hours;
    load.used[to] = (load.used[to] ?? 0) + moved.visit.hours;
    moved.week = to;
    put(shelves[to], moved, 'anywhere');
  }
}

/** The move out of the fullest week there is one for, into the emptiest. */
function nextMove(load: Load, shelves: readonly Shelf[]): { moved: FreeVisit; to: number } | null {
  const order = load.weeks.map((_, week) => week);
  const byShare = (a: number, b: number) => shareOf(load, a) - shareOf(load, b) || a - b;
  const emptiest = [...order].sort(byShare);
  for (const from of [...order].sort((a, b) => byShare(b, a))) {
    if (shareOf(load, from) <= load.fromShare) return null;
    for (const to of emptiest) {
      if (to === from || !evens(load, from, to, 0)) continue;
      const moved = cheapestFor(load, shelves[from], from, to);
      if (moved !== null) return { moved, to };
    }
  }
  return null;
}

function cheapestFor(load: Load, shelf: Shelf | undefined, from: number, to: number): FreeVisit | null {
  let cheapest: FreeVisit | null = null;
  for (const lot of shelf?.values() ?? []) {
    const some = lot[0];
    if (some === undefined || some.first > to || some.last < to) continue;
    const fits = lot.findLast(({ visit }) => evens(load, from, to, visit.hours));
    if (fits && (cheapest === null || cheapestLast(cheapest, fits) < 0)) cheapest = fits;
  }
  return cheapest;
}

const lotOf = ({ first, last }: FreeVisit): string => `${first} ${last}`;

function put(shelf: Shelf | undefined, each: FreeVisit, how: 'sorted' | 'anywhere'): void {
  const lot = shelf?.get(lotOf(each));
  if (lot === undefined) shelf?.set(lotOf(each), [each]);
  else if (how === 'sorted') lot.push(each);
  else {
    const after = lot.findIndex((other) => cheapestLast(other, each) > 0);
    lot.splice(after < 0 ? lot.length : after, 0, each);
  }
}

function take(shelf: Shelf | undefined, each: FreeVisit): void {
  const lot = shelf?.get(lotOf(each)) ?? [];
  lot.splice(lot.lastIndexOf(each), 1);
}

/** The fullest week, and all hours beyond what weeks hold. */
const fullestOf = (load: Load): { share: number; over: number } => ({
  share: Math.max(0, ...load.weeks.map((_, week) => shareOf(load, week))),
  over: load.weeks.reduce((sum, _, week) => sum + overHours(load, week), 0),
});

/**
 * The late ones keep the hours they were given in each week, and the dearest to wait come in the first of them.
 * Visits of unlike length may not fit one another's places: where that would make a peak all stay where they are.
 */
function dearestFirst(load: Load, free: readonly FreeVisit[], before: { share: number; over: number }): void {
  const late = free.filter(({ visit }) => visit.late);
  const room = load.weeks.map(() => 0);
  for (const { visit, week } of late) room[week] = (room[week] ?? 0) + visit.hours;
  const given = load.weeks.map(() => 0);
  const places = new Map<FreeVisit, number>();
  let week = 0;
  for (const each of [...late].sort(cheapestLast)) {
    const { hours } = each.visit;
    while (week < room.length - 1 && (given[week] ?? 0) + hours / 2 > (room[week] ?? 0)) week++;
    const at = Math.max(each.first, Math.min(each.last, week));
    given[at] = (given[at] ?? 0) + hours;
    places.set(each, at);
  }
  const used = load.used.map((hours, i) => hours + (given[i] ?? 0) - (room[i] ?? 0));
  const [now, then] = [fullestOf(load), fullestOf({ ...load, used })];
  if (
    then.share > Math.min(before.share, now.share + EVEN_SHARE) ||
    then.over > Math.min(before.over, now.over)
  )
    return;
  for (const [each, at] of places) each.week = at;
  load.used = used;
}
