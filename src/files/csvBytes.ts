import { isUtf8 } from 'node:buffer';
import { FileFault } from './csvFileFault.js';
import type { CsvSource } from './csvSource.js';

const LF = 0x0a;
const CR = 0x0d;

export interface ReadProgress {
  file: string;
  bytesRead: number;
  /** Null when the size is not known beforehand. */
  bytesTotal: number | null;
}

export type OnProgress = (progress: ReadProgress) => void;

/** How the bytes of a file ended. */
export interface Ending {
  endsWithLineEnd: boolean;
  /** Its lines end in CR LF, its last one in CR alone. */
  endsInHalf: boolean;
}

/**
 * The bytes of a source, refused where they are not UTF-8 text.
 *
 * @throws {FileFault} When the file cannot be read, is not UTF-8, or holds NUL characters.
 */
export async function* checkedBytes(
  source: CsvSource,
  ending: Ending,
  onProgress?: OnProgress,
): AsyncGenerator<Uint8Array> {
  const { bytes, sizeBytes } = await opened(source);
  const decoder = new TextDecoder('utf-8', { fatal: true });
  let line = 1;
  let last = 0;
  let pairs = false;
  let bytesRead = 0;
  for await (const chunk of readable(source, bytes)) {
    if (bytesRead === 0) refuseUtf16(source.name, chunk);
    const nul = chunk.indexOf(0);
    if (nul >= 0) throw nulFault(source.name, line + lineEndsIn(chunk.subarray(0, nul)));
    try {
      decoder.decode(chunk, { stream: true });
    } catch {
      throw encodingFault(source.name, line + firstBadLine(chunk));
    }
    line += lineEndsIn(chunk);
    bytesRead += chunk.length;
    pairs ||= (last === CR && chunk[0] === LF) || hasPair(chunk);
    last = chunk[chunk.length - 1] ?? last;
    ending.endsWithLineEnd = last === LF || last === CR;
    ending.endsInHalf = last === CR && pairs;
    onProgress?.({ file: source.name, bytesRead, bytesTotal: sizeBytes });
    yield chunk;
  }
  try {
    decoder.decode();
  } catch {
    throw encodingFault(source.name, line);
  }
}

async function opened(source: CsvSource) {
  try {
    return await source.open();
  } catch (error) {
    throw unreadable(source.name, error);
  }
}

async function* readable(source: CsvSource, bytes: AsyncIterable<Uint8Array>): AsyncGenerator<Uint8Array> {
  const iterator = bytes[Symbol.asyncIterator]();
  try {
    for (;;) {
      const next = await iterator.next().catch((error: unknown) => {
        throw unreadable(source.name, error);
      });
      if (next.done) return;
      if (next.value.length > 0) yield next.value;
    }
  } finally {
    await iterator.return?.();
  }
}

function unreadable(file: string, error: unknown): FileFault {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code === 'ENOENT') {
    return new FileFault(file, null, null, 'there is no such file', 'check the path and the name');
  }
  if (code === 'EISDIR') {
    return new FileFault(file, null, null, 'this is a folder', 'give the path of the CSV file itself');
  }
  if (code === 'EACCES' || code === 'EPERM') {
    return new FileFault(file, null, null, 'the file may not be read', 'allow this user to read it');
  }
  const said = error instanceof Error ? error.message : String(error);
  return new FileFault(file, null, null, `the file cannot be read (${said})`, 'check the file and try again');
}

function refuseUtf16(file: string, chunk: Uint8Array): void {
  const littleEndian = chunk[0] === 0xff && chunk[1] === 0xfe;
  const bigEndian = chunk[0] === 0xfe && chunk[1] === 0xff;
  if (littleEndian || bigEndian) {
    throw new FileFault(file, 1, null, 'the file is encoded in UTF-16', 'save it again as CSV UTF-8');
  }
}

function nulFault(file: string, line: number): FileFault {
  return new FileFault(
    file,
    line,
    null,
    'a NUL character: this is no text file, or it is UTF-16',
    'export it again as CSV UTF-8',
  );
}

function encodingFault(file: string, line: number): FileFault {
  return new FileFault(
    file,
    line,
    null,
    'characters that are not UTF-8',
    'save the file again as CSV UTF-8 (not Windows-1252 or Latin-1)',
  );
}

function lineEndsIn(bytes: Uint8Array): number {
  let count = 0;
  for (let at = bytes.indexOf(LF); at >= 0; at = bytes.indexOf(LF, at + 1)) count += 1;
  return count;
}

function hasPair(bytes: Uint8Array): boolean {
  for (let at = bytes.indexOf(CR); at >= 0; at = bytes.indexOf(CR, at + 1))
    if (bytes[at + 1] === LF) return true;
  return false;
}

/** Line ends before the first line that is not UTF-8; a character cut by the chunk's start is no fault. */
function firstBadLine(chunk: Uint8Array): number {
  let from = 0;
  while (from < 3 && ((chunk[from] ?? 0) & 0xc0) === 0x80) from += 1;
  let lines = 0;
  for (let end = chunk.indexOf(LF, from); end >= 0; end = chunk.indexOf(LF, from)) {
    if (!isUtf8(chunk.subarray(from, end))) return lines;
    from = end + 1;
    lines += 1;
  }
  return lines;
}
