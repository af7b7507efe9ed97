import { createHash } from 'node:crypto';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { FirstSurvey } from '../../domain/fouling/dueDateLevelling.js';
import { beliefsOf, type RateBelief } from '../../domain/fouling/simulatedLine.js';
import type { JetMeans } from '../../domain/jetting/orderJet.js';
import { settingsWith } from '../../domain/work/settings.js';
import { travelShareOf } from '../desk/weeksAhead.js';
import type { House, Stores } from '../house.js';
import { nightLine } from '../night/lineEvidence.js';
import { withPriors } from '../night/lineState.js';
import { heldSettings } from '../ownerSettings.js';
import { type Books, openBooks } from '../plans/books.js';
import type { Row } from '../ports.js';
import { jetMeans } from '../workLife/visitLine.js';
import { type CopiedBooks, type CopiedLine, copyBooks, withPolicy } from './copiedBooks.js';
import type { WhatIf } from './whatIfAsk.js';

/** A visit that waits for a crew; days are day numbers. */
export interface WaitingVisit {
  siteId: string;
  lineIds: string[];
  minutes: number;
  waterL: number;
  notBeforeDay: number;
  wantedDay: number;
  promised: boolean;
}

/** Everything a year is worked through with, read once for one way of doing it. */
export interface YearBooks {
  books: CopiedBooks;
  /** Lines as the step `order` reads them, by id, without their trends. */
  rows: Map<string, Row>;
  trends: Map<string, Row>;
  beliefs: Map<string, RateBelief[]>;
  pits: Map<string, string>;
  means: JetMeans;
  open: WaitingVisit[];
  given: FirstSurvey[];
  crews: Books;
  driveMinutes: number;
  /** What the night reckons crews to be on the road when it evens out the weeks ahead. */
  travelShare: number;
  /** Of the whole base worked on. */
  share: number;
  lines: number;
}

/** More would take minutes a run; the bands of so many lines are narrow enough (common practice, no source). */
const LINES_AT_MOST = 1_500;
/** Between two visits, where no route was ever driven (common practice, no source). */
const DRIVE_MINUTES = 15;

/** All sites with anything to come are due by then. */
const LAST_DAY = '9999-12-31';

/** @returns Null before the first night, or where no line has been dated. */
export async function yearBooks(house: House, today: IsoDate, asked: WhatIf): Promise<YearBooks | null> {
  const { stores } = house;
  const held = await heldSettings(stores);
  const settings = settingsWith(asked.settings, held.settings);
  const whole = await copyBooks(house, today, settings);
  if (whole === null || whole.lines.length === 0) return null;
  const chosen = wholeSites(whole.lines);
  const share = chosen.length / whole.lines.length;
  const perWeek = Math.max(1, Math.round(settings.surveys.perWeek * share));
  const books: CopiedBooks = {
    ...whole,
    settings: { ...settings, surveys: { perWeek } },
    lines: chosen.map((line) => withCareFactor(line, asked.careIntervalFactor)),
  };
  const crews = await openBooks(stores, today);
  const pits = await stores.rows.all('pit', [{ column: 'archived_on', is: 'null' }]);
  return {
    books,
    rows: byId(await stores.night.linesOfDueSites(today, LAST_DAY), 'id'),
    trends: byId(await stores.rows.all('trend', [], 'line_id'), 'line_id'),
    beliefs: beliefsOfLines(books),
    pits: new Map(pits.map((row) => [String(row['system_id']), String(row['id'])])),
    means: await jetMeans(stores, settings),
    open: await openVisits(stores, crews, books.lines),
    given: crews.orders.flatMap((row) => givenSurvey(row, dayNumber(today))),
    crews,
    driveMinutes: (await stores.reports.driveMinutes()) ?? DRIVE_MINUTES,
    travelShare: await travelShareOf(stores, today, settings),
    share,
    lines: whole.lines.length,
  };
}

