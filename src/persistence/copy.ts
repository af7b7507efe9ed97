import { once } from 'node:events';
import type { PoolClient } from 'pg';
import { from as copyFrom, to as copyTo } from 'pg-copy-streams';

/** What a column takes: an object goes as JSON, a list as a PostgreSQL array. */
export type CopyValue = string | number | bigint | boolean | Date | Uint8Array | object | null | undefined;

const CHUNK_CHARACTERS = 1 << 16;
const ESCAPES: Record<string, string> = { '\\': '\\\\', '\t': '\\t', '\n': '\\n', '\r': '\\r' };

/**
 * Writes rows by COPY, the fastest way in; part of the client's transaction, if it is in one.
 *
 * @param rows One value per column, in the columns' order.
 * @returns    How many rows went in.
 */
export async function copyIn(
  client: PoolClient,
  table: string,
  columns: readonly string[],
  rows: Iterable<readonly CopyValue[]> | AsyncIterable<readonly CopyValue[]>,
  schema = 'public',
): Promise<number> {
  const names = columns.map((column) => client.escapeIdentifier(column)).join(', ');
  const stream = client.query(
    copyFrom(
      `COPY ${client.escapeIdentifier(schema)}.${client.escapeIdentifier(table)} (${names}) FROM STDIN`,
    ),
  );
  let refused: Error | undefined;
  stream.on('error', (error) => {
    refused = error;
  });
  try {
    let chunk = '';
    const take = (row: readonly CopyValue[]): boolean => {
      if (row.length !== columns.length) throw new RangeError(`${row.length} values for columns ${names}`);
      chunk += copyLine(row);
      return chunk.length >= CHUNK_CHARACTERS;
    };
    const send = async (): Promise<void> => {
      const text = chunk;
      chunk = '';
      if (!stream.write(text)) await once(stream, 'drain');
    };
    // Rows at hand need not be waited for one by one.
    if (Symbol.iterator in rows) {
      for (const row of rows) {
        if (refused) break;
        if (take(row)) await send();
      }
    } else {
      for await (const row of rows) {
        if (refused) break;
        if (take(row)) await send();
      }
    }
    if (!refused) {
      stream.end(chunk);
      await once(stream, 'finish');
    }
  } catch (error) {
    // Waits until the server has given the COPY up, so that the connection can be used on.
    if (!refused) await Promise.allSettled([once(stream.destroy(asError(error)), 'close')]);
    throw error;
  }
  if (refused) throw refused;
  return stream.rowCount;
}

function asError(error: unknown): Error {
  return error instanceof Error ? error : new Error(String(error));
}

/** One row of COPY's text format: values by tabs, NULL as \N. */
export function copyLine(row: readonly CopyValue[]): string {
  let line = '';
  for (let i = 0; i < row.length; i++) line += (i === 0 ? '' : '\t') + copyField(row[i]);
  return `${line}\n`;
}

function copyField(value: CopyValue): string {
  if (value === null || value === undefined) return '\\N';
  switch (typeof value) {
    case 'number':
    case 'bigint':
      return String(value);
    case 'boolean':
      return value ? 't' : 'f';
    case 'string':
      return escaped(value);
    default:
      if (value instanceof Date) return value.toISOString();
      if (value instanceof Uint8Array) return `\\\\x${Buffer.from(value).toString('hex')}`;
      return escaped(Array.isArray(value) ? arrayLiteral(value) : JSON.stringify(value));
  }
}

function escaped(text: string): string {
  return /[\\\t\n\r]/.test(text) ? text.replace(/[\\\t\n\r]/g, (sign) => ESCAPES[sign] ?? sign) : text;
}

function arrayLiteral(values: readonly unknown[]): string {
  const items = values.map((value) => {
    if (value === null || value === undefined) return 'NULL';
    if (Array.isArray(value)) return arrayLiteral(value);
    const text = typeof value === 'object' ? JSON.stringify(value) : String(value);
    return `"${text.replace(/["\\]/g, '\\$&')}"`;
  });
  return `{${items.join(',')}}`;
}

const TAB = 9;
const NEWLINE = 10;
const BACKSLASH = 92;
const MINUS = 45;
const DIGIT_ZERO = 48;
const CAPITAL_N = 78;

/** A row as COPY sends it, read where it lies: valid only until the next one. Columns count from 0. */
export class CopyRow {
  private bytes: Buffer = Buffer.alloc(0);
  /** Where each column begins; the last entry is one past the row's end. */
  private readonly starts: number[] = [];
  private columns = 0;

