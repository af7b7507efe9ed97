import { MOST_BYTES } from '../../domain/work/fileLimits.js';
import type { House, Stores } from '../house.js';
import { authorId, mayWorkOn } from '../mayWorkOn.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Actor, Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import type { FileFault, FileSeen, Files, TakenFile } from './fileStore.js';

/** A file looked at, with its copies in place: nothing points to it yet. */
export interface PlacedFile {
  taken: TakenFile;
  seen: FileSeen;
  keys: { original: string; public: string | null; thumbnail: string | null };
}

/** Keys of one content under one id: other content sent with the same id never writes over it. */
const keyOf = (id: string, { sha256 }: TakenFile, copy: string): string =>
  `${id}/${sha256.toString('hex').slice(0, 24)}-${copy}`;

/**
 * What bytes that were taken aside are, by their head.
 *
 * @throws {Refused} By its content it is nothing we take, or too large for its kind.
 */
export async function lookAtFile(files: Files, taken: TakenFile): Promise<FileSeen> {
  const looked = await files.eyes.look(taken.path);
  if (!looked.ok) throw faulty(looked.fault);
  const { seen } = looked;
  const most = MOST_BYTES[seen.kind];
  if (taken.bytes > most)
    throw ruleBroken(
      'file',
      '#/file',
      `a ${seen.kind} of ${taken.bytes} bytes`,
      `a ${seen.kind} has at most ${most} bytes`,
    );
  return seen;
}

/**
 * Makes the copies of a photograph or clip and puts all of it in place. What is put in place and never pointed to is taken
 * back (`takeBack`), or swept later (`sweepFiles`).
 *
 * @throws {Refused} It is broken.
 */
export async function placeFile(
  files: Files,
  id: string,
  taken: TakenFile,
  seen: FileSeen,
): Promise<PlacedFile> {
  const keys: PlacedFile['keys'] = { original: keyOf(id, taken, 'original'), public: null, thumbnail: null };
  if (seen.kind === 'photograph') {
    const copies = await files.eyes.copies(taken.path);
    if (!copies.ok) throw faulty(copies.fault);
    keys.public = keyOf(id, taken, 'public');
    keys.thumbnail = keyOf(id, taken, 'thumbnail');
    await files.store.put(copies.forClients, keys.public);
    await files.store.put(copies.thumbnail, keys.thumbnail);
  }
  const edits = seen.kind === 'clip' ? await files.eyes.clipEdits(taken.path, seen.mediaType) : null;
  if (edits !== null) {
    keys.public = keyOf(id, taken, 'public');
    await files.store.putEdited(taken, keys.public, edits);
  }
  await files.store.keep(taken, keys.original);
  return { taken, seen, keys };
}

/**
 * Takes back what was put in place for a file that was then refused for good: its id has other bytes by now, or the day's
 * are full. After any other failure the same bytes may be on record, or just being sent again: those are left to the sweep.
 */
export async function takeBack(
  house: House,
  id: string,
  { keys }: PlacedFile,
  error: unknown,
): Promise<void> {
  if (!(error instanceof Refused)) return;
  const kept = await house.stores.rows.get('stored_file', id);
  const isGone =
    kept === null ? error.problem.code === 'enough-for-today' : kept['original_key'] !== keys.original;
  if (!isGone) return;
  for (const key of Object.values(keys)) if (key !== null) await filesOf(house).store.remove(key);
}

const faulty = ({ detail, remedy }: FileFault) => ruleBroken('file', '#/file', detail, remedy);

/**
 * Lets a placed file be the bytes of an attachment, whether what it shows is known already or comes later.
 *
 * @throws {Refused} `id-taken` when the attachment has other bytes; `not-yours` where it is of a site one may not work on.
 */
export async function recordFile(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  { taken, seen, keys }: PlacedFile,
): Promise<Row> {
  await refuseForeignAttachment(house, stores, actor, id);
  const kept = await refuseOtherBytes(house, stores, actor, id, taken);
  if (kept !== null) return kept;
  return stores.rows.insert('stored_file', {
    id,
    kind: seen.kind,
    media_type: seen.mediaType,
    bytes: taken.bytes,
    sha256: taken.sha256,
    width: seen.width,
    height: seen.height,
    original_key: keys.original,
    public_key: keys.public,
    public_type: keys.public === null ? null : seen.kind === 'clip' ? seen.mediaType : 'image/jpeg',
    thumbnail_key: keys.thumbnail,
    author: actor.name,
    author_id: authorId(actor),
    created_at: house.clock.now().toISOString(),
  });
}

/**
 * Asked before anything is put in place, and once more when it is recorded.
 *
 * @returns The file on record, of the same bytes; null: none yet, and there is room for it today.
 * @throws {Refused} `id-taken`: the id has other bytes; `enough-for-today`
 */
export async function refuseOtherBytes(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
  { sha256, bytes }: TakenFile,
): Promise<Row | null> {
  const kept = await stores.rows.get('stored_file', id);
  if (kept !== null && !sha256.equals(kept['sha256'] as Buffer))
    throw new Refused({ code: 'id-taken', resource: 'stored_file', id });
  if (kept === null) await refuseBeyondDay(house, stores, actor, { id, bytes });
  return kept;
}

const MEGABYTE = 1_000_000;

/**
 * Nobody fills the disk in a day: what a person, or a key of nobody, has put since midnight of the business, and what
 * comes now, is bounded by the owner.
 *
 * @throws {Refused} `enough-for-today`
 */
export async function refuseBeyondDay(
  house: House,
  stores: Stores,
  actor: Actor,
  { id, bytes: coming }: { id: string; bytes: number },
): Promise<void> {
  const today = house.zone.dayOf(house.clock.now());
  const most = (await ownerSettings(stores)).files.megabytesADay * MEGABYTE;
  const came = await stores.rows.sum('stored_file', 'bytes', [
    { column: 'author_id', is: '=', value: authorId(actor) },
    { column: 'created_at', is: '>=', value: house.zone.instantOf(today, 0).toISOString() },
    // Sent once more it takes no more room.
    { column: 'id', is: '<>', value: id },
  ]);
  if (came + coming <= most) return;
  const inMb = (bytes: number) => Math.round(bytes / MEGABYTE);
  throw new Refused({
    code: 'enough-for-today',
    detail: `You have put ${inMb(came)} MB of files today and send ${inMb(coming)} MB; the owner allows ${inMb(most)} MB a day (setting files.megabytesADay). Send it again tomorrow, or ask the owner for more.`,
  });
}

/** Before any byte is taken: bytes for a record one may not write to are not. */
export async function refuseForeignAttachment(
  house: House,
  stores: Stores,
  actor: Actor,
  id: string,
): Promise<void> {
  const attachment = await stores.rows.get('attachment', id);
  if (attachment === null || attachment['author_id'] === authorId(actor)) return;
  await mayWorkOn(house, stores, actor, String(attachment['site_id']), String(attachment['taken_at']));
}

export function filesOf(house: House): Files {
  if (house.files) return house.files;
  throw new Refused({
    code: 'unavailable',
    detail: 'This house keeps no files: a folder for them is not set.',
  });
}
