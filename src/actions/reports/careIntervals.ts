import { setImmediate as turn } from 'node:timers/promises';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import type { LineKind } from '../../domain/words.js';
import { CARE_VERDICTS, type CareVerdict, careTermsVerdict } from '../../domain/work/careTermsVerdict.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import { copyBooks, withPolicy } from '../whatIf/copiedBooks.js';
import { dateCopy } from '../whatIf/dateCopy.js';
import type { LinesAsked } from './lineFilter.js';

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
  /** What the night would set if there were no terms; null where nothing speaks against them. */
  proposedDays: number | null;
  proposedRule: DueRule | null;
  /** Of passing the plug limit within a year, if nobody comes. */
  plugChanceYear: number | null;
}

/** Reckoned anew at a stretch; then others get their turn. */
const LINES_A_TURN = 20;

/** Care terms in force, each against what its line needs; those to be changed first. */
export async function careIntervals(
  house: House,
  asked: LinesAsked,
): Promise<{ lines: number; counts: Record<CareVerdict, number>; items: CareInterval[] }> {
  const settings = await ownerSettings(house.stores);
  const rows = await house.stores.reports.careTermLines(asked);
  const items = rows.map((row): CareInterval => {
    const line = {
      termsDays: Number(row['terms_days']),
      intervalDays: row['interval_days'] === null ? null : Number(row['interval_days']),
      dueRule: row['due_rule'] as DueRule | null,
    };
    const verdict = careTermsVerdict(
      { ...line, needlesslyShort: row['needlessly_short'] === true },
      settings,
    );
    return {
      lineId: String(row['line_id']),
      name: String(row['name']),
      kind: row['kind'] as LineKind,
      siteId: String(row['site_id']),
      address: String(row['address']),
      careTermsId: String(row['care_terms_id']),
      ...line,
      priceMinor: row['price_minor'] === null ? null : Number(row['price_minor']),
      verdict,
      dueOn: row['due_on'] === null ? null : String(row['due_on']),
      proposedDays: verdict === 'too_long' ? line.intervalDays : null,
      proposedRule: verdict === 'too_long' ? line.dueRule : null,
      plugChanceYear: row['plug_chance_year'] === null ? null : Number(row['plug_chance_year']),
    };
  });
  const short = items.filter(({ verdict }) => verdict === 'needlessly_short');
  const without = await datesWithoutTerms(
    house,
    asked.today,
    short.map(({ lineId }) => lineId),
  );
  const counts = Object.fromEntries(
    CARE_VERDICTS.map((each) => [each, items.filter(({ verdict }) => verdict === each).length]),
  ) as Record<CareVerdict, number>;
  const told = items.map((item) => ({ ...item, ...without.get(item.lineId) }));
  told.sort((a, b) => CARE_VERDICTS.indexOf(a.verdict) - CARE_VERDICTS.indexOf(b.verdict));
  return { lines: items.length, counts, items: told };
}

/** What the night's own code would set for lines if no care terms held. */
async function datesWithoutTerms(
  house: House,
  today: IsoDate,
  lineIds: readonly string[],
): Promise<Map<string, { proposedDays: number; proposedRule: DueRule }>> {
  const dates = new Map<string, { proposedDays: number; proposedRule: DueRule }>();
  if (lineIds.length === 0) return dates;
  const books = await copyBooks(house, today, await ownerSettings(house.stores), new Set(lineIds));
  if (books === null) return dates;
  for (let at = 0; at < books.lines.length; at += LINES_A_TURN) {
    await turn();
    const lines = books.lines
      .slice(at, at + LINES_A_TURN)
      .map((line) => ({ ...withPolicy(line, { careTerms: null }), old: null }));
    for (const trend of dateCopy(books, lines, today)) {
      if (trend['interval_days'] !== null)
        dates.set(String(trend['line_id']), {
          proposedDays: Number(trend['interval_days']),
          proposedRule: trend['due_rule'] as DueRule,
        });
    }
  }
  return dates;
}
