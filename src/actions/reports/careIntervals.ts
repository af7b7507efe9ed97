import { setImmediate as turn } from 'node:timers/promises';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import type { Basement, LineKind } from '../../domain/words.js';
import { type TermsChange, termsChanges } from '../../domain/work/careTermsChange.js';
import {
  asksSooner,
  CARE_VERDICTS,
  type CareVerdict,
  careTermsVerdict,
  type RuledInterval,
} from '../../domain/work/careTermsVerdict.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { type CopiedLine, copyBooks, withPolicy } from '../whatIf/copiedBooks.js';
import { dateCopy } from '../whatIf/dateCopy.js';
import type { LinesAsked } from './lineFilter.js';

/** A fact nobody wrote down, on whose assumption a date may rest. */
export const ASSUMED_FACTS = ['stays_wet', 'basement'] as const;
export type AssumedFact = (typeof ASSUMED_FACTS)[number];

export interface CareInterval {
  lineId: string;
  name: string;
  kind: LineKind;
  siteId: string;
  address: string;
  careTermsId: string;
  termsDays: number;
  priceMinor: number | null;
  verdict: CareVerdict;
  /** What the service goes by now. */
  intervalDays: number | null;
  dueRule: DueRule | null;
  dueOn: IsoDate | null;
  /** What the terms should say: what the night goes by, or would if there were no terms; null where nothing speaks against them. */
  proposedDays: number | null;
  proposedRule: DueRule | null;
  /** What the date rests on that is only assumed, and what the night would set if it were the other way. */
  assumedFact: AssumedFact | null;
  otherwiseDays: number | null;
  /** A visit's price over a year of visits; of the whole terms, which may hold for more lines. */
  yearNowMinor: number | null;
  yearProposedMinor: number | null;
  /** Of passing the plug limit within a year, if nobody comes. */
  plugChanceYear: number | null;
}

/** Reckoned anew at a stretch; then others get their turn. */
const LINES_A_TURN = 20;
/** So many lines are dated otherwise; of more the rule alone is told (some 5 ms a line). */
const LINES_AT_MOST = 2_000;
const YEAR_DAYS = 365.25;

interface TermsLine extends RuledInterval {
  row: Row;
  lineId: string;
  termsDays: number;
  needlesslyShort: boolean;
}

/** Care terms in force, each against what its line needs; those to be changed first. */
export async function careIntervals(
  house: House,
  asked: LinesAsked,
): Promise<{
  lines: number;
  counts: Record<CareVerdict, number>;
  changes: TermsChange[];
  items: CareInterval[];
}> {
  const settings = await ownerSettings(house.stores);
  const lines = (await house.stores.reports.careTermLines(asked)).map(termsLine);
  const asks = lines.filter((line) => asksSooner(line.termsDays, line, settings));
  const assumed = new Map(
    asks.flatMap((line) => {
      const fact = assumedFactOf(line);
      return fact === null ? [] : [[line.lineId, fact] as const];
    }),
  );
  const otherwise = await datesWith(house, asked.today, settings, [...assumed.keys()], (line) =>
    withFact(line, assumed.get(line.facts.lineId)),
  );
  const short = lines.filter(({ needlesslyShort, dueRule }) => needlesslyShort && dueRule === 'care_terms');
  const without = await datesWith(
    house,
    asked.today,
    settings,
    short.map(({ lineId }) => lineId),
    (line) => withPolicy(line, { careTerms: null }),
  );
  const items = lines.map((line) =>
    judged(
      line,
      assumed.get(line.lineId) ?? null,
      otherwise.get(line.lineId) ?? null,
      without.get(line.lineId) ?? null,
      settings,
    ),
  );
  items.sort((a, b) => CARE_VERDICTS.indexOf(a.verdict) - CARE_VERDICTS.indexOf(b.verdict));
  const counts = Object.fromEntries(
    CARE_VERDICTS.map((each) => [each, items.filter(({ verdict }) => verdict === each).length]),
  ) as Record<CareVerdict, number>;
  return { lines: items.length, counts, changes: termsChanges(items), items };
}

