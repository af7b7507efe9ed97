import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileTypeFromBuffer } from 'file-type';
import sharp from 'sharp';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { fileEyes } from '../../src/outside/fileEyes.js';
import { folderStore } from '../../src/outside/folderStore.js';
import { box, clipWithPlace, type MadeClip, SECRETS } from '../setup/clip.js';

const folder = mkdtempSync(join(tmpdir(), 'openbore-clip-'));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
let frames: Buffer[];
beforeAll(async () => {
  frames = await Promise.all(
    ['#8a4b00', '#5b3a1d'].map((background) =>
      sharp({ create: { width: 32, height: 24, channels: 3, background } })
        .jpeg()
        .toBuffer(),
    ),
  );
});

/** The copy for clients as the store keeps it; null: there is none. */
async function copyOf(bytes: Buffer, mediaType = 'video/mp4'): Promise<Buffer | null> {
  const path = join(folder, 'clip');
  writeFileSync(path, bytes);
  const edits = await fileEyes.clipEdits(path, mediaType);
  if (edits === null) return null;
  const id = '01999999-0000-7000-8000-000000000001';
  const store = folderStore(folder);
  await store.putEdited({ path, bytes: bytes.length, sha256: Buffer.alloc(32) }, `${id}/a-public`, edits);
  // The original stays as it came.
  expect(readFileSync(path).equals(bytes)).toBe(true);
  return readFileSync(join(folder, id.slice(0, 2), id, 'a-public'));
}

const framesIn = (made: MadeClip, bytes: Buffer) =>
  made.frames.map(({ at, length }) => bytes.subarray(at, at + length));

test.each(['mp4', 'quicktime', 'indexAtEnd'] as const)(
  'a clip (%s) tells neither place, device nor time, and every picture is where it was',
  async (form) => {
    const made = clipWithPlace(frames, form);
    for (const secret of SECRETS) expect(made.bytes.includes(secret), secret).toBe(true);
    const copy = await copyOf(made.bytes, form === 'quicktime' ? 'video/quicktime' : 'video/mp4');
    if (copy === null) throw new Error('no copy');
    expect(copy.length).toBe(made.bytes.length);
    for (const secret of SECRETS) expect(copy.includes(secret), secret).toBe(false);
    for (const [i, frame] of framesIn(made, copy).entries()) {
      expect(frame.equals(frames[i] as Buffer)).toBe(true);
      expect((await sharp(frame).metadata()).width).toBe(32);
    }
    // 2026-10-01 in seconds since 1904, as the clip was made at.
    expect(made.bytes.includes(made.madeAt)).toBe(true);
    expect(copy.includes(made.madeAt)).toBe(false);
    expect((await fileTypeFromBuffer(copy))?.mime).toBe(
      form === 'quicktime' ? 'video/quicktime' : 'video/mp4',
    );
  },
);

test('a clip without anything to hide keeps its pictures and sound boxes', async () => {
  const made = clipWithPlace(frames, 'mp4');
  const copy = (await copyOf(made.bytes)) ?? Buffer.alloc(0);
  for (const type of ['ftyp', 'moov', 'mvhd', 'trak', 'mdia', 'stbl', 'stsd', 'stco', 'mdat'])
    expect(copy.includes(type), type).toBe(true);
  // One track of two is left.
  expect(copy.toString('latin1').split('trak')).toHaveLength(2);
});

test('what cannot be followed to its end has no copy', async () => {
  const { bytes } = clipWithPlace(frames, 'mp4');
  expect(await copyOf(bytes.subarray(0, bytes.length - 3))).toBeNull();
  expect(await copyOf(box('ftyp', Buffer.from('isom\0\0\0\0')))).toBeNull();
  const tooLong = Buffer.from(bytes);
  tooLong.writeUInt32BE(0xffff, tooLong.indexOf('moov') - 4);
  expect(await copyOf(tooLong)).toBeNull();
  const wrongTable = Buffer.from(bytes);
  wrongTable.writeUInt32BE(0x7fffffff, wrongTable.lastIndexOf('stsz') + 12);
  expect(await copyOf(wrongTable)).toBeNull();
  expect(await copyOf(Buffer.concat([bytes, box('moof', Buffer.alloc(0))]))).toBeNull();
  expect(await copyOf(bytes, 'video/webm')).toBeNull();
});
