import { dayNumber, type IsoDate, isoDate } from '../../domain/calendar/isoDate.js';
import type { FirstSurvey } from '../../domain/fouling/dueDateLevelling.js';
import { ENGINE_VERSION } from '../../domain/fouling/evidence.js';
import { cleanLine, drawLine, growLine, type SimulatedLine } from '../../domain/fouling/simulatedLine.js';
import { SHARE_ERROR } from '../../domain/readings/occlusionOf.js';
import { Random } from '../../domain/routing/random.js';
import { standardNormal } from '../../domain/statistics/chance.js';
import type { Method } from '../../domain/words.js';
import { planVisit } from '../../domain/work/visitTasks.js';
import { isWorthOvertime, leftOutCost } from '../../domain/work/waitingCost.js';
import { weeksWith } from '../desk/weeksAhead.js';
import type { DatedLines, DatesAsk } from '../night/dateLines.js';
import {
  type DueVisit,
  dueVisits,
  fixedVisit,
  crewHours as hoursWithTheWay,
  LEAD_DAYS,
  type LevelAsk,
  trendOf,
} from '../night/dueVisits.js';
import type { NightEvent } from '../night/nightEvents.js';
import type { Row } from '../ports.js';
import { mondayOf } from '../reports/dueWeeks.js';
import { visitLine } from '../workLife/visitLine.js';
import type { CopiedLine } from './copiedBooks.js';
import { crewWeek } from './crewWeek.js';
import { datesAskOf, trendRows } from './dateCopy.js';
import { newSites } from './newSites.js';
import type { WeekFigures, WhatIf } from './whatIfAsk.js';
import type { WaitingVisit, YearBooks } from './yearBooks.js';

/** A line of one run: what is believed of it, and what it really is in this run. */
export interface RunLine {
  copied: CopiedLine;
  /** As the step `order` reads it, with its trend. */
  row: Row;
  truth: SimulatedLine;
  /** Something happened since it was dated. */
  news: boolean;
  waits: boolean;
  cleanedDay: number;
}

/** Dates lines; on other threads where there are any. */
export type Dates = (ask: DatesAsk) => Promise<DatedLines>;

export interface YearAsk {
  year: YearBooks;
  asked: WhatIf;
  weeks: number;
  seed: number;
  run: number;
  dates: Dates;
}

/** Lines dated at a time. */
const BLOCK_LINES = 250;
/** Days of a week on which what happens in it is booked: plugs call, then crews have been. */
const CALL_DAY = 2;
const VISIT_DAY = 4;
const WEEK_DAYS = 7;
/** So full is a line that called. */
const PLUGGED_LEVEL = 0.95;
const NOON = 0.5;
const DAY_MS = 86_400_000;

/**
 * One run of the weeks to come: each line as it may really be, fouling by its own law; each Monday the night's own
 * dates and visits; then the crews' hours spent on what waiting makes dearest, calls of plugged lines before all, and overtime where routes would
 * buy it: up to what a shift may be kept, for a visit whose waiting costs more. What
 * crews find and clean is booked and dated again the next Monday.
 *
 * What is left out: routes within a day, kit, people and preconditions, pits that need a visit of their own, winter's
 * closed roads, and the weekly search for what the lines share.
 */
export class YearRun {
  private readonly lines = new Map<string, RunLine>();
  private readonly waiting: WaitingVisit[];
  private readonly given: FirstSurvey[];
  private readonly pits: Map<string, string>;
  private readonly ask: YearAsk;
  private events = 0;

  constructor(ask: YearAsk) {
    const { year } = ask;
    this.ask = ask;
    this.given = [...year.given];
    this.pits = new Map(year.pits);
    this.waiting = year.open.map((visit) => ({ ...visit, lineIds: [...visit.lineIds] }));
    for (const copied of year.books.lines) {
      const row = year.rows.get(copied.facts.lineId);
      if (row) this.addLine(copied, row, year.trends.get(copied.facts.lineId) ?? null);
    }
    for (const { lineIds } of this.waiting) for (const id of lineIds) this.change(id, { waits: true });
  }

  /** The weeks from the Monday after the books' day on. */
  async weeks(onWeek: (week: number) => void): Promise<WeekFigures[]> {
    const { year, weeks } = this.ask;
    const today = dayNumber(year.books.day);
    const firstMonday = mondayOf(today) + WEEK_DAYS;
    this.grow(today, firstMonday);
    const figures: WeekFigures[] = [];
    for (let week = 0; week < weeks; week++) {
      const monday = firstMonday + WEEK_DAYS * week;
      this.bring(week);
      await this.date(monday);
      this.order(monday);
      this.grow(monday, monday + WEEK_DAYS);
      figures.push(this.work(monday));
      onWeek(week);
    }
    return figures;
  }

