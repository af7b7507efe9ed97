import type { Readable } from 'node:stream';
import type { FileKind } from '../../domain/words.js';
import type { Turns } from './turns.js';

/** Bytes that came in and lie aside until somebody keeps or drops them. */
export interface TakenFile {
  path: string;
  bytes: number;
  sha256: Buffer;
}

/** What to write over a copy: from a byte on these, or so many zeros. Its length stays. */
export type Edit = { at: number; bytes: Buffer } | { at: number; zeros: number };

/** Where bytes are kept. A folder is one such store; another keeps to the same promises. */
export interface FileStore {
  /**
   * Takes bytes aside, to the last one on disk.
   *
   * @returns Null when there are more than `atMost`; nothing is left then, nor when the stream fails.
   */
  take(bytes: AsyncIterable<Buffer>, atMost: number): Promise<TakenFile | null>;
  /** Keeps what was taken under a key: whole, or not at all. The same key again is the same bytes. */
  keep(taken: TakenFile, key: string): Promise<void>;
  /** The same with bytes that were made here. */
  put(bytes: Buffer, key: string): Promise<void>;
  /** The same with a copy of what was taken, written over in places. */
  putEdited(taken: TakenFile, key: string, edits: readonly Edit[]): Promise<void>;
  drop(taken: TakenFile): Promise<void>;
  /** From a byte to a byte, both included; null: there is nothing under the key. */
  read(key: string, range?: { from: number; to: number }): Promise<Readable | null>;
  size(key: string): Promise<number | null>;
  /** What was kept before an instant, and removes what was taken before it and left lying. */
  keysBefore(at: Date): Promise<string[]>;
  /** Moves a file out of the way, into what was put aside on a day: nothing reads it there, and a person can put it back. */
  putAside(key: string, day: string): Promise<void>;
  /** Removes what was put aside before a day. */
  forgetAside(before: string): Promise<void>;
  remove(key: string): Promise<void>;
}

/** What the bytes themselves say they are. */
export interface FileSeen {
  kind: FileKind;
  mediaType: string;
  /** Of a photograph, as it is looked at. */
  width: number | null;
  height: number | null;
}

/** Why bytes are not taken, and what would be right. */
export interface FileFault {
  detail: string;
  remedy: string;
}

/** Eyes for files. */
export interface FileEyes {
  /** Goes by the content alone: name and declared type mean nothing. Of a photograph the head is read. */
  look(path: string): Promise<{ ok: true; seen: FileSeen } | { ok: false; fault: FileFault }>;
  /** Reads a photograph to its end, once; copies that tell nothing but what is seen: no place, no device, no time. JPEG. */
  copies(
    path: string,
  ): Promise<{ ok: true; forClients: Buffer; thumbnail: Buffer } | { ok: false; fault: FileFault }>;
  /** What makes a clip tell neither place, device nor time; null: of its kind, or as it is, that cannot be said. */
  clipEdits(path: string, mediaType: string): Promise<Edit[] | null>;
}

export interface Files {
  store: FileStore;
  eyes: FileEyes;
  /** Of looking at files, which takes a processor and much memory. */
  turns: Turns;
}
