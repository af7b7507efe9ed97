import { v7 as newId } from 'uuid';
import { beyondEnd, misfit } from '../domain/readings/fitsLine.js';
import { readingFactsAt } from '../domain/readings/lineRecord.js';
import { CONVERSION_VERSION, occlusionOf, type Reading } from '../domain/readings/occlusionOf.js';
import type { Deposit, LineKind, Method, OutletState, Phase, PlugCause } from '../domain/words.js';
import { deadParts } from '../domain/work/pitFaults.js';
import type { House, Stores } from './house.js';
import { lineRecords } from './lineRecords.js';
import { authorId, mayNameCrew, mayWorkOn, worksOn } from './mayWorkOn.js';
import { liesAhead } from './notAhead.js';
import { refuseForeignOrder } from './ownOrder.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused, ruleBroken } from './problems.js';
import { earlierReading, isPumped, rederiveLines } from './rederive.js';
import { tell } from './telling/tell.js';
import { climb } from './workLife/climb.js';
import { orderPitRepair, tellPitFault } from './workLife/pitFaults.js';
import { raiseLate } from './workLife/raisedByVisit.js';
import { settlePlug } from './workLife/settledPlug.js';

export interface NewInspection {
  id: string | null;
  lineId: string | null;
  pitId: string | null;
  observedAt: string;
  phase: Phase;
  reading: Reading | null;
  /** What a look at a pit found; null where nobody tried. */
  pitTest: PitLook | null;
  plugged: PlugCause | null;
  /** How somebody looked at the plug itself; null: seen from an end. */
  plugSeenBy: Method | null;
  deposit: Deposit;
  outletState: OutletState | null;
  place: string | null;
  distanceM: number | null;
  crewId: string | null;
  workOrderId: string | null;
  replacesId: string | null;
  deviceClockOffsetS: number | null;
  note: string | null;
}

/** A look at a pit and its pump; what was not tried is left out. */
export interface PitLook {
  floatCycled?: boolean | undefined;
  checkValveHolds?: boolean | undefined;
  backupWorks?: boolean | undefined;
  alarmWorks?: boolean | undefined;
  /** Sludge over the depth below the intake, 0 to 1. */
  sludgeShare?: number | undefined;
}

/**
 * Records what one person found at one moment. The reading is kept as it was read; its occlusion is derived.
 *
 * @param pointer JSON pointer of the inspection in the request, for faults.
 * @param later   Takes the lines whose readings are to be derived again, instead of doing it at once: for who
 *                records many and derives them together (`rederiveLines`).
 */
