import { Readable } from 'node:stream';
import sharp from 'sharp';
import { v7 as newId } from 'uuid';
import type { Files } from '../actions/files/fileStore.js';
import { lookAtFile, placeFile, recordFile } from '../actions/files/receiveFile.js';
import type { House } from '../actions/house.js';
import type { Actor, Row } from '../actions/ports.js';
import { MOST_BYTES } from '../domain/work/fileLimits.js';
import { Chance } from './demoChance.js';
import { demoPicture } from './demoPicture.js';

/** Orders that get photographs, the newest: drawing more would be waited for. */
const ORDERS = 5;
/** Before, the deposit is thick enough to be seen. */
const LEAST_SHARE = 0.2;

/** One line of a done order that was read before its clean and after it. */
interface Pair {
  order: Row;
  before: Row;
  after: Row;
}

/**
 * Puts drawn photographs, before and after, on some of the newest orders done, as their crews would have sent them.
 *
 * @returns The newest of these orders; null where the house keeps no files, or no line was read before and after.
 */
export async function takePhotographs(house: House, seed: number): Promise<Row | null> {
  const { files } = house;
  if (!files) return null;
  const pairs = await pairsOf(house);
  const chance = new Chance(seed);
  for (const [i, pair] of pairs.entries()) {
    // The same stones before and after: it is one place.
    for (const reading of [pair.before, pair.after])
      await photograph(house, files, pair.order, reading, chance.branch(i + 1));
  }
  return pairs[0]?.order ?? null;
}

async function pairsOf(house: House): Promise<Pair[]> {
  const { rows } = house.stores;
  const done = await rows.all('work_order', [{ column: 'state', is: '=', value: 'done' }], 'number');
  const readings = await rows.all(
    'inspection',
    [
      { column: 'work_order_id', is: 'not-null' },
      { column: 'occlusion', is: 'not-null' },
      { column: 'line_id', is: 'not-null' },
    ],
    'observed_at',
  );
  const pairs = done.reverse().flatMap((order): Pair[] => {
    const own = readings.filter((row) => row['work_order_id'] === order['id'] && row['plugged'] !== true);
    const before = own.find(
      (row) => row['phase'] === 'before_cleaning' && Number(row['occlusion']) >= LEAST_SHARE,
    );
    const after = own.find(
      (row) => row['phase'] === 'after_cleaning' && row['line_id'] === before?.['line_id'],
    );
    const isCleaner = Number(after?.['occlusion']) < Number(before?.['occlusion']);
    return before && after && isCleaner ? [{ order, before, after }] : [];
  });
  return pairs.slice(0, ORDERS);
}

async function photograph(
  house: House,
  files: Files,
  order: Row,
  reading: Row,
  chance: Chance,
): Promise<void> {
  const jpeg = await sharp(Buffer.from(demoPicture(Number(reading['occlusion']), chance)))
    .jpeg({ quality: 80 })
    .toBuffer();
  const taken = await files.store.take(Readable.from([jpeg]), MOST_BYTES.photograph);
  if (taken === null) throw new RangeError('a drawn photograph is larger than one may be');
  const id = newId();
  const placed = await placeFile(files, id, taken, await lookAtFile(files, taken));
  const crew = await crewActor(house, reading);
  await house.transact(crew, async (stores) => {
    await stores.rows.insert('attachment', {
      id,
      site_id: order['site_id'],
      line_id: reading['line_id'],
      work_order_id: order['id'],
      inspection_id: reading['id'],
      caption: 'Demo picture',
      taken_at: reading['observed_at'],
      author: crew.name,
      author_id: crew.memberId,
      for_client: true,
    });
    await recordFile(house, stores, crew, id, placed);
  });
}

/** Somebody of the crew that was there. */
async function crewActor(house: House, { crew_id: crewId }: Row): Promise<Actor> {
  const { rows } = house.stores;
  const [own] =
    crewId === null ? [] : await rows.all('crew_membership', [{ column: 'crew_id', is: '=', value: crewId }]);
  const [anybody] = await rows.all('member', []);
  const member = own ? await rows.get('member', String(own['member_id'])) : anybody;
  if (!member) throw new RangeError('a demo without people');
  const memberId = String(member['id']);
  return { keyId: memberId, name: String(member['name']), roles: ['technician'], memberId };
}
