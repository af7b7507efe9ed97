import { v7 as newId } from 'uuid';
import { addDays } from '../../domain/calendar/isoDate.js';
import type { Basement, CallKind } from '../../domain/words.js';
import { type CallAnswers, type Triage, triage } from '../../domain/work/callTriage.js';
import { phoneEnd } from '../../domain/work/clientDoubles.js';
import { type TakenBy, whoTakes } from '../../domain/work/onCall.js';
import type { House, Stores } from '../house.js';
import { liesAhead } from '../notAhead.js';
import { ownerSettings } from '../ownerSettings.js';
import { overtimeSecondsOf } from '../plans/crewDays.js';
import { crewsOut } from '../plans/crewsOut.js';
import type { Said } from '../plans/planTools.js';
import type { Actor, Row } from '../ports.js';
import { ruleBroken } from '../problems.js';
import { assumeDrainage } from './assumeDrainage.js';
import { orderOfCall } from './callOrder.js';
import { openShiftBooks, type WorkedShift, workedShifts } from './crewShifts.js';
import { turnOf, turnsOf } from './onCallRota.js';

export interface NewPlace {
  address: string;
  town: string;
  postalCode: string | null;
  latitude: number | null;
  longitude: number | null;
  basement: Basement;
  accessNotes: string | null;
}

export interface CallAsk {
  kind: CallKind;
  receivedAt: string;
  what: string | null;
  caller: { name: string | null; phone: string | null };
  /** A house that is on record, or one that is not. */
  place: { siteId: string } | { clientId: string | null; site: NewPlace };
  answers: CallAnswers;
}

/** Who goes, in words a dispatcher can act on. */
export interface Taker {
  kind: TakenBy['kind'];
  outOfHours: boolean;
  crews: { id: string; name: string; from: string; to: string }[];
  people: { id: string; name: string; phone: string | null; until: string | null }[];
  text: string;
}

export interface TakenCall {
  call: Row;
  site: Row;
  orderId: string;
  /** The call was added to work that was open for the house already. */
  isAdded: boolean;
  triage: Triage;
  takenBy: Taker;
  warnings: Said[];
}

/**
 * A call becomes an order with a time by which somebody must be there, whatever is known of the house: a new client
 * and site come with their names alone, and lines nobody knows are assumed.
 *
 * @throws {Refused} `unknown-reference`, `rule-broken`.
 */
export async function takeCall(
  house: House,
  stores: Stores,
  actor: Pick<Actor, 'name'>,
  id: string,
  ask: CallAsk,
): Promise<TakenCall> {
  const settings = await ownerSettings(stores);
  const today = house.zone.dayOf(house.clock.now());
  if (liesAhead(house, ask.receivedAt))
    throw ruleBroken('call', '#/receivedAt', 'lies in the future', 'an instant up to now; absent: now');
  if (house.clock.now().getTime() - Date.parse(ask.receivedAt) > MOST_AGE_MS)
    throw ruleBroken(
      'call',
      '#/receivedAt',
      'lies more than a day back',
      'a call of the last 24 hours; older ones are asked for as work orders',
    );
  const warnings: Said[] = [];
  const { site, clientId } = await placeOf(stores, ask, today, warnings);
  const siteId = String(site['id']);
  const lines = await stores.rows.count('line', [
    { column: 'site_id', is: '=', value: siteId },
    { column: 'archived_on', is: 'null' },
  ]);
  if (lines === 0) await assumeDrainage(stores, siteId, today);
  const judged = triage(ask.kind, ask.answers, site['basement'] as Basement, settings.calls);
  const respondBy = new Date(Date.parse(ask.receivedAt) + judged.respondWithinMinutes * 60_000).toISOString();
  const { taken, outOfHours, shifts, turns, away } = await takers(house, stores, respondBy, judged);
  const people = Math.max(
    1,
    judged.flooded ? settings.people.floodedBasement : 1,
    outOfHours && taken.kind !== 'routes' ? settings.people.night : 1,
  );
  const order = await orderOfCall(house, stores, actor, newId(), {
    siteId,
    judged,
    respondBy,
    people,
    kit: judged.flooded && (await hasPump(stores)) ? ['pump'] : null,
    because: ask.what ?? `call: ${ask.kind.replaceAll('_', ' ')}`,
    note: noteOf({ ...ask, judged }),
  });
  const { orderId } = order;
  warnings.push(...order.warnings);
  if (judged.unsafe) await waitForSafe(stores, orderId);
  const call = await stores.rows.insert('phone_call', {
    id,
    kind: ask.kind,
    received_at: ask.receivedAt,
    taken_by: actor.name,
    caller_name: ask.caller.name,
    caller_phone: ask.caller.phone,
    client_id: clientId,
    site_id: siteId,
    work_order_id: orderId,
    what: ask.what,
    answers: ask.answers,
    urgency: judged.urgency,
    respond_by: respondBy,
  });
  const takenBy = await takerOf(house, stores, taken, outOfHours, shifts, turns, away);
  if (judged.unsafe)
    warnings.push({
      code: 'made_safe_first',
      facts: { precondition: 'made_safe' },
      text: 'Gas: nobody of ours goes in, and no place is offered, before the gas company or the fire department has said that the house is safe and made_safe is met.',
    });
  if (taken.kind === 'on_call' && taken.memberIds.length < people)
    warnings.push({
      code: 'too_few_on_call',
      facts: { onCall: taken.memberIds.length, people },
      text: `${people} must go (setting people); ${taken.memberIds.length} on call. Phone a second person before anybody leaves.`,
    });
  if (site['latitude'] === null)
    warnings.push({
      code: 'site_off_map',
      facts: { siteId },
      text: 'The site is not on the map: routes take it to be in the middle of its area until somebody puts it there.',
    });
  return { call, site, orderId, isAdded: order.isAdded, triage: judged, takenBy, warnings };
}

