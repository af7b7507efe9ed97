import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { PreconditionKind } from '../../domain/words.js';
import { type DigPart, digParts } from '../../domain/work/digPlan.js';
import { type EntryPlan, type LadderLine, type NextRung, nextRung } from '../../domain/work/ladder.js';
import { BY_CAMERA } from '../../domain/work/lineStops.js';
import type { TracedRun } from '../../domain/work/tracedRun.js';
import { heldPipes } from '../heldPipes.js';
import type { Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { tell } from '../telling/tell.js';
import { digFacts, tracedRun } from './digFacts.js';
import { ladderLine } from './lineLadder.js';
import { makeLinkedOrder } from './linkedOrder.js';
import { rungPrice } from './priceBasis.js';
import { entriesFor, outOfReach } from './reach.js';
import { refusals } from './refusedWork.js';
import { pitOf, setPump } from './temporaryPumps.js';

export interface ClimbFrom {
  /** The order whose end raises the rung; null: found otherwise. */
  orderId: string | null;
  today: IsoDate;
  /** When it was found, whenever it was told. */
  foundAt: string;
  /** The day of that where the work is; absent: today. */
  foundOn?: IsoDate;
}

/**
 * Raises the next rung of a line's ladder, where it needs one: an order for it, or the whole chain of a dig. What a
 * client refused is not raised again while the decision stands, unless the line was found plugged since: then the
 * order waits for the client to be asked anew.
 *
 * @returns The orders made, first to last.
 */
export async function climb(stores: Stores, lineId: string, from: ClimbFrom): Promise<Row[]> {
  const line = await stores.rows.get('line', lineId);
  if (!line) return [];
  const state = await ladderLine(stores, line);
  const rung = nextRung(state);
  const priceOf = await rungPrice(stores, line, state.plugged?.cause ?? null, from.today);
  const pump = await setPump(stores, line, state.plugged !== null, from, await priceOf('temporary_pump'));
  const made = rung === null ? [] : await raise(stores, line, state, rung, from, priceOf);
  return [...pump, ...made];
}

async function raise(
  stores: Stores,
  line: Row,
  state: LadderLine,
  rung: NextRung,
  from: ClimbFrom,
  priceOf: Awaited<ReturnType<typeof rungPrice>>,
): Promise<Row[]> {
  const { task } = rung;
  if (task === null) {
    await tellEnd(stores, line, state, rung);
    return [];
  }
  const lineId = String(line['id']);
  const against = await refusals(stores, { siteId: line['site_id'], lineId, task }, from.today);
  const foundOn = pluggedOn(state, from);
  if (against.some((decision) => foundOn === null || foundOn <= String(decision['decided_on']))) return [];
  if (task === 'dig_and_replace') return dig(stores, line, rung, from);
  const price = await priceOf(task);
  const entries = await entriesFor(stores, line, task);
  const cleanout =
    entries === null || entries.missingM === 0 ? null : await addCleanout(stores, line, entries, rung, from);
  const made = await makeLinkedOrder(
    stores,
    {
      siteId: String(line['site_id']),
      cause: state.plugged === null ? 'follow_up' : 'plugged',
      becauseOf: [because(rung, line), ...against.map((decision) => askAgain(decision, String(foundOn)))],
      tasks: [
        {
          kind: task,
          lineId,
          pitId: null,
          part: 1,
          plan: task === 'inspect' ? BY_CAMERA : entries === null ? {} : { entries: entries.entries },
        },
      ],
      notBefore: from.today,
      wantedBy: cleanout === null ? from.today : null,
      followsId: cleanout === null ? null : String(cleanout['id']),
      followsAfterDays: 0,
      returnsForId: from.orderId,
      priceBasis: price,
      beyondTerms: price === 'time_and_material',
      waitsFor: against.length > 0 ? ['consent'] : [],
    },
    from.today,
  );
  return [cleanout, made].flatMap((order) => (order === null ? [] : [order]));
}

/** The day on which a line that is plugged now was found so; null: it runs. */
function pluggedOn({ plugged }: LadderLine, { foundOn, today }: ClimbFrom): IsoDate | null {
  if (plugged === null) return null;
  const since = new Date(plugged.sinceMs).toISOString().slice(0, 10);
  const [first] = [since, foundOn ?? today].sort();
  return first ?? null;
}

/** The risk that was told was of a line that ran: a plug is a new fact. */
function askAgain(decision: Row, foundOn: IsoDate): Because {
  const { decided_by: by, decided_on: on, until_day: until, risk_told: riskTold, kind } = decision;
  const what = kind === 'refusal' ? 'refused' : 'postponed';
  const how = until === null ? 'until further word' : `until ${String(until)}`;
  return {
    code: 'plug_after_decision',
    facts: { decidedBy: by, decidedOn: on, until, riskTold, foundOn },
    text:
      `${String(by)} ${what} the work on ${String(on)}, ${how}, told: ${String(riskTold)}. ` +
      `It was found plugged on ${foundOn}, which nobody had told them: ask again before a crew goes.`,
  };
}

/** Nothing is left that a crew can do unasked: the office is told, once for what was tried. */
async function tellEnd(stores: Stores, line: Row, state: LadderLine, rung: NextRung): Promise<void> {
  const lastMs = Math.max(0, ...state.tried.map(({ atMs }) => atMs));
  await tell(stores, {
    type: 'ladder_ends',
    subjectId: String(line['id']),
    once: `${String(line['id'])}:${rung.code}:${lastMs}`,
    facts: {
      lineName: String(line['name']),
      address: String((await stores.rows.get('site', String(line['site_id'])))?.['address']),
      because: rung.text,
    },
    about: { lineId: String(line['id']), siteId: String(line['site_id']) },
  });
}

/** Where no entry reaches, a cleanout comes first. */
async function addCleanout(
  stores: Stores,
  line: Row,
  entries: EntryPlan,
  rung: NextRung,
  from: ClimbFrom,
): Promise<Row | null> {
  return makeLinkedOrder(
    stores,
    {
      siteId: String(line['site_id']),
      cause: 'follow_up',
      becauseOf: [because(rung, line), outOfReach(line['id'], entries)],
      tasks: [
        {
          kind: 'add_cleanout',
          lineId: String(line['id']),
          pitId: null,
          part: 1,
          plan: { atM: entries.cleanoutAtM },
        },
      ],
      notBefore: from.today,
      wantedBy: null,
      followsId: null,
      followsAfterDays: 0,
      returnsForId: from.orderId,
      priceBasis: 'quote',
      waitsFor: [],
    },
    from.today,
  );
}

/** Why work is raised, as an order keeps it. */
export interface Because {
  code: string;
  facts: object;
  text: string;
}

const because = (rung: NextRung, line: Row): Because => ({
  code: rung.code,
  facts: { lineId: line['id'], rung: rung.task },
  text: rung.text,
});

/** The whole dig of what was traced. */
async function dig(stores: Stores, line: Row, rung: NextRung, from: ClimbFrom): Promise<Row[]> {
  const { pitId } = await pitOf(stores, line);
  const run = { pitId, ...(await tracedRun(stores, String(line['id']))) };
  return digLine(stores, line, run, because(rung, line), from);
}

/**
 * A dig at once, its parts linked day by day, restoration after the fill has settled; the first waits for the quote,
 * the others are covered by it.
 */
export async function digLine(
  stores: Stores,
  line: Row,
  run: TracedRun & { pitId: string | null },
  why: Because,
  from: Pick<ClimbFrom, 'orderId' | 'today'>,
): Promise<Row[]> {
  const settings = await ownerSettings(stores);
  const parts = digParts(
    { ...digFacts(line, await heldPipes(stores)), ...run },
    settings.digs.settleDays,
    why.text,
  );
  const made: Row[] = [];
  let previous = from.orderId;
  for (const [i, part] of parts.entries()) {
    const order = await makePart(stores, line, part, why, from, previous, 'quote', i > 0);
    if (order === null) break;
    made.push(order);
    previous = String(order['id']);
  }
  return made;
}

async function makePart(
  stores: Stores,
  line: Row,
  part: DigPart,
  why: Because,
  from: Pick<ClimbFrom, 'today'>,
  followsId: string | null,
  price: string,
  covered = false,
): Promise<Row | null> {
  return makeLinkedOrder(
    stores,
    {
      siteId: String(line['site_id']),
      cause: part.cause,
      becauseOf: [{ ...why, text: part.because }],
      tasks: part.tasks,
      notBefore: null,
      wantedBy: part.afterDays === 0 ? from.today : null,
      followsId,
      followsAfterDays: part.afterDays,
      returnsForId: null,
      priceBasis: price,
      beyondTerms: price === 'time_and_material',
      waitsFor: part.waitsFor as PreconditionKind[],
      covered,
    },
    from.today,
  );
}