const byId = (rows: readonly Row[], column: string): Map<string, Row> =>
  new Map(rows.map((row) => [String(row[column]), row]));

/** Whole sites up to a number of lines; which ones depends on their ids alone. */
function wholeSites(lines: readonly CopiedLine[]): CopiedLine[] {
  if (lines.length <= LINES_AT_MOST) return [...lines];
  const sites = new Map<string, CopiedLine[]>();
  for (const line of lines) sites.set(line.facts.siteId, [...(sites.get(line.facts.siteId) ?? []), line]);
  const mark = (siteId: string) => createHash('md5').update(siteId).digest('hex');
  const ordered = [...sites].map(([siteId, own]) => ({ mark: mark(siteId), own }));
  ordered.sort((a, b) => (a.mark < b.mark ? -1 : 1));
  const chosen: CopiedLine[] = [];
  for (const { own } of ordered) {
    if (chosen.length + own.length > LINES_AT_MOST) break;
    chosen.push(...own);
  }
  return chosen.sort((a, b) => (a.facts.lineId < b.facts.lineId ? -1 : 1));
}

/** Terms that are otherwise are news to the night. */
function withCareFactor(line: CopiedLine, factor: number): CopiedLine {
  const { careTerms } = line.policy;
  if (factor === 1 || careTerms === null) return line;
  const { intervalDays, visitsPerYear } = careTerms;
  const scaled = {
    ...careTerms,
    intervalDays: intervalDays === null ? null : Math.max(7, Math.round(intervalDays * factor)),
    visitsPerYear: visitsPerYear === null ? null : visitsPerYear / factor,
  };
  return { ...withPolicy(line, { careTerms: scaled }), policyHash: `${line.policyHash} ${factor}` };
}

function beliefsOfLines({ fit, lines, day }: CopiedBooks): Map<string, RateBelief[]> {
  const known = withPriors(
    fit.parameters,
    lines.map(({ facts, state }) => ({ lineId: facts.lineId, state })),
  );
  return new Map(
    lines.map(({ facts, events }) => [
      facts.lineId,
      beliefsOf(known, nightLine(facts, events, day).evidence, dayNumber(day)),
    ]),
  );
}

/** Open orders with the lines they work on, as far as these are among those copied. */
async function openVisits(
  stores: Stores,
  { orders }: Pick<Books, 'orders'>,
  lines: readonly CopiedLine[],
): Promise<WaitingVisit[]> {
  const sites = new Set(lines.map(({ facts }) => facts.siteId));
  const linesOf = new Map<string, Set<string>>();
  for (const task of await stores.night.openTasks()) {
    if (task['line_id'] === null) continue;
    const order = String(task['work_order_id']);
    linesOf.set(order, (linesOf.get(order) ?? new Set()).add(String(task['line_id'])));
  }
  const dayOr = (value: unknown, other: number) => (value === null ? other : dayNumber(String(value)));
  return orders.flatMap((row) => {
    if (!sites.has(String(row['site_id']))) return [];
    return [
      {
        siteId: String(row['site_id']),
        lineIds: [...(linesOf.get(String(row['id'])) ?? [])].sort(),
        minutes: Number(row['minutes']),
        waterL: Number(row['water_l']),
        notBeforeDay: dayOr(row['not_before'], 0),
        wantedDay: dayOr(row['wanted_by'], NEVER_WANTED),
        promised: row['promise'] !== null,
      },
    ];
  });
}

/** Orders without a day may wait for ever. */
const NEVER_WANTED = 99_999;

/** First surveys keep the places in the weeks that nights before gave them. */
function givenSurvey(row: Row, today: number): FirstSurvey[] {
  if (row['cause'] !== 'first_survey' || row['wanted_by'] === null) return [];
  const givenDay = dayNumber(String(row['wanted_by']));
  return givenDay < today - 6 ? [] : [{ id: String(row['id']), yearlyRisk: 0, plugWithinYear: 0, givenDay }];
}
