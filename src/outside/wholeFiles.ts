import { type FileHandle, open } from 'node:fs/promises';

/**
 * Whether a clip or paper of this media type ends where it says that it does; what broke off on a phone or on the way
 * is of no use to who looks at it later.
 *
 * @returns What is wrong with its end, in words; null where nothing is.
 */
export async function brokenOff(path: string, mediaType: string): Promise<string | null> {
  const look = LOOKS[mediaType];
  if (look === undefined) return null;
  const file = await open(path, 'r');
  try {
    return await look(file, (await file.stat()).size);
  } finally {
    await file.close();
  }
}

const LOOKS: Record<string, (file: FileHandle, size: number) => Promise<string | null>> = {
  'application/pdf': endOfPaper,
  'video/mp4': endOfBoxes,
  'video/quicktime': endOfBoxes,
  'video/webm': endOfSegment,
};

async function read(file: FileHandle, from: number, length: number): Promise<Buffer> {
  const { bytesRead, buffer } = await file.read(Buffer.alloc(length), 0, length, from);
  return buffer.subarray(0, bytesRead);
}

/** Readers look for the end in the last so many bytes (PDF Reference 1.7, Adobe 2006, Appendix H.3, note 18; from memory). */
const PDF_END_WITHIN = 1024;

async function endOfPaper(file: FileHandle, size: number): Promise<string | null> {
  const from = Math.max(0, size - PDF_END_WITHIN);
  const end = await read(file, from, size - from);
  return end.includes('%%EOF') ? null : 'the paper breaks off before its end';
}

const MOST_BOXES = 100_000;
/** QuickTime may end its list of boxes with four zero bytes. */
const BOX_HEAD = 8;

/** Boxes at the top of an MP4 or QuickTime file fill it to its last byte, and one of them tells of the tracks (ISO/IEC 14496-12). */
async function endOfBoxes(file: FileHandle, size: number): Promise<string | null> {
  let tracks = false;
  let at = 0;
  for (let count = 0; size - at >= BOX_HEAD; count++) {
    const head = await read(file, at, 16);
    const short = head.readUInt32BE(0);
    const type = head.toString('latin1', 4, 8);
    const isLong = short === 1 && head.length === 16;
    const length = short === 0 ? size - at : isLong ? Number(head.readBigUInt64BE(8)) : short;
    if (length < BOX_HEAD || count > MOST_BOXES || !/^[\x20-\x7e\xa9]{4}$/.test(type))
      return 'what follows in the clip is no part of one';
    if (at + length > size) return `the clip breaks off in its part ${type}`;
    if (type === 'moov') tracks = true;
    at += length;
  }
  return tracks ? null : 'the clip breaks off before the index of its pictures';
}

const EBML = 0x1a45dfa3;
const SEGMENT = 0x18538067;

/** A WebM file is a head and a segment, each with its length; that of a segment may be left open (RFC 8794, 6). */
async function endOfSegment(file: FileHandle, size: number): Promise<string | null> {
  const head = await element(file, 0);
  if (head?.id !== EBML || head.length === null) return 'the clip breaks off in its head';
  const segment = await element(file, head.from + head.length);
  if (segment?.id !== SEGMENT) return 'the clip breaks off after its head';
  if (segment.length !== null && segment.from + segment.length > size)
    return 'the clip breaks off before its end';
  return null;
}

/** An element with an id of four bytes, as head and segment have; length null: left open. */
async function element(
  file: FileHandle,
  at: number,
): Promise<{ id: number; from: number; length: number | null } | null> {
  const bytes = await read(file, at, 12);
  const width = bytes.length < 5 ? 0 : Math.clz32(bytes[4] ?? 0) - 23;
  if (width < 1 || width > 8 || bytes.length < 4 + width) return null;
  const rest = [...bytes.subarray(5, 4 + width)];
  const first = (bytes[4] ?? 0) & (0xff >> width);
  const isOpen = first === 0xff >> width && rest.every((byte) => byte === 0xff);
  const length = rest.reduce((sum, byte) => sum * 256 + byte, first);
  return { id: bytes.readUInt32BE(0), from: at + 4 + width, length: isOpen ? null : length };
}