  /**
   * The chance of one thing that happens to one line on one day of this run: the same however the lines were visited
   * before, so that two ways of working have the same weather.
   */
  private chanceOf(purpose: Purpose, lineId: string, day: number): Random {
    const { seed, run } = this.ask;
    return new Random(seedOf(`${seed} ${run} ${purpose} ${lineId} ${day}`));
  }

  private addLine(copied: CopiedLine, row: Row, trend: Row | null): void {
    const { year } = this.ask;
    const beliefs = year.beliefs.get(copied.facts.lineId) ?? [];
    const { old } = copied;
    const stands =
      trend !== null && old?.fitId === copied.state.fitId && old.policyHash === copied.policyHash;
    this.lines.set(copied.facts.lineId, {
      copied: { ...copied, events: [...copied.events] },
      row: { ...row, trend },
      truth: drawLine(beliefs, this.chanceOf('draw', copied.facts.lineId, 0)),
      news: !stands,
      waits: false,
      cleanedDay: dayNumber(year.books.day),
    });
  }

  private change(lineId: string, change: Partial<RunLine>): void {
    const line = this.lines.get(lineId);
    if (line) Object.assign(line, change);
  }

  /** New clients of a week. */
  private bring(week: number): void {
    const { year, asked } = this.ask;
    if (week >= asked.newSites.weeks) return;
    const chance = this.chanceOf('newcomer', '', week);
    for (const { copied, row, like, pitOf } of newSites(year, asked.newSites.perWeek, week, chance)) {
      year.beliefs.set(copied.facts.lineId, year.beliefs.get(copied.facts.lineId) ?? like);
      if (pitOf !== null) this.pits.set(pitOf.systemId, pitOf.pitId);
      this.addLine(copied, row, null);
    }
  }

  /** The night's step `date`, of the lines with news. */
  private async date(monday: number): Promise<void> {
    const { year, dates } = this.ask;
    const news = [...this.lines.values()].filter((line) => line.news);
    const day = isoDate(monday);
    for (let at = 0; at < news.length; at += BLOCK_LINES) {
      const block = news.slice(at, at + BLOCK_LINES);
      const dated = await dates(
        datesAskOf(
          year.books,
          block.map(({ copied }) => copied),
          day,
        ),
      );
      trendRows(dated).forEach((trend, i) => {
        const line = block[i];
        if (line) this.take(line, trend, day);
      });
    }
  }

  private take(line: RunLine, trend: Row, day: IsoDate): void {
    const { state, policyHash } = line.copied;
    line.row = {
      ...line.row,
      trend: { ...trend, components: JSON.parse(String(trend['components'])) as object },
    };
    line.news = false;
    line.copied = {
      ...line.copied,
      old: {
        asOf: day,
        fitId: state.fitId,
        engineVersion: ENGINE_VERSION,
        evidenceHash: String(trend['evidence_hash']),
        policyHash,
        dueOn: trend['due_on'] === null ? null : String(trend['due_on']),
        dueSetOn: String(trend['due_set_on']),
      },
    };
  }

  /** The night's step `order`. */
  private order(monday: number): void {
    const { settings } = this.ask.year.books;
    const free = [...this.lines.values()].filter((line) => !line.waits && line.row['trend'] !== null);
    const { visits } = dueVisits({
      today: monday,
      lines: free.map(({ row }) => row),
      given: this.given.filter(({ givenDay }) => givenDay !== null && givenDay >= monday - 6),
      pits: this.pits,
      settings,
      means: this.ask.year.means,
      level: this.levelAsk(monday),
    });
    for (const visit of visits) this.put(visit);
  }

  /** Crew-hours of the weeks ahead, absences asked for among them, and what waits already: what the night evens out. */
  private levelAsk(monday: number): LevelAsk {
    const { year, asked } = this.ask;
    const { travelShare, books, crews, share } = year;
    const weeks = Array.from({ length: weeksWith(LEAD_DAYS + books.settings.visits.levelDays) }, (_, i) => {
      const mondayDay = monday + WEEK_DAYS * i;
      return { mondayDay, capacityHours: crewWeek(crews, isoDate(mondayDay), asked).hours * share };
    });
    const fixed = this.waiting.map(({ minutes, notBeforeDay, wantedDay }, i) => {
      const day = Math.max(monday, notBeforeDay === 0 ? wantedDay : notBeforeDay);
      const hours = hoursWithTheWay(minutes, travelShare);
      return fixedVisit(`waiting ${i}`, hours, day);
    });
    return { weeks, fixed, travelShare };
  }

