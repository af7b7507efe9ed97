import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { basename } from 'node:path';
import type { ColumnMap } from './bookMapping.js';

/** A file to read, under the name that faults call it by. */
export interface CsvSource {
  name: string;
  /** What its columns are with us, where they have other names. */
  mapping?: ColumnMap;
  /** @throws {Error} Node's own system error when the file cannot be opened or read. */
  open(): Promise<{ bytes: AsyncIterable<Uint8Array>; sizeBytes: number | null }>;
}

const CHUNK_BYTES = 262_144;

export function csvFromPath(path: string): CsvSource {
  return {
    name: basename(path),
    async open() {
      const { size } = await stat(path);
      return { bytes: createReadStream(path, { highWaterMark: CHUNK_BYTES }), sizeBytes: size };
    },
  };
}

export function csvFromText(name: string, text: string): CsvSource {
  return csvFromBytes(name, Buffer.from(text, 'utf8'));
}

export function csvFromBytes(name: string, bytes: Uint8Array): CsvSource {
  return {
    name,
    async open() {
      return { bytes: piecesOf(bytes), sizeBytes: bytes.length };
    },
  };
}

export function csvFromStream(name: string, bytes: AsyncIterable<Uint8Array>): CsvSource {
  return {
    name,
    async open() {
      return { bytes, sizeBytes: null };
    },
  };
}

async function* piecesOf(bytes: Uint8Array): AsyncGenerator<Uint8Array> {
  for (let at = 0; at < bytes.length; at += CHUNK_BYTES) yield bytes.subarray(at, at + CHUNK_BYTES);
}