const MOST_AGE_MS = 24 * 3_600_000;

/** The house: on record, or made from what the caller said, with the caller as its client and contact. */
async function placeOf(
  stores: Stores,
  ask: CallAsk,
  today: string,
  warnings: Said[],
): Promise<{ site: Row; clientId: string | null }> {
  if ('siteId' in ask.place) {
    const site = await stores.rows.get('site', ask.place.siteId);
    if (!site || site['archived_on'] !== null)
      throw ruleBroken(
        'call',
        '#/siteId',
        'is no site on record',
        'a site found by GET /v1/search, or newSite',
      );
    const [owner] = await stores.rows.all('site_client', [
      { column: 'site_id', is: '=', value: ask.place.siteId },
      { column: 'to_day', is: 'null' },
    ]);
    return { site, clientId: owner ? String(owner['client_id']) : null };
  }
  const { site: said } = ask.place;
  const clientId = ask.place.clientId ?? (await newClient(stores, ask, warnings));
  if (ask.place.clientId !== null) await mustBeClient(stores, ask.place.clientId);
  const site = await stores.rows.insert('site', {
    id: newId(),
    address: said.address,
    town: said.town,
    area: said.town,
    postal_code: said.postalCode,
    latitude: said.latitude,
    longitude: said.longitude,
    basement: said.basement,
    access_notes: said.accessNotes,
  });
  await stores.rows.insert('site_client', {
    id: newId(),
    site_id: site['id'],
    client_id: clientId,
    from_day: today,
  });
  if (ask.caller.name !== null)
    await stores.rows.insert('contact', {
      id: newId(),
      site_id: site['id'],
      client_id: clientId,
      name: ask.caller.name,
      role: 'occupant',
      phone: ask.caller.phone,
    });
  return { site, clientId };
}

async function mustBeClient(stores: Stores, clientId: string): Promise<void> {
  const row = await stores.rows.get('client', clientId);
  if (!row)
    throw ruleBroken(
      'call',
      '#/clientId',
      `there is no client ${clientId}`,
      'a client, or none for a new one',
    );
  if (row['merged_into_id'] !== null)
    throw ruleBroken(
      'call',
      '#/clientId',
      `was merged into client ${String(row['merged_into_id'])}`,
      String(row['merged_into_id']),
    );
}

async function newClient(stores: Stores, { caller }: CallAsk, warnings: Said[]): Promise<string> {
  if (caller.name === null)
    throw ruleBroken('call', '#/caller/name', 'is missing', 'the name of the new client, or clientId');
  const digits = phoneEnd(caller.phone ?? '');
  if (digits.length >= 7) {
    const known = await stores.search.find({ words: [], digits, number: null, near: null, limit: 3 });
    for (const row of known.filter(({ type }) => type === 'client' || type === 'contact'))
      warnings.push({
        code: 'caller_known',
        facts: { type: row['type'], id: row['id'] },
        text: `${String(row['title'])} has this phone number: perhaps the caller is known (merge: POST /v1/clients/{id}/merger).`,
      });
  }
  const row = await stores.rows.insert('client', { id: newId(), name: caller.name, phone: caller.phone });
  return String(row['id']);
}

/** Nobody goes in before somebody qualified says so, whatever the first call said. */
async function waitForSafe(stores: Stores, orderId: string): Promise<void> {
  const waits = await stores.rows.count('precondition', [
    { column: 'work_order_id', is: '=', value: orderId },
    { column: 'kind', is: '=', value: 'made_safe' },
    { column: 'state', is: '=', value: 'open' },
  ]);
  if (waits === 0)
    await stores.rows.insert('precondition', {
      id: newId(),
      work_order_id: orderId,
      kind: 'made_safe',
      facts: { because: 'smell of gas' },
    });
}

/** The firm has a pump that a crew can take along. */
const hasPump = async (stores: Stores): Promise<boolean> =>
  (await stores.rows.count('kit_item', [
    { column: 'kind', is: '=', value: 'pump' },
    { column: 'archived_on', is: 'null' },
  ])) > 0;

/** What the crew reads: who called, and a second pump to take along where water stands. */
function noteOf({ caller, judged }: CallAsk & { judged: Triage }): string | null {
  const by = [caller.name, caller.phone].filter(Boolean).join(', ');
  const pump = judged.flooded ? 'Take a second pump along where one is at hand.' : '';
  return [by && `Called by ${by}.`, pump].filter(Boolean).join(' ') || null;
}

