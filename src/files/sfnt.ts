import { inflateSync } from 'node:zlib';

/** Bytes of one table in a TrueType file's list of tables, and before that list. */
const ENTRY = 16;
const HEAD = 12;
/** The same of a WOFF file. */
const WOFF_ENTRY = 20;
const WOFF_HEAD = 44;

/**
 * A WOFF 1.0 face as the TrueType file it was packed from.
 *
 * @throws {RangeError} When it is no WOFF file.
 * @see W3C, WOFF File Format 1.0, sections 3 to 5.
 */
export function unpackedWoff(woff: Buffer): Buffer {
  if (woff.toString('latin1', 0, 4) !== 'wOFF') throw new RangeError('no WOFF file');
  const count = woff.readUInt16BE(12);
  const head = Buffer.alloc(HEAD + ENTRY * count);
  woff.copy(head, 0, 4, 8);
  const power = Math.floor(Math.log2(count));
  head.writeUInt16BE(count, 4);
  head.writeUInt16BE(ENTRY * 2 ** power, 6);
  head.writeUInt16BE(power, 8);
  head.writeUInt16BE(ENTRY * (count - 2 ** power), 10);
  const parts: Buffer[] = [head];
  let offset = head.length;
  for (let i = 0; i < count; i++) {
    const at = WOFF_HEAD + WOFF_ENTRY * i;
    const [from, packed, length] = [4, 8, 12].map((field) => woff.readUInt32BE(at + field)) as [
      number,
      number,
      number,
    ];
    const raw = woff.subarray(from, from + packed);
    const padded = Math.ceil(length / 4) * 4;
    const entry = HEAD + ENTRY * i;
    woff.copy(head, entry, at, at + 4);
    woff.copy(head, entry + 4, at + 16, at + 20);
    head.writeUInt32BE(offset, entry + 8);
    head.writeUInt32BE(length, entry + 12);
    parts.push(packed < length ? inflateSync(raw) : raw, Buffer.alloc(padded - length));
    offset += padded;
  }
  return Buffer.concat(parts);
}

/**
 * The characters a TrueType face draws, by its Unicode character map of format 4 or 12.
 *
 * @throws {RangeError} When it has none.
 * @see ISO/IEC 14496-22, cmap.
 */
export function charactersOf(face: Buffer): ReadonlySet<number> {
  const cmap = tableAt(face, 'cmap');
  const maps = Array.from(
    { length: face.readUInt16BE(cmap + 2) },
    (_, i) => cmap + face.readUInt32BE(cmap + 8 + 8 * i),
  );
  const found = new Set<number>();
  for (const at of maps) {
    const format = face.readUInt16BE(at);
    if (format === 12) addGroups(face, at, found);
    if (format === 4) addSegments(face, at, found);
  }
  if (found.size === 0) throw new RangeError('no character map of format 4 or 12');
  return found;
}

function tableAt(face: Buffer, tag: string): number {
  for (let i = 0; i < face.readUInt16BE(4); i++) {
    const entry = HEAD + ENTRY * i;
    if (face.toString('latin1', entry, entry + 4) === tag) return face.readUInt32BE(entry + 8);
  }
  throw new RangeError(`no table ${tag}`);
}

function addGroups(face: Buffer, at: number, found: Set<number>): void {
  for (let i = 0; i < face.readUInt32BE(at + 12); i++) {
    const [first, last] = [0, 4].map((field) => face.readUInt32BE(at + 16 + 12 * i + field)) as [
      number,
      number,
    ];
    for (let each = first; each <= last; each++) found.add(each);
  }
}

/** A character of a segment may have no glyph: its place in the list of glyphs says so. */
function addSegments(face: Buffer, at: number, found: Set<number>): void {
  const twice = face.readUInt16BE(at + 6);
  const [ends, starts, deltas, offsets] = [14, 16 + twice, 16 + 2 * twice, 16 + 3 * twice].map(
    (part) => at + part,
  ) as [number, number, number, number];
  for (let i = 0; i < twice; i += 2) {
    const [first, last] = [face.readUInt16BE(starts + i), face.readUInt16BE(ends + i)];
    const offset = face.readUInt16BE(offsets + i);
    for (let each = first; each <= last && each < 0xffff; each++) {
      const glyph =
        offset === 0
          ? (each + face.readUInt16BE(deltas + i)) & 0xffff
          : face.readUInt16BE(offsets + i + offset + 2 * (each - first));
      if (glyph !== 0) found.add(each);
    }
  }
}