export async function recordInspection(
  house: House,
  stores: Stores,
  actor: Actor,
  found: NewInspection,
  pointer = '#',
  later?: Set<string>,
): Promise<Row> {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `${pointer}/${field}`, detail, remedy });
  if ((found.lineId === null) === (found.pitId === null))
    fault('lineId', 'one line or one pit is inspected', 'give lineId or pitId');
  if (liesAhead(house, found.observedAt)) {
    fault(
      'observedAt',
      `${found.observedAt} lies in the future`,
      'the moment it was seen; check the clock of the device',
    );
  }
  if (found.reading !== null && found.plugged !== null)
    fault('plugged', 'a plugged line has no reading', 'give plugged or reading, not both');
  if (found.lineId !== null && found.reading === null && found.plugged === null)
    fault('reading', 'nothing was read', 'give a reading, or plugged with its cause');
  if (found.pitTest !== null && found.pitId === null)
    fault('pitTest', 'goes with a pit', 'give pitId, or leave it out');
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'inspection', faults });

  const thing = await thingOf(stores, found, pointer);
  await mayWorkOn(house, stores, actor, String(thing['site_id']), found.observedAt);
  await mayNameCrew(house, stores, actor, found.crewId, found.observedAt);
  await refuseForeignOrder(stores, found.workOrderId, thing, pointer);
  if (found.lineId !== null) refuseMisfit(found, thing, pointer);
  const derived =
    found.reading === null || found.lineId === null
      ? null
      : await derive(stores, thing, found, found.reading, pointer);

  const replaced =
    found.replacesId === null ? null : await replace(house, stores, actor, found.replacesId, pointer, later);
  const recorded = await stores.rows.insert('inspection', {
    id: found.id ?? newId(),
    line_id: found.lineId,
    pit_id: found.pitId,
    observed_at: found.observedAt,
    received_at: house.clock.now().toISOString(),
    device_clock_offset_s: found.deviceClockOffsetS,
    author: actor.name,
    author_id: authorId(actor),
    crew_id: found.crewId,
    work_order_id: found.workOrderId,
    phase: found.phase,
    method: found.reading?.method ?? null,
    raw: found.reading ?? found.pitTest ?? {},
    conversion_version: CONVERSION_VERSION,
    occlusion: derived?.occlusion ?? null,
    standard_error: derived?.standardError ?? null,
    bound: derived?.bound ?? 'exact',
    notes: JSON.stringify(derived?.notes ?? []),
    plugged: found.plugged !== null,
    plug_cause: found.plugged,
    plug_seen_by: found.plugSeenBy,
    deposit: found.deposit,
    outlet_state: found.outletState,
    place: found.place,
    distance_m: found.distanceM,
    note: found.note,
    replaces_id: replaced,
  });
  await rederiveAfterReference(stores, recorded, later);
  // A pit that was looked at is dated anew.
  if (found.pitId !== null) {
    await stores.rows.update('pit', found.pitId, { due_on: null });
    await tellPitFault(stores, thing, recorded);
  }
  if (found.plugged !== null && found.lineId !== null)
    await tell(stores, {
      type: 'line_plugged',
      subjectId: found.lineId,
      once: String(recorded['id']),
      facts: {
        lineName: String(thing['name']),
        address: String((await stores.rows.get('site', String(thing['site_id'])))?.['address']),
        cause: found.plugged,
        observedAt: found.observedAt,
        inspectionId: String(recorded['id']),
      },
      about: {
        lineId: found.lineId,
        siteId: String(thing['site_id']),
        workOrderId: found.workOrderId,
        crewId: found.crewId,
      },
    });
  // Found plugged or dead: the work it asks for is raised when its visit ends; outside of one, or after its end, now.
  const isLate = await raiseLate(house, stores, found.workOrderId, found.observedAt, thing['site_id']);
  if (!isLate && !(await isToEnd(stores, found.workOrderId))) {
    const from = {
      orderId: found.workOrderId,
      today: house.zone.dayOf(house.clock.now()),
      foundAt: found.observedAt,
      foundOn: house.zone.dayOf(new Date(found.observedAt)),
    };
    if (found.plugged !== null && found.lineId !== null) await climb(stores, found.lineId, from);
    if (found.pitId !== null && deadParts(found.pitTest ?? {}).length > 0)
      await orderPitRepair(stores, found.pitId, from);
  }
  if (replaced !== null && found.plugged === null && found.lineId !== null)
    await settlePlug(stores, found.lineId, 'the find was corrected: the line was not plugged');
  return recorded;
}

async function isToEnd(stores: Stores, workOrderId: string | null): Promise<boolean> {
  const order = workOrderId === null ? null : await stores.rows.get('work_order', workOrderId);
  return order !== null && order['state'] !== 'done' && order['state'] !== 'withdrawn';
}

/** A reading after a clean is what later ones of its line are compared with: when it comes or goes they follow. */
async function rederiveAfterReference(stores: Stores, row: Row, later?: Set<string>): Promise<void> {
  if (row['line_id'] === null || row['phase'] !== 'after_cleaning' || !isPumped(row['method'])) return;
  const lineId = String(row['line_id']);
  if (later) later.add(lineId);
  else await rederiveLines(stores, [lineId]);
}

/** A reading and its place must be possible on the line. */
function refuseMisfit(found: NewInspection, line: Row, pointer: string): void {
  const lengthM = line['length_m'] === null ? null : Number(line['length_m']);
  const unfit = found.reading === null ? null : misfit(found.reading, line['kind'] as LineKind, lengthM);
  if (unfit !== null)
    throw ruleBroken('reading-fits-line', `${pointer}/reading/${unfit.field}`, unfit.detail, unfit.remedy);
  const beyond = beyondEnd(found.distanceM, lengthM);
  if (beyond !== null) throw ruleBroken('place-on-line', `${pointer}/distance`, beyond.detail, beyond.remedy);
}

