import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { TaskKind } from '../../domain/words.js';
import { quantityText } from '../../papers/printed.js';
import type { RouteSheetData, SheetStop, SheetVisit } from '../../papers/routeSheetData.js';
import { stopCautions } from '../../papers/sheetCautions.js';
import type { AskedQuestion } from '../desk/questions.js';
import type { House } from '../house.js';
import { secondsOf } from '../plans/books.js';
import { mappedRoute } from '../plans/dayPicture.js';
import type { Row } from '../ports.js';
import { cautionBasis } from '../workLife/orderCautions.js';
import { letterhead } from './letterhead.js';
import { taskPlan, taskTarget } from './sheetTask.js';

const spaced = (code: unknown): string => String(code).replaceAll('_', ' ');

/** A stored route as its sheet prints it. */
export async function routeSheetOf(house: House, route: Row, units: UnitSystem): Promise<RouteSheetData> {
  const day = String(route['day']);
  const { stops: drawn, ...drive } = mappedRoute(house, route, await house.stores.rows.all('depot', []));
  const stops = (route['stops'] as Row[]).map(
    (stop, i): SheetStop => ({
      ...(drawn[i] as (typeof drawn)[number]),
      visit: stop['work_order_id'] === null ? null : visitOf(house, stop, units),
      note: null,
    }),
  );
  return {
    ...(await letterhead(house.stores)),
    day,
    units,
    members: await membersOf(house, String(route['crew_id']), day),
    kit: await kitOf(house, String(route['crew_id']), day, stops),
    route: { ...drive, stops },
  };
}

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

/** What the visits ask for, by the name of the crew's own where it has one. */
async function kitOf(
  house: House,
  crewId: string,
  day: IsoDate,
  stops: readonly SheetStop[],
): Promise<string[]> {
  const needed = [...new Set(stops.flatMap(({ visit }) => visit?.kit ?? []))].sort();
  if (needed.length === 0) return [];
  const held = await inForce(house, 'crew_kit', crewId, day);
  const items = await house.stores.rows.all(
    'kit_item',
    [{ column: 'id', is: 'in', value: held.map((row) => row['kit_item_id']) }],
    'name',
  );
  return needed.flatMap((kind) => {
    const own = items.filter((item) => spaced(item['kind']) === kind);
    return own.length === 0 ? [kind] : own.map((item) => `${String(item['name'])} (${kind})`);
  });
}

async function inForce(house: House, table: string, crewId: string, day: IsoDate): Promise<Row[]> {
  const rows = await house.stores.rows.all(table, [
    { column: 'crew_id', is: '=', value: crewId },
    { column: 'from_day', is: '<=', value: day },
  ]);
  return rows.filter((row) => row['to_day'] === null || String(row['to_day']) > day);
}

function visitOf(house: House, stop: Row, units: UnitSystem): SheetVisit {
  const tasks = stop['tasks'] as Row[];
  const because = (stop['because_of'] ?? []) as { code: string; text: string }[];
  const promise = stop['promise'] as { from: string | null; to: string | null } | null;
  const { tasks: kinds, facts } = cautionBasis(stop);
  const cautions = stopCautions(kinds, facts);
  const note = stop['order_note'];
  return {
    orderNumber: String(stop['number']),
    address: `${String(stop['address'])}, ${String(stop['town'])}`,
    because: [
      ...new Set(because.map(({ text }) => text)),
      ...(note === null ? [] : [`Note: ${String(note)}`]),
    ].join(' '),
    promised: promise && { fromSeconds: at(promise.from), toSeconds: at(promise.to) },
    accessNotes: accessOf(stop, units),
    contacts: (stop['contacts'] as Row[]).map(({ name, role, phone }) => ({
      name: String(name),
      role: spaced(role),
      phone: phone === null ? null : String(phone),
      language: null,
    })),
    tasks: tasks.map((task, i) => ({
      kind: task['kind'] as TaskKind,
      target: taskTarget(task),
      minutes: Number(task['minutes']),
      plan: taskPlan(house, task, units),
      cautions: cautions.ofTasks[i] ?? [],
    })),
    cautions: cautions.ofVisit,
    waterPlan: waterPlanText(stop),
    question: questionText(stop),
    kit: ((stop['kit'] ?? []) as string[]).map(spaced),
    waterLitres: Number(stop['water_l']),
    wasteLitres: Number(stop['sludge_l']),
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

const TAP: Record<string, string> = { yes: 'There is a tap.', no: 'No tap: bring the water.' };
const BASEMENT: Record<string, string> = { finished: 'Finished basement.', none: 'No basement.' };

function accessOf(stop: Row, units: UnitSystem): string[] {
  const notes = [
    stop['access'] === 'someone_home' ? 'Somebody must be home.' : null,
    stop['access_notes'],
    BASEMENT[String(stop['basement'])],
    TAP[String(stop['tap'])],
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
