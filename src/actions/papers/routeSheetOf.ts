import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { TaskKind } from '../../domain/words.js';
import { handDigDistance } from '../../domain/work/cautions.js';
import type { UtilityOnTicket } from '../../domain/work/locateTicket.js';
import { onBoardText } from '../../papers/onBoardText.js';
import { clockText, quantityText } from '../../papers/printed.js';
import type { RouteSheetData, SheetStop, SheetTicket, SheetVisit } from '../../papers/routeSheetData.js';
import { numbered } from '../../papers/routesDay.js';
import { dayCautions, type StopCautions } from '../../papers/sheetCautions.js';
import type { SystemSketch } from '../../papers/systemSketchData.js';
import { stopHindrances } from '../desk/hinderedVisits.js';
import type { AskedQuestion } from '../desk/questions.js';
import { suppliesOf, wasTried } from '../desk/supplies.js';
import type { House, Stores } from '../house.js';
import { secondsOf } from '../plans/books.js';
import { mappedRoute } from '../plans/dayPicture.js';
import type { Row } from '../ports.js';
import { systemSketchOf } from '../systemSketchOf.js';
import { cautionBasis } from '../workLife/orderCautions.js';
import { letterhead } from './letterhead.js';
import { inSentences, type KeptReason, reasonTexts } from './reasonTexts.js';
import { taskPlan, taskTarget } from './sheetTask.js';

const spaced = (code: unknown): string => String(code).replaceAll('_', ' ');

/** A stored route as its sheet prints it. */
export async function routeSheetOf(house: House, route: Row, units: UnitSystem): Promise<RouteSheetData> {
  const day = String(route['day']);
  const { stops: drawn, ...drive } = mappedRoute(house, route, await house.stores.rows.all('depot', []));
  const sketches = await sketchesOf(house.stores, route['stops'] as Row[], units);
  const rows = numbered(drawn).map(({ stop, number }, i) => ({
    stop,
    number,
    row: (route['stops'] as Row[])[i] as Row,
  }));
  const visits = rows.flatMap(({ number, row }) =>
    row['work_order_id'] === null || number === null || wasTried(row)
      ? []
      : [{ number, row, ...cautionBasis(row) }],
  );
  const cautions = dayCautions(visits);
  const supplies = suppliesOf(route, units);
  const isUnchecked = supplies.warnings.some(({ code }) => code === 'tank_not_recorded');
  const stops = rows.map(({ stop, row }): SheetStop => {
    const at = visits.findIndex((visit) => visit.row === row);
    const own = cautions.ofVisits[at];
    return {
      ...stop,
      visit: own ? visitOf(house, route, row, units, sketches, own, isUnchecked) : null,
      note: wasTried(row) ? triedNote(house, row, units) : tankNote(row),
    };
  });
  return {
    ...(await letterhead(house.stores)),
    day,
    onCall: route['on_call'] === true,
    units,
    members: await membersOf(house, String(route['crew_id']), day),
    kit: supplies.onBoard.map((thing) => onBoardText(thing, units)),
    warnings: supplies.warnings.map(({ text }) => sentence(text)),
    cautions: cautions.ofDay,
    route: { ...drive, stops },
  };
}

/** Of a visit that stays on the sheet because the crew was there. */
function triedNote({ zone }: House, { number, attempt }: Row, units: UnitSystem): string {
  const { startedAt, endedAt, reason } = attempt as Record<string, string | null>;
  const why = reason ? `: ${spaced(reason)}` : '';
  const end = endedAt === null ? '' : `, not done${why}`;
  return `order ${String(number)} was begun at ${clockText(secondsOf(zone.timeOf(new Date(String(startedAt)))), units)}${end}; nobody drives there again`;
}

/** A depot that fills tanks and takes sludge does both in one stop. */
const tankNote = ({ kind, depot_water: water, depot_disposal: disposal }: Row): string | null => {
  if (kind === 'refill' && disposal === true) return 'empty the sludge there too';
  return kind === 'disposal' && water === true ? 'fill the tank there too' : null;
};

async function membersOf(house: House, crewId: string, day: IsoDate): Promise<string[]> {
  const { rows } = house.stores;
  const memberships = await inForce(house, 'crew_membership', crewId, day);
  const members = await rows.all(
    'member',
    [{ column: 'id', is: 'in', value: memberships.map((row) => row['member_id']) }],
    'name',
  );
  return members.map(({ name }) => String(name));
}