/** How far ahead turns and shifts are looked at for a call. */
const LOOK_AHEAD_MS = 7 * 86_400_000;

async function takers(house: House, stores: Stores, respondBy: string, judged: Triage) {
  const now = house.clock.now().getTime();
  const today = house.zone.dayOf(house.clock.now());
  const books = await openShiftBooks(stores, today);
  const out = await crewsOut(house, stores, books);
  const midnight = house.zone.instantOf(today, 0).getTime();
  // Who is still on the road after the shift can be sent on, within what a plan may keep it.
  const shifts = workedShifts(house, books, addDays(today, -1), addDays(today, 7)).map((shift) => {
    const until = shift.day === today ? out.get(shift.crewId) : undefined;
    return until === undefined
      ? shift
      : { ...shift, to: midnight + (until + overtimeSecondsOf(books)) * 1000 };
  });
  const turns = await turnsOf(stores, { from: now, to: now + LOOK_AHEAD_MS });
  const away = books.callOuts
    .filter((row) => row['back_at'] === null || Date.parse(String(row['back_at'])) > now)
    .map((row) => String(row['member_id']));
  const taken = whoTakes({
    now,
    respondBy: Date.parse(respondBy),
    urgency: judged.urgency,
    shifts,
    turns: turns.map(turnOf),
    out: new Set(away),
  });
  const outOfHours = !shifts.some(({ from, to }) => from <= now && to > now);
  return { taken, outOfHours, shifts, turns, away };
}

async function takerOf(
  house: House,
  stores: Stores,
  taken: TakenBy,
  outOfHours: boolean,
  shifts: readonly WorkedShift[],
  turns: readonly Row[],
  away: readonly string[],
): Promise<Taker> {
  const now = house.clock.now().getTime();
  const crewsOf = (ids: readonly string[], at: number) =>
    shifts
      .filter(({ crewId, from, to }) => ids.includes(crewId) && from <= at && to > at)
      .map(({ crew, from, to }) => ({
        id: String(crew['id']),
        name: String(crew['name']),
        from: new Date(from).toISOString(),
        to: new Date(to).toISOString(),
      }));
  const taker = (text: string, more: Partial<Taker> = {}): Taker => ({
    kind: taken.kind,
    outOfHours,
    crews: [],
    people: [],
    text,
    ...more,
  });
  switch (taken.kind) {
    case 'routes':
      return taker(
        'Goes into the routes of the coming days. Tell the caller a day: GET …/days of the order.',
      );
    case 'crew_on_shift': {
      const crews = crewsOf(taken.crewIds, now);
      return taker(
        `At work now: ${crews.map(({ name }) => name).join(', ')}. Choose a place (GET …/places of the order), put it there, and phone the crew.`,
        { crews },
      );
    }
    case 'next_shift': {
      const crews = crewsOf(taken.crewIds, taken.from);
      return taker(`The next shift comes in time: ${crews.map(({ name }) => name).join(', ')}.`, { crews });
    }
    case 'on_call': {
      const people = await peopleOf(stores, taken.memberIds, turns, now);
      return taker(
        `Phone ${people.map(({ name, phone }) => `${name} (${phone ?? 'no phone on record'})`).join(', then ')}: on call. Place the order with them (GET …/places offers the crew on call first, with when it is there and what its next shift becomes), record the call-out, and when they are back: they rest before their next shift.`,
        { people },
      );
    }
    case 'nobody': {
      const outYet = turns
        .filter((row) => turnOf(row).from <= now && away.includes(String(row['member_id'])))
        .map((row) => String(row['member_id']));
      if (outYet.length > 0) {
        const people = await peopleOf(stores, [...new Set(outYet)], turns, now);
        return taker(
          `On call, and out already: ${people.map(({ name, phone }) => `${name} (${phone ?? 'no phone on record'})`).join(', ')}. GET …/places of the order says when they could be there; if that is too late, phone the owner.`,
          { people },
        );
      }
      const next =
        taken.next === null ? [] : await peopleOf(stores, [taken.next.memberId], turns, taken.next.from);
      const [person] = next;
      return taker(
        person
          ? `Nobody is on call now. Next is ${person.name}, from ${new Date(taken.next?.from ?? 0).toISOString()}. Phone the owner.`
          : 'Nobody is on call now or in the coming week. Phone the owner.',
        { people: next },
      );
    }
    default:
      return taken satisfies never;
  }
}

async function peopleOf(stores: Stores, ids: readonly string[], turns: readonly Row[], at: number) {
  const members = await stores.rows.all('member', [{ column: 'id', is: 'in', value: ids }]);
  return ids.map((id) => {
    const member = members.find((row) => row['id'] === id);
    const turn = turns.find(
      (row) => row['member_id'] === id && turnOf(row).from <= at && turnOf(row).to > at,
    );
    return {
      id,
      name: String(member?.['name'] ?? ''),
      phone: member?.['phone'] == null ? null : String(member['phone']),
      until: turn ? new Date(String(turn['to_at'])).toISOString() : null,
    };
  });
}
