import type { House, Stores } from './house.js';
import { authorId, mayWorkOn } from './mayWorkOn.js';
import { liesAhead } from './notAhead.js';
import type { Actor, Row } from './ports.js';
import { type FieldFault, Refused } from './problems.js';

/** What a note or an attachment belongs to: a site, and what of it. */
export interface Subject {
  siteId: string;
  lineId: string | null;
  pitId: string | null;
  workOrderId: string | null;
}

export interface NewNote extends Subject {
  id: string;
  text: string;
  notedAt: string;
  deviceClockOffsetS: number | null;
}

/** What a photograph, clip or document shows; its bytes come on their own, before or after. */
export interface NewAttachment extends Subject {
  id: string;
  inspectionId: string | null;
  caption: string | null;
  takenAt: string;
  forClient: boolean;
  deviceClockOffsetS: number | null;
}

/** Writes down what somebody noted about a site, or a line or pit of it. */
export async function addNote(house: House, stores: Stores, actor: Actor, note: NewNote): Promise<Row> {
  await refuseSubject(house, stores, actor, note, 'notedAt', note.notedAt);
  return stores.rows.insert('note', {
    id: note.id,
    ...columnsOf(note),
    text: note.text,
    noted_at: note.notedAt,
    device_clock_offset_s: note.deviceClockOffsetS,
    received_at: house.clock.now().toISOString(),
    author: actor.name,
    author_id: authorId(actor),
  });
}

/** Records what a photograph, clip or document shows. */
export async function recordAttachment(
  house: House,
  stores: Stores,
  actor: Actor,
  asked: NewAttachment,
): Promise<Row> {
  await refuseSubject(house, stores, actor, asked, 'takenAt', asked.takenAt);
  await refuseForeignBytes(stores, actor, asked.id);
  return stores.rows.insert('attachment', {
    id: asked.id,
    ...columnsOf(asked),
    inspection_id: asked.inspectionId,
    caption: asked.caption,
    taken_at: asked.takenAt,
    for_client: asked.forClient,
    device_clock_offset_s: asked.deviceClockOffsetS,
    received_at: house.clock.now().toISOString(),
    author: actor.name,
    author_id: authorId(actor),
  });
}

/**
 * Bytes that came first wait for what they show from who sent them, or from the office: whoever else names their id would
 * be shown them.
 *
 * @throws {Refused} `id-taken`.
 */
async function refuseForeignBytes(stores: Stores, actor: Actor, id: string): Promise<void> {
  if (actor.roles.some((role) => role === 'dispatcher' || role === 'owner')) return;
  const file = await stores.rows.get('stored_file', id);
  if (file !== null && file['author_id'] !== authorId(actor))
    throw new Refused({ code: 'id-taken', resource: 'attachment', id });
}

const columnsOf = ({ siteId, lineId, pitId, workOrderId }: Subject): Row => ({
  site_id: siteId,
  line_id: lineId,
  pit_id: pitId,
  work_order_id: workOrderId,
});

async function refuseSubject(
  house: House,
  stores: Stores,
  actor: Actor,
  subject: Subject & { inspectionId?: string | null },
  when: string,
  at: string,
): Promise<void> {
  const faults: FieldFault[] = [];
  const fault = (field: string, detail: string, remedy: string) =>
    faults.push({ pointer: `#/${field}`, detail, remedy });
  if ((await stores.rows.get('site', subject.siteId)) === null)
    throw new Refused({ code: 'not-found', resource: 'site', id: subject.siteId });
  await mayWorkOn(house, stores, actor, subject.siteId, at);
  if (liesAhead(house, at)) fault(when, `${at} lies in the future`, 'the moment it was taken down');
  if (subject.lineId !== null && subject.pitId !== null)
    fault('pitId', 'goes with no lineId', 'give lineId or pitId, or neither');
  for (const [table, field, id] of [
    ['line', 'lineId', subject.lineId],
    ['pit', 'pitId', subject.pitId],
    ['work_order', 'workOrderId', subject.workOrderId],
  ] as const)
    if (id !== null && (await stores.rows.get(table, id))?.['site_id'] !== subject.siteId)
      fault(field, 'is not on this site', `a ${table.replace('_', ' ')} of the site, or none`);
  if (subject.inspectionId != null && !(await isOnSite(stores, subject.inspectionId, subject.siteId)))
    fault('inspectionId', 'is not of this site', 'an inspection of the site, or none');
  if (faults.length > 0) throw new Refused({ code: 'rule-broken', rule: 'things-of-the-site', faults });
}

async function isOnSite(stores: Stores, inspectionId: string, siteId: string): Promise<boolean> {
  const row = await stores.rows.get('inspection', inspectionId);
  if (row === null) return false;
  const thing =
    row['line_id'] === null
      ? await stores.rows.get('pit', String(row['pit_id']))
      : await stores.rows.get('line', String(row['line_id']));
  return thing?.['site_id'] === siteId;
}
