import { type FileHandle, open } from 'node:fs/promises';
import type { Edit } from '../actions/files/fileStore.js';

/**
 * Boxes that a copy for clients keeps, by what they lie in (ISO/IEC 14496-12; Apple's QuickTime File Format). All others
 * are left at their place and size as `free`, filled with nothing: place, device and time lie in `udta`, `meta` and
 * `uuid`, and nobody knows what else a phone writes.
 */
const KEPT: Readonly<Record<string, readonly string[]>> = {
  file: ['ftyp', 'styp', 'pdin', 'wide', 'mdat', 'moov', 'moof', 'mfra', 'sidx', 'ssix'],
  moov: ['mvhd', 'iods', 'mvex', 'trak'],
  trak: ['tkhd', 'tapt', 'edts', 'tref', 'mdia'],
  mdia: ['mdhd', 'hdlr', 'elng', 'minf'],
  minf: ['vmhd', 'smhd', 'gmhd', 'hdlr', 'dinf', 'stbl'],
  // biome-ignore format: a list to read
  stbl: ['stsd', 'stts', 'ctts', 'cslg', 'stss', 'stps', 'stsh', 'stsc', 'stsz', 'stz2', 'stco', 'co64', 'sdtp', 'sbgp', 'sgpd', 'subs', 'padb', 'saiz', 'saio'],
  moof: ['mfhd', 'traf'],
  traf: ['tfhd', 'tfdt', 'trun', 'sbgp', 'sgpd', 'subs', 'saiz', 'saio'],
};
const DESCENDED = new Set(['moov', 'trak', 'mdia', 'minf', 'stbl', 'moof', 'traf']);
/** Tracks that are seen and heard; others (`meta`, `camm`, `sbtl` …) may carry the place with every picture. */
const SHOWN = ['vide', 'soun'];
/** More of an index than any clip of our size has. */
const MOST_OF_INDEX = 64 * 1024 * 1024;
/**
 * More than ten minutes of a phone's clip have (common practice, no source), counted over all of a clip: what a file says
 * of itself may not decide how long somebody works on it.
 */
const MOST_BOXES = 20_000;
const MOST_CHUNKS = 50_000;
const MOST_SAMPLES = 1_000_000;

interface Box {
  type: string;
  /** From the beginning of the file, bytes. */
  at: number;
  from: number;
  to: number;
}

class NotFollowed extends Error {}

/**
 * What to write over an MP4 or QuickTime clip so that it tells neither place, device nor time, with every picture
 * and sound where it was.
 *
 * @returns Null where its boxes cannot be followed to their end.
 */
export async function withoutPlace(path: string): Promise<Edit[] | null> {
  const file = await open(path, 'r');
  try {
    const clip = new Clip(file, (await file.stat()).size);
    return await clip.edits();
  } catch (error) {
    if (error instanceof NotFollowed) return null;
    throw error;
  } finally {
    await file.close();
  }
}

class Clip {
  private readonly made: Edit[] = [];
  private readonly file: FileHandle;
  private readonly size: number;
  private count = 0;
  private chunks = 0;
  private samplesLeft = MOST_SAMPLES;
  private emptied = 0;

  constructor(file: FileHandle, size: number) {
    this.file = file;
    this.size = size;
  }

  async edits(): Promise<Edit[]> {
    const boxes = await this.boxes(0, this.size);
    if (!boxes.some(({ type }) => type === 'moov')) throw new NotFollowed('no moov');
    const tracks = await this.visit('file', boxes);
    const isFragmented = boxes.some(({ type }) => type === 'moof');
    for (const { box, handler } of tracks) {
      if (SHOWN.includes(handler)) continue;
      // Where its samples lie is told by every fragment anew: none of that is followed here.
      if (isFragmented) throw new NotFollowed(`a track of ${handler} in fragments`);
      await this.emptySamples(box);
      this.blank(box);
    }
    return this.made;
  }

  private async visit(parent: string, boxes: readonly Box[]): Promise<{ box: Box; handler: string }[]> {
    const tracks: { box: Box; handler: string }[] = [];
    for (const box of boxes) {
      if (!KEPT[parent]?.includes(box.type)) this.blank(box);
      else if (box.type === 'trak') {
        await this.visit('trak', await this.boxes(box.from, box.to));
        tracks.push({ box, handler: await this.handler(box) });
      } else if (DESCENDED.has(box.type))
        tracks.push(...(await this.visit(box.type, await this.boxes(box.from, box.to))));
      else await this.clear(box);
    }
    return tracks;
  }