  private put({ siteId, systemIds, lines, planned, notBeforeDay, wantedDay, cause }: DueVisit): void {
    const lineIds = lines.map((row) => String(row['id']));
    this.waiting.push({
      siteId,
      lineIds,
      minutes: planned.minutes,
      waterL: planned.waterL,
      notBeforeDay,
      wantedDay,
      promised: false,
    });
    for (const id of lineIds) this.change(id, { waits: true });
    if (cause !== 'first_survey') return;
    for (const id of systemIds)
      this.given.push({ id, yearlyRisk: 0, plugWithinYear: 0, givenDay: wantedDay });
  }

  private grow(fromDay: number, toDay: number): void {
    for (const { truth, copied } of this.lines.values())
      growLine(truth, fromDay, toDay, this.chanceOf('growth', copied.facts.lineId, fromDay));
  }

  /** Calls of plugged lines, then what waiting makes dearest for its hours, as long as there are hours. */
  private work(monday: number): WeekFigures {
    const { year, asked } = this.ask;
    const { hours, shifts } = crewWeek(year.crews, isoDate(monday), asked);
    const capacity = hours * year.share;
    const mostHours = capacity + (shifts * year.share * year.books.settings.routes.overtimeMinutes) / 60;
    const figures = { visits: 0, hours: 0, waterL: 0, backlog: 0, overtimeHours: 0, plugs: 0 };
    for (const line of [...this.lines.values()]) {
      if (line.truth.level < this.plugLimit(line)) continue;
      const call = this.callOf(line, monday);
      figures.plugs++;
      this.spend(figures, call);
      this.found(line, monday + CALL_DAY + NOON, 'plugged');
      this.leave(line.copied.facts.lineId);
    }
    const sunday = monday + WEEK_DAYS - 1;
    for (const { visit, cost } of this.dearestFirst(monday)) {
      const end = figures.hours + this.hoursOf(visit);
      const overtime = end - Math.max(capacity, figures.hours);
      if (overtime > 0 && (end > mostHours || !isWorthOvertime(cost, overtime, year.books.settings.routes)))
        continue;
      this.spend(figures, visit);
      for (const id of visit.lineIds) {
        const line = this.lines.get(id);
        if (line) this.found(line, monday + VISIT_DAY + NOON, 'read');
      }
      this.waiting.splice(this.waiting.indexOf(visit), 1);
    }
    figures.overtimeHours = Math.max(0, figures.hours - capacity);
    figures.backlog = this.waiting.filter(({ wantedDay }) => wantedDay <= sunday).length;
    return figures;
  }

  private plugLimit({ row, copied }: RunLine): number {
    const trend = row['trend'] as Row | null;
    return trend === null
      ? (copied.facts.plugLimit ?? this.ask.year.books.settings.limits.plug)
      : Number(trend['plug_limit']);
  }

  private hoursOf({ minutes }: Pick<WaitingVisit, 'minutes'>): number {
    return (minutes + this.ask.year.driveMinutes) / 60;
  }

  private spend(figures: WeekFigures, visit: Pick<WaitingVisit, 'minutes' | 'waterL'>): void {
    figures.visits++;
    figures.hours += this.hoursOf(visit);
    figures.waterL += visit.waterL;
  }

  private callOf({ row }: RunLine, monday: number): WaitingVisit {
    const trend = { ...(row['trend'] as Row | null), occlusion: PLUGGED_LEVEL, readings_used: 1 };
    const { books, means } = this.ask.year;
    const planned = planVisit([visitLine({ ...row, trend })], [], books.settings, means);
    return {
      siteId: String(row['site_id']),
      lineIds: [String(row['id'])],
      minutes: planned.minutes,
      waterL: planned.waterL,
      notBeforeDay: monday,
      wantedDay: monday,
      promised: true,
    };
  }