async function thingOf(
  stores: Stores,
  found: Pick<NewInspection, 'lineId' | 'pitId'>,
  pointer: string,
): Promise<Row> {
  const [table, id, field] =
    found.lineId !== null ? ['line', found.lineId, 'lineId'] : ['pit', found.pitId ?? '', 'pitId'];
  const thing = await stores.rows.get(table, id);
  if (thing) return thing;
  throw new Refused({
    code: 'unknown-reference',
    faults: [
      {
        pointer: `${pointer}/${field}`,
        detail: `there is no ${table} ${id}`,
        remedy: `give the id of a recorded ${table}`,
      },
    ],
  });
}

async function derive(stores: Stores, line: Row, found: NewInspection, reading: Reading, pointer: string) {
  const id = String(line['id']);
  const record = (await lineRecords(stores, [line])).get(id);
  if (!record) throw new RangeError(`no record of line ${id}`);
  const references = isPumped(reading.method) ? await stores.work.cleanReferences(id) : [];
  const day = Date.parse(found.observedAt) / 86_400_000;
  const facts = readingFactsAt(record, day, found.deposit, references.map(earlierReading));
  const got = occlusionOf(reading, facts);
  if (got.ok) return got;
  throw new Refused({
    code: 'rule-broken',
    rule: 'reading',
    faults: got.faults.map((fault) => ({ ...fault, pointer: fault.pointer.replace('#', pointer) })),
  });
}

/** The replaced one stays, marked; it no longer counts. */
async function replace(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  pointer: string,
  later?: Set<string>,
): Promise<string> {
  const old = await stores.rows.lock('inspection', id);
  if (!old || !(await mayCorrect(house, stores, actor, old))) {
    throw new Refused({
      code: 'unknown-reference',
      faults: [
        {
          pointer: `${pointer}/replacesId`,
          detail: `there is no inspection ${id}`,
          remedy: 'give the id of the inspection to replace',
        },
      ],
    });
  }
  if (old['withdrawn_at'] !== null || old['replaced_at'] !== null) {
    throw new Refused({
      code: 'wrong-state',
      resource: 'inspection',
      id,
      state: old['withdrawn_at'] === null ? 'replaced' : 'withdrawn',
      allowed: ['in force'],
      detail: 'Only an inspection in force can be replaced.',
    });
  }
  await stores.rows.update('inspection', id, { replaced_at: house.clock.now().toISOString() });
  await rederiveAfterReference(stores, old, later);
  return id;
}

/** What somebody found is corrected by that person, or by who may write on its site as of then. */
async function mayCorrect(house: House, stores: Stores, actor: Actor, old: Row): Promise<boolean> {
  if (old['author_id'] === authorId(actor)) return true;
  const thing =
    old['line_id'] === null
      ? await stores.rows.get('pit', String(old['pit_id']))
      : await stores.rows.get('line', String(old['line_id']));
  return worksOn(house, stores, actor, String(thing?.['site_id']), String(old['observed_at']));
}

/** Takes an inspection or a clean out of force; it stays on record with the reason. */
export async function withdraw(
  house: House,
  stores: Stores,
  actor: Actor,
  table: 'inspection' | 'clean',
  id: string,
  because: string,
): Promise<Row> {
  const row = await stores.rows.lock(table, id);
  if (!row) throw new Refused({ code: 'not-found', resource: table, id });
  const isOffice = actor.roles.some((role) => role === 'dispatcher' || role === 'owner');
  if (!isOffice && row['author_id'] !== authorId(actor))
    throw new Refused({ code: 'not-found', resource: table, id });
  if (row['withdrawn_at'] !== null) return row;
  const withdrawn = await stores.rows.update(table, id, {
    withdrawn_at: house.clock.now().toISOString(),
    withdrawn_because: because,
  });
  if (table === 'inspection') await rederiveAfterReference(stores, row);
  if (row['plugged'] === true && row['line_id'] !== null)
    await settlePlug(stores, String(row['line_id']), `the find was withdrawn: ${because}`);
  return withdrawn ?? row;
}
