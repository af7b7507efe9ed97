import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, expect, test } from 'vitest';
import { turns } from '../../src/actions/files/turns.js';
import { fileEyes } from '../../src/outside/fileEyes.js';
import { box } from '../setup/clip.js';

const folder = mkdtempSync(join(tmpdir(), 'openbore-hostile-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
const path = join(folder, 'file');

const u32 = (...numbers: number[]): Buffer => {
  const bytes = Buffer.alloc(4 * numbers.length);
  for (const [i, n] of numbers.entries()) bytes.writeUInt32BE(n >>> 0, 4 * i);
  return bytes;
};
const full = (type: string, ...content: Buffer[]) => box(type, u32(0), ...content);

/** An MP4 with tracks of places whose tables are given; 1,000 bytes of data lie at its beginning. */
const clipOf = (...tables: Buffer[][]): Buffer =>
  Buffer.concat([
    box('ftyp', 'isom\0\0\0\0isom'),
    box('mdat', Buffer.alloc(1000, 'x')),
    box(
      'moov',
      full('mvhd', Buffer.alloc(96)),
      ...tables.map((table) =>
        box(
          'trak',
          box('mdia', full('hdlr', u32(0), Buffer.from('meta')), box('minf', box('stbl', ...table))),
        ),
      ),
    ),
  ]);
const editsOf = (bytes: Buffer) => {
  writeFileSync(path, bytes);
  return fileEyes.clipEdits(path, 'video/mp4');
};
const oneInEach = full('stsc', u32(1, 1, 1, 1));
const places = (count: number, at = 40) =>
  full('stco', u32(count), u32(...new Array<number>(count).fill(at)));

test('sizes of four bits: as many as a clip has are summed, more are not counted', async () => {
  const stz2 = (count: number) => full('stz2', u32(4, count), Buffer.alloc(Math.ceil(count / 2), 0x12));
  // Three samples in the one chunk: 1 + 2 + 1 bytes.
  const few = await editsOf(clipOf([stz2(3), full('stsc', u32(1, 1, 3, 1)), places(1)]));
  expect(few).toContainEqual({ at: 40, zeros: 4 });
  expect(await editsOf(clipOf([stz2(1_000_001), oneInEach, places(1)]))).toBeNull();
});

test.each([
  ['chunks', [full('stsz', u32(1, 60_000)), oneInEach, places(60_000)]],
  ['samples of one size', [full('stsz', u32(1, 0xffffffff)), oneInEach, places(1)]],
  [
    'entries of chunks',
    [full('stsz', u32(1, 1)), full('stsc', u32(60_000), Buffer.alloc(12 * 60_000)), places(1)],
  ],
])('a table of too many %s is not followed', async (_what, tables) => {
  expect(await editsOf(clipOf(tables))).toBeNull();
});

test('many tracks together have no more than one', async () => {
  const track = [full('stsz', u32(1, 30_000)), oneInEach, places(30_000)];
  expect(await editsOf(clipOf(track))).not.toBeNull();
  expect(await editsOf(clipOf(track, track))).toBeNull();
});

test('chunks that lie on one another are not emptied over and over', async () => {
  const sized = (bytes: number) => [full('stsz', u32(bytes, 20)), oneInEach, places(20)];
  expect(await editsOf(clipOf(sized(10)))).not.toBeNull();
  // 20 times 900 bytes, of a clip of less than 2,000.
  expect(await editsOf(clipOf(sized(900)))).toBeNull();
});

test('a picture that is small only while it is packed is refused by its size, a plain JPEG of that size is not', async () => {
  const one = sharp({ create: { width: 7200, height: 7200, channels: 3, background: '#8a4b00' } });
  for (const [packed, isTaken] of [
    [await one.clone().png({ palette: true, colours: 2 }).toBuffer(), false],
    [await one.clone().jpeg({ progressive: true }).toBuffer(), false],
    [await one.clone().jpeg().toBuffer(), true],
  ] as const) {
    writeFileSync(path, packed);
    expect(packed.length).toBeLessThan(2_000_000);
    const looked = await fileEyes.look(path);
    expect(looked.ok).toBe(isTaken);
    if (!looked.ok) expect(looked.fault.detail).toBe('7200 × 7200 pixels');
  }
}, 120_000);

test('few are looked at together, few wait, and nobody has all places', async () => {
  const queue = turns({ atOnce: 2, waiting: 3, each: 3 });
  const ends: (() => void)[] = [];
  const done: string[] = [];
  const look = (who: string, name: string, isGone?: () => boolean) =>
    queue
      .take(
        who,
        async () => {
          await new Promise<void>((resolve) => ends.push(resolve));
          done.push(name);
        },
        isGone,
      )
      .catch((error: Error) => void done.push(`${name} refused: ${error.message}`));
  const all = [look('a', 'a1'), look('a', 'a2'), look('a', 'a3')];
  await look('a', 'a4');
  expect(done).toEqual([
    'a4 refused: 3 files of yours are being looked at. Send the file again in a moment.',
  ]);
  all.push(
    look('b', 'b1', () => true),
    look('c', 'c1'),
  );
  await look('d', 'd1');
  expect(done.at(-1)).toBe('d1 refused: Other files are being looked at. Send the file again in a moment.');
  expect(ends).toHaveLength(2);
  while (ends.length > 0) {
    ends.shift()?.();
    await new Promise((resolve) => setImmediate(resolve));
  }
  await Promise.all(all);
  expect(done.slice(2)).toEqual([
    'a1',
    'a2',
    'b1 refused: The caller went away. Send the file again in a moment.',
    'a3',
    'c1',
  ]);
  // All places are free again.
  const later = look('a', 'a5');
  await new Promise((resolve) => setImmediate(resolve));
  ends.shift()?.();
  await later;
  expect(done.at(-1)).toBe('a5');
});