const termsLine = (row: Row): TermsLine => ({
  row,
  lineId: String(row['line_id']),
  termsDays: Number(row['terms_days']),
  intervalDays: row['interval_days'] === null ? null : Number(row['interval_days']),
  dueRule: row['due_rule'] as DueRule | null,
  needlesslyShort: row['needlessly_short'] === true,
});

/** The unknown fact that the rule which set the date goes by an assumption of. */
function assumedFactOf({ row, dueRule }: TermsLine): AssumedFact | null {
  if (dueRule === 'hardening' && row['stays_wet'] === null) return 'stays_wet';
  return dueRule === 'risk' && (row['basement'] as Basement) === 'unknown' ? 'basement' : null;
}

/** The fact as it would ask for visits least often: a line that stays wet, a house in which nothing floods. */
function withFact(line: CopiedLine, fact: AssumedFact | undefined): CopiedLine {
  const { facts } = line;
  return fact === 'basement'
    ? { ...line, facts: { ...facts, basement: 'none' } }
    : { ...line, facts: { ...facts, staysWet: true } };
}

function judged(
  line: TermsLine,
  assumedFact: AssumedFact | null,
  otherwise: RuledInterval | null,
  without: RuledInterval | null,
  settings: OwnerSettings,
): CareInterval {
  const { row, lineId, termsDays, intervalDays, dueRule, needlesslyShort } = line;
  const withoutTermsDays = without?.intervalDays ?? null;
  const verdict = careTermsVerdict(
    { termsDays, intervalDays, dueRule, needlesslyShort, withoutTermsDays, otherwise },
    settings,
  );
  const proposed = verdict === 'needlessly_short' ? without : verdict.startsWith('too_long') ? line : null;
  const priceMinor = row['price_minor'] === null ? null : Number(row['price_minor']);
  const aYear = (days: number | null | undefined) =>
    priceMinor === null || !days ? null : Math.round((priceMinor * YEAR_DAYS) / days);
  return {
    lineId,
    name: String(row['name']),
    kind: row['kind'] as LineKind,
    siteId: String(row['site_id']),
    address: String(row['address']),
    careTermsId: String(row['care_terms_id']),
    termsDays,
    priceMinor,
    verdict,
    intervalDays,
    dueRule,
    dueOn: row['due_on'] === null ? null : String(row['due_on']),
    proposedDays: proposed?.intervalDays ?? null,
    proposedRule: proposed?.dueRule ?? null,
    assumedFact,
    otherwiseDays: otherwise?.intervalDays ?? null,
    yearNowMinor: aYear(termsDays),
    yearProposedMinor: aYear(proposed?.intervalDays),
    plugChanceYear: row['plug_chance_year'] === null ? null : Number(row['plug_chance_year']),
  };
}

/** What the night's own code would set for lines that are otherwise than on the books. */
async function datesWith(
  house: House,
  today: IsoDate,
  settings: OwnerSettings,
  lineIds: readonly string[],
  change: (line: CopiedLine) => CopiedLine,
): Promise<Map<string, RuledInterval>> {
  const dates = new Map<string, RuledInterval>();
  if (lineIds.length === 0) return dates;
  const books = await copyBooks(house, today, settings, new Set(lineIds.slice(0, LINES_AT_MOST)));
  if (books === null) return dates;
  for (let at = 0; at < books.lines.length; at += LINES_A_TURN) {
    await turn();
    const lines = books.lines.slice(at, at + LINES_A_TURN).map((line) => ({ ...change(line), old: null }));
    for (const trend of dateCopy(books, lines, today)) {
      if (trend['interval_days'] !== null)
        dates.set(String(trend['line_id']), {
          intervalDays: Number(trend['interval_days']),
          dueRule: trend['due_rule'] as DueRule,
        });
    }
  }
  return dates;
}
