import { setImmediate as turn } from 'node:timers/promises';
import { addDays, dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';
import { ochreAt } from '../../domain/fouling/policy.js';
import type { SmoothPipeVisits } from '../../domain/work/proposalIdeas.js';
import { nightLine } from '../night/lineEvidence.js';
import type { NightEvent } from '../night/nightEvents.js';
import { ownerSettings } from '../ownerSettings.js';
import { type CopiedBooks, type CopiedLine, copyBooks, type NightHouse } from '../whatIf/copiedBooks.js';
import { dateCopy } from '../whatIf/dateCopy.js';

/** A line that a smooth pipe may replace, with all lines of its system, itself among them. */
export interface PipeToReplace {
  lineId: string;
  systemLineIds: readonly string[];
  /** The system has a pit, whose pump is tested whatever its lines need. */
  hasPit: boolean;
}

/** Dated at a stretch; then others get their turn. */
const LINES_A_TURN = 20;
const DAY_MS = 86_400_000;
/** Rules that hold once and pass: what they bring the crew for is no yearly saving. */
const PASSING: ReadonlySet<DueRule> = new Set(['after_plug', 'recheck']);

type Dated = SmoothPipeVisits['asIs'];

/**
 * How often each system is visited as it is, and with a new smooth pipe in place of the line: every line dated by the
 * night's own code on copied books as if all were cleaned today, so that nothing that is late or postponed counts as
 * a saving. The new pipe is one of which nothing is read yet; hardening, first intervals, terms and the pump's test hold.
 * A line whose interval is short for a reason that passes has no answer.
 */
export async function smoothPipeVisits(
  house: NightHouse,
  today: IsoDate,
  pipes: readonly PipeToReplace[],
): Promise<Map<string, SmoothPipeVisits>> {
  const answers = new Map<string, SmoothPipeVisits>();
  if (pipes.length === 0) return answers;
  const settings = await ownerSettings(house.stores);
  const wanted = new Set(pipes.flatMap(({ systemLineIds }) => systemLineIds));
  const whole = await copyBooks(house, today, settings, wanted);
  if (whole === null) return answers;
  const books = { ...whole, seasons: withoutSeasons(whole.seasons) };
  const yesterday = addDays(today, -1);
  const cleaned = new Map(
    books.lines.map((line) => [line.facts.lineId, cleanedOn(line, yesterday)] as const),
  );
  const now = await dated(books, [...cleaned.values()], today);
  const replaced = pipes
    .flatMap(({ lineId }) => cleaned.get(lineId) ?? [])
    .map((line) => newPipe(line, yesterday));
  const then = await dated(books, replaced, today);
  for (const { lineId, systemLineIds, hasPit } of pipes) {
    const own = systemLineIds.flatMap((id) => now.get(id) ?? []);
    const others = systemLineIds.filter((id) => id !== lineId).flatMap((id) => now.get(id) ?? []);
    const [line, after] = [now.get(lineId), then.get(lineId)];
    if (!line || !after || own.some(({ rule }) => PASSING.has(rule as DueRule))) continue;
    const test = hasPit ? [pitTest(systemLineIds, cleaned, books)] : [];
    answers.set(lineId, { asIs: soonest([...own, ...test]), withIt: soonest([after, ...others, ...test]) });
  }
  return answers;
}

const soonest = (all: readonly Dated[]): Dated =>
  all.reduce((first, each) => (each.intervalDays < first.intervalDays ? each : first));

const withoutSeasons = (seasons: CopiedBooks['seasons']): CopiedBooks['seasons'] =>
  Object.fromEntries(Object.keys(seasons).map((kind) => [kind, []])) as unknown as CopiedBooks['seasons'];

/** The line as if cleaned at noon of a day, with no decision on it. */
function cleanedOn(line: CopiedLine, day: IsoDate): CopiedLine {
  const clean = cleanOn(day, null);
  const last = line.events.at(-1);
  return {
    ...line,
    state: { ...line.state, digest: `${line.state.digest}+` },
    policy: { ...line.policy, decisions: [] },
    old: null,
    events: [
      ...line.events,
      last === undefined || last.atMs < clean.atMs ? clean : { ...clean, atMs: last.atMs + 1, day: last.day },
    ],
  };
}

const cleanOn = (day: IsoDate, deposit: NightEvent['deposit']): NightEvent => ({
  id: '00000000-0000-7000-8000-000000000001',
  kind: 'clean',
  atMs: (dayNumber(day) + 0.5) * DAY_MS,
  day: dayNumber(day) + 0.5,
  confirmed: false,
  called: false,
  occlusion: null,
  standardError: null,
  bound: null,
  method: null,
  phase: null,
  plugCause: null,
  deposit,
  changeCause: null,
});

/** The same run in new PVC: nothing read of it, its iron and the ochre that came out of the old pipe as before. */
function newPipe(line: CopiedLine, day: IsoDate): CopiedLine {
  const isOchre = ({ deposit }: CopiedLine['events'][number]) => deposit === 'gel' || deposit === 'crust';
  const seen = line.events.find(isOchre) ?? line.events.findLast(({ deposit }) => deposit !== null);
  return {
    ...line,
    facts: { ...line.facts, material: 'pvc', epochId: null, epochStartedOn: day, epochBegins: 'clean' },
    // Without numbers of its own a line goes by its traits.
    state: { ...line.state, digest: 'smooth', numbers: new Float64Array() },
    events: [cleanOn(day, seen?.deposit ?? null)],
  };
}

/** The pump's own test; where ochre is known at any line of the system it comes sooner. */
function pitTest(ids: readonly string[], lines: ReadonlyMap<string, CopiedLine>, books: CopiedBooks): Dated {
  const known = ids.some((id) => {
    const line = lines.get(id);
    if (line === undefined) return false;
    const { deposits } = nightLine(line.facts, line.events, books.day);
    return ochreAt(line.policy.ironMgL, deposits, books.settings) === 'known';
  });
  const { testDays, testDaysKnownOchre } = books.settings.pits;
  return { intervalDays: known ? testDaysKnownOchre : testDays, rule: 'pit_test' };
}

async function dated(
  books: CopiedBooks,
  lines: readonly CopiedLine[],
  today: IsoDate,
): Promise<Map<string, Dated>> {
  const dates = new Map<string, Dated>();
  for (let at = 0; at < lines.length; at += LINES_A_TURN) {
    await turn();
    for (const trend of dateCopy(books, lines.slice(at, at + LINES_A_TURN), today)) {
      if (trend['interval_days'] !== null)
        dates.set(String(trend['line_id']), {
          intervalDays: Math.max(1, Number(trend['interval_days'])),
          rule: trend['due_rule'] as DueRule,
        });
    }
  }
  return dates;
}
