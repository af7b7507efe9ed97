import { pipeline, Readable } from 'node:stream';
import { CsvError, parse } from 'csv-parse';
import { checkedBytes, type Ending, type OnProgress } from './csvBytes.js';
import { FileFault } from './csvFileFault.js';
import type { CsvSource } from './csvSource.js';

/** One record of a file and the line it begins on. */
export interface CsvRecord {
  line: number;
  cells: string[];
}

/** Longest row in characters; a quote that never closes runs into it instead of eating the memory. */
const LONGEST_ROW = 65_536;

/**
 * The records of a CSV file (RFC 4180; CRLF, LF and CR may be mixed, a byte order mark is dropped, empty lines
 * are passed over), one by one, in bounded memory.
 *
 * @throws {FileFault} When the file is no UTF-8 text or its quoting is broken.
 */
export async function* csvRecords(
  source: CsvSource,
  ending: Ending,
  onProgress?: OnProgress,
): AsyncGenerator<CsvRecord> {
  // Noted while parsing: an error drops the rows that still wait in the stream, but must know how far they went.
  let lastLine = 0;
  const waiting: number[] = [];
  const parser = parse({
    bom: true,
    relax_column_count: true,
    skip_empty_lines: true,
    record_delimiter: ['\r\n', '\n', '\r'],
    max_record_size: LONGEST_ROW,
    on_record: (cells, { lines }) => {
      lastLine = lines;
      waiting.push(lines - lineEndsWithin(cells));
      return cells;
    },
  });
  pipeline(Readable.from(checkedBytes(source, ending, onProgress)), parser, () => {
    // The parser is destroyed with the same error and throws it out of the loop below.
  });
  try {
    for await (const cells of parser as AsyncIterable<string[]>) {
      yield { line: waiting.shift() ?? lastLine, cells };
    }
  } catch (error) {
    throw error instanceof CsvError ? quotingFault(source.name, error, lastLine) : error;
  }
}

function lineEndsWithin(cells: string[]): number {
  let count = 0;
  for (const cell of cells) {
    if (cell.includes('\n') || cell.includes('\r')) count += cell.split(/\r\n|\r|\n/).length - 1;
  }
  return count;
}

function quotingFault(file: string, error: CsvError, lastLine: number): FileFault {
  const line = 'lines' in error && typeof error['lines'] === 'number' ? error['lines'] : lastLine + 1;
  switch (error.code) {
    case 'CSV_QUOTE_NOT_CLOSED':
      return new FileFault(
        file,
        lastLine + 1,
        null,
        'the file ends inside a quoted cell: it was cut off, or a quote opened on this row never closes',
        'export the file again, or close the quote',
      );
    case 'CSV_MAX_RECORD_SIZE':
      return new FileFault(
        file,
        lastLine + 1,
        null,
        `a row of more than ${LONGEST_ROW} characters: a quote opened on this row probably never closes`,
        'close the quote, or shorten the cell',
      );
    default:
      return new FileFault(
        file,
        line,
        null,
        'a quote in the middle of a cell',
        'put the whole cell in quotes and double the quote inside it: "6"" pipe"',
      );
  }
}