async function inForce(house: House, table: string, crewId: string, day: IsoDate): Promise<Row[]> {
  const rows = await house.stores.rows.all(table, [
    { column: 'crew_id', is: '=', value: crewId },
    { column: 'from_day', is: '<=', value: day },
  ]);
  return rows.filter((row) => row['to_day'] === null || String(row['to_day']) > day);
}

/** Sketches of the systems that the day's tasks are on, by line and pit. */
async function sketchesOf(
  stores: Stores,
  stops: readonly Row[],
  units: UnitSystem,
): Promise<ReadonlyMap<unknown, SystemSketch>> {
  const tasks = stops.flatMap((stop) => (stop['tasks'] ?? []) as Row[]);
  const named = (column: string) => [...new Set(tasks.map((task) => task[column]))].filter(isThere);
  const of = (table: string, ids: unknown[]) =>
    stores.rows.all(table, [{ column: 'id', is: 'in', value: ids }]);
  const things = [...(await of('line', named('lineId'))), ...(await of('pit', named('pitId')))];
  const systems = await of('system', [...new Set(things.map((row) => row['system_id']))].filter(isThere));
  const drawn = new Map<unknown, SystemSketch>();
  for (const system of systems) drawn.set(system['id'], await systemSketchOf(stores, system, units));
  return new Map(
    things.flatMap((row) => {
      const sketch = drawn.get(row['system_id']);
      return sketch && hasMoreThanItsName(sketch) ? [[row['id'], sketch] as const] : [];
    }),
  );
}

/** One line and no way in: a drawing says no more than the task does. */
const hasMoreThanItsName = ({ lines, pit }: SystemSketch): boolean =>
  lines.length > 1 || [...lines, ...(pit === null ? [] : [pit])].some(({ points }) => points.length > 0);

const isThere = (value: unknown): boolean => value !== null && value !== undefined;

/** Older notes are in the app. */
const MOST_NOTES = 4;

function visitOf(
  house: House,
  route: Row,
  stop: Row,
  units: UnitSystem,
  sketches: ReadonlyMap<unknown, SystemSketch>,
  cautions: StopCautions,
  isTankUnknown: boolean,
): SheetVisit {
  const tasks = stop['tasks'] as Row[];
  const because = (stop['because_of'] ?? []) as KeptReason[];
  const lineNames = new Map(
    tasks.flatMap(({ lineId, line }) => (line ? [[lineId, String((line as Row)['name'])] as const] : [])),
  );
  const promise = stop['promise'] as { from: string | null; to: string | null } | null;
  const note = stop['order_note'];
  return {
    orderNumber: String(stop['number']),
    address: `${String(stop['address'])}, ${String(stop['town'])}`,
    because: inSentences([
      ...reasonTexts(because, lineNames),
      ...(note === null ? [] : [`Note: ${String(note)}`]),
    ]),
    promised: promise && { fromSeconds: at(promise.from), toSeconds: at(promise.to) },
    hindrances: stopHindrances(route, stop).map(({ text }) => text),
    accessNotes: accessOf(stop, units, isTankUnknown),
    notes: (stop['notes'] as Row[]).slice(0, MOST_NOTES).map(({ text, notedAt, author }) => ({
      text: String(text),
      day: house.zone.dayOf(new Date(String(notedAt))),
      author: String(author),
    })),
    sketches: [...new Set(tasks.flatMap((task) => sketches.get(task['lineId'] ?? task['pitId']) ?? []))],
    contacts: (stop['contacts'] as Row[]).map(({ name, role, phone, language }) => ({
      name: String(name),
      role: spaced(role),
      phone: phone === null ? null : String(phone),
      language: spoken(language),
    })),
    // What the client did not take the price of is not done.
    tasks: tasks.flatMap((task, i) =>
      task['declinedBy'] === null
        ? {
            kind: task['kind'] as TaskKind,
            target: taskTarget(task),
            minutes: Number(task['minutes']),
            plan: taskPlan(house, task, stop['access_points'] as Row[], units),
            cautions: cautions.ofTasks[i] ?? [],
          }
        : [],
    ),
    cautions: cautions.ofVisit,
    ticket: ticketOf(house, stop),
    waterPlan: waterPlanText(stop),
    question: questionText(stop),
    kit: ((stop['kit'] ?? []) as string[]).map(spaced),
    waterLitres: Number(stop['water_l']),
    wasteLitres: Number(stop['sludge_l']),
  };
}