  /** Fields inside a kept box: when it was made, the names of what made it. */
  private async clear({ type, from, to }: Box): Promise<void> {
    if (type === 'mvhd' || type === 'tkhd' || type === 'mdhd') {
      const [version] = await this.read(from, from + 1);
      this.made.push({ at: from + 4, zeros: version === 1 ? 16 : 8 });
    }
    if (type === 'hdlr' && to > from + 24) this.made.push({ at: from + 24, zeros: to - from - 24 });
    if (type === 'stsd') await this.clearCompressor(from, to);
  }

  /** The name of the compressor in a picture's sample entry: 32 bytes from its 50th on. */
  private async clearCompressor(from: number, to: number): Promise<void> {
    for (const entry of await this.boxes(from + 8, to)) {
      if (entry.to - entry.at < 86) continue;
      const head = await this.read(entry.at + 32, entry.at + 36);
      const isPicture = head.readUInt16BE(0) > 0 && head.readUInt16BE(2) > 0 && (await this.isVideo(entry));
      if (isPicture) this.made.push({ at: entry.at + 50, zeros: 32 });
    }
  }

  /** Resolution of a picture's entry, 72 dots an inch in all that cameras write; of a sound it is something else. */
  private async isVideo(entry: Box): Promise<boolean> {
    const head = await this.read(entry.at + 36, entry.at + 44);
    return head.readUInt32BE(0) === 0x00480000 && head.readUInt32BE(4) === 0x00480000;
  }

  private async handler(trak: Box): Promise<string> {
    const hdlr = await this.inside(trak, 'mdia', 'hdlr');
    return (await this.read(hdlr.from + 8, hdlr.from + 12)).toString('latin1');
  }

  /** Empties the samples of a track: chunk by chunk, as many as `stsc` says, as long as `stsz` says. */
  private async emptySamples(trak: Box): Promise<void> {
    const table = async (...types: string[]) => {
      const stbl = await this.inside(trak, 'mdia', 'minf', 'stbl');
      const box = (await this.boxes(stbl.from, stbl.to)).find(({ type }) => types.includes(type));
      if (!box) throw new NotFollowed(`no ${types.join(' or ')}`);
      return { type: box.type, bytes: await this.read(box.from, box.to) };
    };
    const sizes = sampleSizes(await table('stsz', 'stz2'), this.samplesLeft);
    const places = chunkPlaces(await table('stco', 'co64'), MOST_CHUNKS - this.chunks);
    const perChunk = samplesPerChunk((await table('stsc')).bytes);
    this.samplesLeft -= sizes.count;
    this.chunks += places.count;
    let next = 0;
    for (let chunk = 0; chunk < places.count; chunk++) {
      const first = next;
      next = Math.min(sizes.count, first + perChunk(chunk + 1));
      this.empty(places.at(chunk), sizes.sum(first, next));
    }
  }

  /** Chunks of a right file share no byte, so that all of them are at most the file. */
  private empty(at: number, zeros: number): void {
    this.emptied += zeros;
    if (at + zeros > this.size || this.emptied > this.size) throw new NotFollowed('samples beyond the end');
    this.made.push({ at, zeros });
  }

  private async inside(box: Box, ...types: string[]): Promise<Box> {
    let found = box;
    for (const type of types) {
      const inner = (await this.boxes(found.from, found.to)).find((each) => each.type === type);
      if (!inner) throw new NotFollowed(`no ${type}`);
      found = inner;
    }
    return found;
  }

  private blank({ at, from, to }: Box): void {
    this.made.push({ at: at + 4, bytes: Buffer.from('free') }, { at: from, zeros: to - from });
  }