  /** A line that was seen to waits for no other visit; a visit without lines is not made. */
  private leave(lineId: string): void {
    for (const visit of [...this.waiting]) {
      if (!visit.lineIds.includes(lineId)) continue;
      const share = (visit.lineIds.length - 1) / visit.lineIds.length;
      visit.lineIds = visit.lineIds.filter((id) => id !== lineId);
      visit.minutes *= share;
      visit.waterL *= share;
      if (visit.lineIds.length === 0) this.waiting.splice(this.waiting.indexOf(visit), 1);
    }
  }

  /** By what leaving it out of the week would cost for each minute it takes, as routes weigh it. */
  private dearestFirst(monday: number): { visit: WaitingVisit; cost: number }[] {
    const { settings } = this.ask.year.books;
    const priced = this.waiting
      .filter(({ notBeforeDay }) => notBeforeDay <= monday + VISIT_DAY)
      .map((visit) => ({ visit, cost: this.leftOut(visit, monday, settings) }));
    const worth = ({ visit, cost }: (typeof priced)[number]): number => cost / Math.max(1, visit.minutes);
    return priced.sort((a, b) => worth(b) - worth(a) || a.visit.wantedDay - b.visit.wantedDay);
  }

  private leftOut(visit: WaitingVisit, monday: number, settings: YearBooks['books']['settings']): number {
    let free = 1;
    for (const id of visit.lineIds) {
      const row = this.lines.get(id)?.row;
      if (row && row['trend'] !== null) free *= 1 - Math.min(0.999, Number(trendOf(row)['plug_chance_year']));
    }
    return leftOutCost(
      {
        plugChanceYear: 1 - free,
        lines: Math.max(1, visit.lineIds.length),
        wantedInDays: visit.wantedDay - monday,
        promised: visit.promised,
      },
      WEEK_DAYS,
      settings,
    );
  }

  /** Books what a crew found and that it cleaned the line. */
  private found(line: RunLine, day: number, how: 'read' | 'plugged'): void {
    const { copied, truth } = line;
    const { lineId } = copied.facts;
    const method = methodOf(copied.events);
    const sd = SHARE_ERROR[method];
    const seen = Math.min(
      1,
      Math.max(0, truth.level + sd * standardNormal(this.chanceOf('reading', lineId, day))),
    );
    const at = day * DAY_MS;
    const event = {
      id: this.nextId(),
      atMs: at,
      day,
      confirmed: false,
      called: false,
      deposit: null,
      changeCause: null,
    } as const;
    copied.events.push(
      how === 'plugged'
        ? { ...event, ...NOTHING_READ, kind: 'reading', plugCause: 'deposit', phase: 'before_cleaning' }
        : {
            ...event,
            kind: 'reading',
            occlusion: seen,
            standardError: sd,
            bound: 'exact',
            method,
            phase: 'before_cleaning',
            plugCause: null,
          },
      { ...event, ...NOTHING_READ, id: this.nextId(), atMs: at + 1, kind: 'clean' },
    );
    cleanLine(truth, day - line.cleanedDay, this.chanceOf('clean', lineId, day));
    line.cleanedDay = day;
    line.news = true;
    line.waits = false;
    // What is believed rests on other books now.
    line.copied = { ...copied, state: { ...copied.state, digest: `${copied.state.digest}+` } };
  }

  private nextId(): string {
    const hex = (++this.events).toString(16).padStart(12, '0');
    return `00000000-0000-7000-8000-${hex}`;
  }
}

const NOTHING_READ = {
  occlusion: null,
  standardError: null,
  bound: null,
  method: null,
  phase: null,
  plugCause: null,
} as const;

/** The line is read as it was last; one that never was by camera. */
function methodOf(events: readonly NightEvent[]): Method {
  return (
    events.findLast(({ method, phase }) => method !== null && phase !== 'after_cleaning')?.method ?? 'camera'
  );
}

/** What chance decides about a line. */
type Purpose = 'draw' | 'growth' | 'reading' | 'clean' | 'newcomer';

const FNV_PRIME = 0x01000193;
const FNV_START = 0x811c9dc5;
const TWO_32 = 0x1_0000_0000;

/** 53 bits out of words. @see Fowler, Noll & Vo: FNV-1a, 32 bits, here forward and backward. */
function seedOf(words: string): number {
  let forward = FNV_START;
  let backward = FNV_START;
  for (let i = 0; i < words.length; i++) {
    forward = Math.imul(forward ^ words.charCodeAt(i), FNV_PRIME);
    backward = Math.imul(backward ^ words.charCodeAt(words.length - 1 - i), FNV_PRIME);
  }
  return ((backward >>> 0) & 0x1fffff) * TWO_32 + (forward >>> 0);
}
