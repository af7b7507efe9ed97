import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import { cheapestPlaceOfEach } from '../../domain/routing/cheapestPlaces.js';
import type { PreconditionKind } from '../../domain/words.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Said, TravelTable } from '../plans/planTools.js';
import { askQuestion, liveStart, withTravel } from '../plans/problem.js';
import { placeFacts } from '../plans/propose.js';
import type { Row } from '../ports.js';

/** Work no crew drives to, and why. */
export interface UnplacedWork {
  workOrderId: string;
  number: number;
  siteId: string;
  address: string;
  town: string;
  cause: string;
  notBefore: IsoDate | null;
  wantedBy: IsoDate | null;
  respondBy: string | null;
  promisedDay: IsoDate | null;
  minutes: number;
  people: number;
  kit: string[];
  because: Said[];
  waitsFor: {
    id: string;
    kind: PreconditionKind;
    since: string;
    nextStep: string;
    facts: Record<string, unknown>;
  }[];
  /** Where it could go among what crews drive now; of waiting work as if nothing kept it. Null: nowhere. */
  cheapestPlace: CheapestPlace | null;
}

export interface CheapestPlace {
  crewId: string;
  crewName: string;
  day: IsoDate;
  afterWorkOrderId: string | null;
  startsAt: string;
  displaces: readonly string[];
  extraCostMinor: number;
}

/** Days looked ahead for a place. */
const DAYS_AHEAD = 7;

/** What somebody does next about each thing work waits for. Common practice, no source. */
const NEXT_STEP: Record<PreconditionKind, string> = {
  locate_ticket: 'call the one-call centre, and record the ticket and its answers',
  consent: 'phone the client for a yes or no',
  quote_accepted: 'send the quote, and record who accepted it',
  discharge_plan: 'say where the water goes',
  someone_home: 'phone to agree a day when somebody is home',
  parts: 'order the parts, and say when they are there',
  builder_notice: 'give the builder notice before anything is opened',
  made_safe: 'hear from someone qualified that the place is safe',
};

/**
 * Work without a place, most urgent first: what it waits for and what to do about it, what it gave way to, or what
 * the last plan said against it; and where it could go now.
 */
export async function unplacedWork(
  house: House,
  stores: Stores,
  travel: TravelTable,
): Promise<UnplacedWork[]> {
  const plan = await stores.desk.lastPlan();
  const gaveWay = new Map(
    (await stores.desk.gaveWay(plan?.['accepted_at'] ?? null)).map((row) => {
      const unplaced = row['unplaced'] as Row;
      return [String(unplaced['workOrderId']), unplaced] as const;
    }),
  );
  const reasons = new Map(
    ((plan?.['unplaced'] ?? []) as Row[]).map((row) => [String(row['workOrderId']), row]),
  );
  const today = house.zone.dayOf(house.clock.now());
  const unplaced = await stores.desk.unplaced();
  const places = await placesOf(
    house,
    stores,
    travel,
    unplaced.map((row) => String(row['id'])),
  );
  return unplaced.map((row): UnplacedWork => {
    const waits = row['waits'] as { id: string; kind: PreconditionKind; since: string; facts: Row }[];
    const planned = gaveWay.get(String(row['id'])) ?? reasons.get(String(row['id']));
    const day = (column: string) => (row[column] === null ? null : String(row[column]));
    return {
      workOrderId: String(row['id']),
      number: Number(row['number']),
      siteId: String(row['site_id']),
      address: String(row['address']),
      town: String(row['town']),
      cause: String(row['cause']),
      notBefore: day('not_before'),
      wantedBy: day('wanted_by'),
      respondBy: day('respond_by'),
      promisedDay: day('promised_day'),
      minutes: Number(row['minutes']),
      people: Number(row['people']),
      kit: row['kit'] as string[],
      because: whyUnplaced(row, waits, planned, plan, today),
      waitsFor: waits.map(({ id, kind, since, facts }) => ({
        id,
        kind,
        since: new Date(since).toISOString(),
        nextStep: NEXT_STEP[kind],
        facts,
      })),
      cheapestPlace: places.get(String(row['id'])) ?? null,
    };
  });
}

/** The cheapest place of each among what crews drive from today on. */
async function placesOf(
  house: House,
  stores: Stores,
  travel: TravelTable,
  ids: readonly string[],
): Promise<ReadonlyMap<string, CheapestPlace>> {
  if (ids.length === 0) return new Map();
  const fromDay = house.zone.dayOf(house.clock.now());
  const question = await askQuestion(house, stores, await ownerSettings(stores), {
    fromDay,
    toDay: addDays(fromDay, DAYS_AHEAD - 1),
    alsoWaiting: true,
  });
  if (question.problem.crewDays.length === 0) return new Map();
  const { problem } = await withTravel(question, { travel });
  const found = cheapestPlaceOfEach(problem, liveStart(question), ids);
  return new Map(
    [...found].flatMap(([id, place]) => {
      if (!place) return [];
      const facts = placeFacts(house, question, place);
      const crew = question.books.crews.find((row) => row['id'] === facts.crewId);
      return [[id, { ...facts, crewName: String(crew?.['name']) }]];
    }),
  );
}

function whyUnplaced(
  row: Row,
  waits: readonly { kind: PreconditionKind }[],
  planned: Row | undefined,
  plan: Row | null,
  today: IsoDate,
): Said[] {
  const because: Said[] = [];
  const say = (code: string, text: string, facts: Row = {}) => because.push({ code, facts, text });
  if (waits.length > 0) {
    const kinds = waits.map(({ kind }) => kind);
    say('waits_for_precondition', `waits for ${kinds.map((kind) => kind.replaceAll('_', ' ')).join(', ')}`, {
      kinds,
    });
  }
  const before = row['follows'] as { number: number; state: string } | null;
  if (before)
    say('follows', `follows order ${before.number}, which is ${before.state.replaceAll('_', ' ')}`, before);
  const isHeld = because.length > 0;
  if (row['off_map'] === true)
    say(
      'site_off_map',
      'its site is not on the map: planned as if amid its area until somebody puts it there',
    );
  if (isHeld) return because;
  const notBefore = row['not_before'] === null ? null : String(row['not_before']);
  if (notBefore !== null && notBefore > (plan ? String(plan['to_day']) : today)) {
    say('not_before', `not before ${notBefore}, after the days planned`, { notBefore });
    return because;
  }
  if (planned) say(String(planned['code']), String(planned['text']), planned['facts'] as Row);
  else if (plan === null) say('no_plan', 'nothing has been planned yet: ask for a plan');
  else
    say('not_planned_yet', 'not looked at since the last plan: ask for a plan, or place it by hand', {
      planId: plan['id'],
      acceptedAt: plan['accepted_at'],
    });
  return because;
}