  /** Takes the row that begins at `start`; returns where the next begins, or -1 when it is cut off. */
  take(bytes: Buffer, start: number): number {
    this.bytes = bytes;
    this.columns = 0;
    this.starts[0] = start;
    for (let i = start; i < bytes.length; i++) {
      const byte = bytes[i];
      if (byte !== TAB && byte !== NEWLINE) continue;
      this.starts[++this.columns] = i + 1;
      if (byte === NEWLINE) return i + 1;
    }
    return -1;
  }

  isNull(column: number): boolean {
    const start = this.start(column);
    return this.bytes[start] === BACKSLASH && this.bytes[start + 1] === CAPITAL_N;
  }

  /** An integer; NULL gives NaN. */
  integer(column: number): number {
    if (this.isNull(column)) return Number.NaN;
    const { bytes } = this;
    const end = this.end(column);
    let i = this.start(column);
    const sign = bytes[i] === MINUS ? -1 : 1;
    if (sign < 0) i++;
    let value = 0;
    for (; i < end; i++) value = value * 10 + (bytes[i] as number) - DIGIT_ZERO;
    return sign * value;
  }

  /** A float8; NULL gives NaN. */
  float(column: number): number {
    return this.isNull(column) ? Number.NaN : Number(this.latin1(column));
  }

  text(column: number): string | null {
    if (this.isNull(column)) return null;
    const text = this.bytes.toString('utf8', this.start(column), this.end(column));
    return text.includes('\\') ? unescaped(text) : text;
  }

  /** A text of which there are few: the same string each time, which is cheaper to make, to keep and to look up. */
  word(column: number): string | null {
    if (this.isNull(column)) return null;
    const { bytes } = this;
    const [from, end] = [this.start(column), this.end(column)];
    let place = 0;
    for (let i = from; i < end; i++) place = (31 * place + bytes[i]!) & (WORDS_KEPT - 1);
    const held = words[place];
    if (held !== undefined && isText(bytes, from, end, held)) return held;
    const text = this.text(column) ?? '';
    if (isText(bytes, from, end, text)) words[place] = text;
    return text;
  }

  private latin1(column: number): string {
    return this.bytes.toString('latin1', this.start(column), this.end(column));
  }

  private start(column: number): number {
    const start = this.starts[column];
    if (start === undefined || column >= this.columns)
      throw new RangeError(`the row has no column ${column}`);
    return start;
  }

  private end(column: number): number {
    return (this.starts[column + 1] as number) - 1;
  }
}

/** The last word at each place; one that comes to the place of another takes it. */
const WORDS_KEPT = 1 << 14;
const words: (string | undefined)[] = new Array(WORDS_KEPT);

/** Whether plain ASCII bytes are that text: others are never held. */
function isText(bytes: Buffer, from: number, end: number, text: string): boolean {
  if (text.length !== end - from) return false;
  for (let i = from; i < end; i++) if (bytes[i] !== text.charCodeAt(i - from)) return false;
  return true;
}

const UNESCAPES: Record<string, string> = { t: '\t', n: '\n', r: '\r', b: '\b', f: '\f', v: '\v' };

function unescaped(text: string): string {
  return text.replace(/\\(.)/gs, (_, sign: string) => UNESCAPES[sign] ?? sign);
}

/**
 * Reads the rows of a query by COPY, the fastest way out.
 *
 * @param query Takes no parameters: COPY has none. Values come in through `client.escapeLiteral`.
 * @param visit Called once a row, in order; the row is only valid inside the call.
 * @returns     How many rows came.
 */
export async function copyOut(
  client: PoolClient,
  query: string,
  visit: (row: CopyRow) => void,
): Promise<number> {
  const stream = client.query(copyTo(`COPY (${query}) TO STDOUT`));
  const row = new CopyRow();
  let cut: Buffer = Buffer.alloc(0);
  let thrown: { error: unknown } | undefined;
  for await (const chunk of stream as AsyncIterable<Buffer>) {
    if (thrown) continue; // the rest must be read before the connection can be used on
    const bytes = cut.length === 0 ? chunk : Buffer.concat([cut, chunk]);
    try {
      cut = bytes.subarray(visitRows(row, bytes, visit));
    } catch (error) {
      thrown = { error };
    }
  }
  if (thrown) throw thrown.error;
  return stream.rowCount;
}

/** Visits the whole rows of a chunk; returns where the one that is cut off begins. */
function visitRows(row: CopyRow, bytes: Buffer, visit: (row: CopyRow) => void): number {
  let at = 0;
  for (let next = row.take(bytes, 0); next > 0; next = row.take(bytes, at)) {
    visit(row);
    at = next;
  }
  return at;
}
