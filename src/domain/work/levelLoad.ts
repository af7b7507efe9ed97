/** A visit that will come; days as numbers. */
export interface ComingVisit {
  id: string;
  hours: number;
  /** It may not come later. */
  latestDay: number;
  /** It may come from this day on. */
  earliestDay: number;
  /** On an order already: it keeps its week. */
  fixed: boolean;
}

export interface LevelWeek {
  mondayDay: number;
  capacityHours: number;
}

const DAYS = 7;

/**
 * Days of visits so that no week has more work than hours where that can be helped. From the last week to the first,
 * each week keeps what can least be moved, and what is too much comes a week earlier; the latest visits move last.
 * Never later than a visit's latest day, never earlier than its earliest. Where no week has room it stays in its own.
 *
 * @param weeks From the first on, one after the other.
 * @returns The day of each visit that does not stay on its latest day.
 */
export function levelLoad(visits: readonly ComingVisit[], weeks: readonly LevelWeek[]): Map<string, number> {
  const first = weeks[0]?.mondayDay ?? 0;
  const weekOf = (day: number): number => Math.max(0, Math.floor((day - first) / DAYS));
  const used = weeks.map(() => 0);
  const byWeek = weeks.map((): ComingVisit[] => []);
  for (const visit of visits) {
    const own = weekOf(visit.latestDay);
    if (visit.fixed) used[own] = (used[own] ?? 0) + visit.hours;
    else byWeek[own]?.push(visit);
  }
  const placed = new Map<string, number>();
  let spilled: ComingVisit[] = [];
  for (let week = weeks.length - 1; week >= 0; week--) {
    const here = [...(byWeek[week] ?? []), ...spilled].sort(leastRoomFirst);
    spilled = [];
    for (const visit of here) {
      const fits = (used[week] ?? 0) + visit.hours <= (weeks[week]?.capacityHours ?? 0);
      const own = weekOf(visit.latestDay);
      if (!fits && week > weekOf(visit.earliestDay)) {
        spilled.push(visit);
        continue;
      }
      const at = fits ? week : own;
      used[at] = (used[at] ?? 0) + visit.hours;
      placed.set(visit.id, at);
    }
  }
  const days = new Map<string, number>();
  for (const { id, latestDay, earliestDay } of visits) {
    const week = placed.get(id);
    const own = weekOf(latestDay);
    if (week === undefined || week >= own) continue;
    const weekday = latestDay - (first + DAYS * own);
    days.set(id, Math.max(earliestDay, first + DAYS * week + Math.min(FRIDAY, Math.max(0, weekday))));
  }
  return days;
}

const FRIDAY = 4;

const leastRoomFirst = (a: ComingVisit, b: ComingVisit): number =>
  b.earliestDay - a.earliestDay || b.latestDay - a.latestDay || (a.id < b.id ? -1 : 1);