  private async boxes(from: number, to: number): Promise<Box[]> {
    const found: Box[] = [];
    for (let at = from; at < to; ) {
      // QuickTime ends some lists with four zero bytes.
      if (to - at < 8) break;
      const head = await this.read(at, Math.min(to, at + 16));
      const short = head.readUInt32BE(0);
      const isLong = short === 1;
      if (isLong && head.length < 16) throw new NotFollowed('a box without its size');
      const size = short === 0 ? to - at : isLong ? Number(head.readBigUInt64BE(8)) : short;
      const box = {
        type: head.toString('latin1', 4, 8),
        at,
        from: at + (isLong ? 16 : 8),
        to: at + size,
      };
      if (box.to < box.from || box.to > to) throw new NotFollowed(`${box.type} ends beyond what holds it`);
      if (++this.count > MOST_BOXES) throw new NotFollowed('too many boxes');
      found.push(box);
      at = box.to;
    }
    return found;
  }

  private async read(from: number, to: number): Promise<Buffer> {
    if (to - from > MOST_OF_INDEX) throw new NotFollowed('an index too large');
    const { bytesRead, buffer } = await this.file.read(Buffer.alloc(to - from), 0, to - from, from);
    if (bytesRead < to - from) throw new NotFollowed('breaks off');
    return buffer;
  }
}

/** A table may not say that it has more than it holds, nor more than anybody counts. */
function counted(
  bytes: Buffer,
  { at, from, width, most }: { at: number; from: number; width: number; most: number },
): number {
  const count = bytes.length >= at + 4 ? bytes.readUInt32BE(at) : Number.NaN;
  if (count > most) throw new NotFollowed('a table too long');
  if (!(from + Math.ceil(count * width) <= bytes.length)) throw new NotFollowed('a table that breaks off');
  return count;
}

interface Sizes {
  count: number;
  /** Bytes of the samples from one up to another, that one left out. */
  sum(from: number, to: number): number;
}

function sampleSizes({ type, bytes }: { type: string; bytes: Buffer }, most: number): Sizes {
  if (type === 'stz2') {
    const bits = bytes[7] ?? 0;
    if (![4, 8, 16].includes(bits)) throw new NotFollowed('sample sizes of an unknown width');
    const nibble = (i: number) => ((bytes[12 + (i >> 1)] ?? 0) >> (i % 2 === 0 ? 4 : 0)) & 15;
    return summed(counted(bytes, { at: 8, from: 12, width: bits / 8, most }), (i) =>
      bits === 16 ? bytes.readUInt16BE(12 + 2 * i) : bits === 8 ? (bytes[12 + i] ?? 0) : nibble(i),
    );
  }
  if (bytes.length < 12) throw new NotFollowed('a table that breaks off');
  const all = bytes.readUInt32BE(4);
  if (all === 0)
    return summed(counted(bytes, { at: 8, from: 12, width: 4, most }), (i) => bytes.readUInt32BE(12 + 4 * i));
  return {
    count: counted(bytes, { at: 8, from: 12, width: 0, most }),
    sum: (from, to) => (to - from) * all,
  };
}

const summed = (count: number, sizeOf: (i: number) => number): Sizes => ({
  count,
  sum(from, to) {
    let sum = 0;
    for (let i = from; i < to; i++) sum += sizeOf(i);
    return sum;
  },
});

function chunkPlaces(
  { type, bytes }: { type: string; bytes: Buffer },
  most: number,
): { count: number; at: (chunk: number) => number } {
  const width = type === 'co64' ? 8 : 4;
  return {
    count: counted(bytes, { at: 4, from: 8, width, most }),
    at: (chunk) =>
      width === 8 ? Number(bytes.readBigUInt64BE(8 + 8 * chunk)) : bytes.readUInt32BE(8 + 4 * chunk),
  };
}

/** Samples of a chunk, the first being 1, asked for in order: an entry holds from its first chunk up to that of the next. */
function samplesPerChunk(bytes: Buffer): (chunk: number) => number {
  const entries = counted(bytes, { at: 4, from: 8, width: 12, most: MOST_CHUNKS });
  const firstOf = (entry: number) => bytes.readUInt32BE(8 + 12 * entry);
  let entry = 0;
  return (chunk) => {
    while (entry + 1 < entries && firstOf(entry + 1) <= chunk) entry++;
    if (entries === 0 || firstOf(entry) > chunk) throw new NotFollowed('chunks of no entry');
    return bytes.readUInt32BE(8 + 12 * entry + 4);
  };
}