const languages = new Intl.DisplayNames(['en'], { type: 'language', fallback: 'code' });

/** The language by its name where it is not the business's own. */
function spoken(code: unknown): string | null {
  if (typeof code !== 'string' || /^en\b/i.test(code)) return null;
  try {
    return languages.of(code) ?? code;
  } catch {
    return code;
  }
}

function ticketOf({ zone }: House, { locate_ticket: row }: Row): SheetTicket | null {
  const ticket = row as Row | null;
  if (ticket === null) return null;
  const from = new Date(String(ticket['digFrom']));
  return {
    number: ticket['number'] as string | null,
    digFrom: { day: zone.dayOf(from), seconds: secondsOf(zone.timeOf(from)) },
    lastDay: ticket['lastDay'] as IsoDate | null,
    beginBy: ticket['beginBy'] as IsoDate | null,
    byHand: handDigDistance(ticket['handDigMm'] as number | null),
    utilities: (ticket['utilities'] as UtilityOnTicket[]).map(
      ({ name, answer }) => `${name}: ${answer === 'none' ? 'no answer' : answer}`,
    ),
    open: ticket['open'] as string | null,
  };
}

/** Where flushed water and sludge go; what is only assumed says so. */
function waterPlanText({ water_plan: plan }: Row): string | null {
  if (plan === null) return null;
  const { receiver, place, permitRef, sludgeTo, assumed } = plan as Record<string, string | null>;
  return [
    `${assumed ? 'Outlet unknown, so by standing plan: water' : 'Water'} to ${spaced(receiver)}`,
    ...(place === null ? [] : [` (${place})`]),
    ...(permitRef === null ? [] : [`, reference ${permitRef}`]),
    ...(sludgeTo === null ? [] : [`; sludge: ${sludgeTo}`]),
    assumed ? '. Never to a storm drain or open water.' : '.',
  ].join('');
}

function questionText({ question }: Row): string | null {
  const asked = question as AskedQuestion | null;
  return asked === null || asked.answer !== undefined ? null : asked.text;
}

const at = (time: string | null): number | null => (time === null ? null : secondsOf(time));

const sentence = (text: string): string => `${text.charAt(0).toUpperCase()}${text.slice(1)}.`;

function tapText(stop: Row, units: UnitSystem, isTankUnknown: boolean): string | null {
  if (stop['tap'] === 'yes') return 'There is a tap.';
  if (stop['tap'] !== 'no') return null;
  const litres = Number(stop['water_l']);
  if (litres === 0) return 'No tap.';
  const unchecked = isTankUnknown ? '; tank size not recorded' : '';
  return `No tap: bring the water, about ${quantityText(litres, 'volume', units)}${unchecked}.`;
}

const BASEMENT: Record<string, string> = { finished: 'Finished basement.', none: 'No basement.' };

function accessOf(stop: Row, units: UnitSystem, isTankUnknown: boolean): string[] {
  const notes = [
    stop['access'] === 'someone_home' ? 'Somebody must be home.' : null,
    stop['access_notes'],
    BASEMENT[String(stop['basement'])],
    tapText(stop, units, isTankUnknown),
  ].filter((note): note is string => typeof note === 'string' && note !== '');
  return [...notes, ...(stop['access_points'] as Row[]).map((point) => pointText(point, units))];
}

const DIRECTION: Record<string, string> = { upstream: 'goes upstream', downstream: 'goes downstream' };

function pointText(point: Row, units: UnitSystem): string {
  const distance = point['distance_m'];
  const enters = point['kitCanEnter'] as string[];
  return [
    `${spaced(point['kind'])}: ${String(point['place'])}`,
    typeof distance === 'number' && distance > 0
      ? `${quantityText(distance, 'length', units)} from ${String(point['distanceFrom'] ?? 'upstream')}`
      : null,
    enters.length === 0 ? null : `takes ${enters.map(spaced).join(', ')}`,
    DIRECTION[String(point['direction'])],
    point['note'],
    point['unconfirmed'] === true ? 'unconfirmed' : null,
  ]
    .filter((part) => typeof part === 'string' && part !== '')
    .join(', ');
}
