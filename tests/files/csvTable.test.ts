import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { FaultList, faultText, type RowFault } from '../../src/files/csvFault.js';
import { csvFromBytes, csvFromStream, csvFromText } from '../../src/files/csvSource.js';
import { type Cells, readTable } from '../../src/files/csvTable.js';

const COLUMNS = { required: ['id', 'share'], optional: ['note'] };

async function readBytes(source: ReturnType<typeof csvFromText>, alsoCalled = {}) {
  const faults = new FaultList(50);
  const rows: (Cells & { line: string })[] = [];
  const whole = await readTable(source, { ...COLUMNS, alsoCalled }, faults, (line, cells) =>
    rows.push({ ...cells, line: String(line) }),
  );
  return { rows, whole, faults: faults.faults, remarks: faults.remarks };
}

const read = (text: string, alsoCalled = {}) => readBytes(csvFromText('t.csv', text), alsoCalled);

test('byte order mark, mixed line ends, blank rows and rows of commas; lines count as an editor shows them', async () => {
  const { rows, faults } = await read('\ufeffID, Share\r\nA,1\n\n,\r\nB,2\r"C\nD",3\r\nE,4\n');
  expect(faults).toEqual([]);
  expect(rows.map((row) => [row['id'], row.line])).toEqual([
    ['A', '2'],
    ['B', '5'],
    ['C\nD', '6'],
    ['E', '8'],
  ]);
});

describe('the first row', () => {
  test('a missing column is named, with those found and those expected', async () => {
    const { faults, whole } = await read('id,amount\nA,1\n');
    expect(whole).toBe(false);
    expect(faults).toHaveLength(1);
    expect(faults[0]).toMatchObject({ line: 1, column: 'share' });
    expect(faults[0]?.problem).toContain('found id, amount');
    expect(faults[0]?.remedy).toContain('id, share');
  });

  test('a column spelt almost right is refused: what stands in it would be lost', async () => {
    const { faults } = await read('id,share,notes\nA,1,x\n');
    expect(faults[0]).toMatchObject({ column: 'notes' });
    expect(faults[0]?.remedy).toContain('name it note');
  });

  test('a short name is not taken for another one that shares half its letters', async () => {
    const { rows, remarks } = await read('id,share,date\nA,1,x\n');
    expect(rows).toHaveLength(1);
    expect(remarks[0]?.text).toContain('"date" is not used');
  });

  test('a usual name for one of our columns is told with ours', async () => {
    const { faults } = await read('id,amount,remark\nA,1,x\n', { share: ['amount'], note: ['remark'] });
    expect(faults.map(faultText)).toEqual([
      't.csv line 1, share: the column is missing; found id, amount, remark; rename amount to share if that is what it holds',
      't.csv line 1, remark: no known column, but perhaps note; name it note if that is meant, else take the column out',
    ]);
  });

  test('a column of the firm’s own is passed over and remarked on', async () => {
    const { rows, remarks } = await read('id,share,invoice\nA,1,x\n');
    expect(rows[0]).toEqual({ id: 'A', share: '1', note: '', line: '2' });
    expect(remarks[0]?.text).toContain('"invoice" is not used');
  });

  test('a column twice', async () => {
    const { faults } = await read('id,share,share\nA,1,2\n');
    expect(faults[0]).toMatchObject({ column: 'share', problem: 'the column stands there twice' });
  });

  test('semicolons between the cells are told as such, once', async () => {
    const { faults } = await read('id;share\nA;1\n');
    expect(faults).toHaveLength(1);
    expect(faults[0]?.problem).toContain('separated by ";"');
  });

  test('an empty file', async () => {
    expect((await read('')).faults[0]?.problem).toBe('the file is empty');
    expect((await read('\n\n')).faults[0]?.problem).toBe('the file is empty');
  });
});

describe('rows', () => {
  test('too few cells, too many cells; empty ones too many do no harm', async () => {
    const { rows, faults } = await read('id,share\nA\nB,1,high street\nC,1,,\n');
    expect(rows.map((row) => row['id'])).toEqual(['C']);
    expect(faults.map(({ line, problem }) => [line, problem])).toEqual(
      [
        [3, '3 cells where the first row has 2'],
        [2, '1 cells where the first row has 2'],
      ].sort((a, b) => Number(a[0]) - Number(b[0])),
    );
  });

  test('a file cut off in a row, and one cut off in a quoted cell', async () => {
    expect((await read('id,share\nA,1\nB')).faults[0]).toMatchObject({ line: 3 });
    expect((await read('id,share\nA,1\nB')).faults[0]?.problem).toContain('ends in the middle');
    const quoted = await read('id,share\nA,1\n"B,2\nC,3\n');
    expect(quoted.whole).toBe(false);
    expect(quoted.faults[0]).toMatchObject({ line: 3 });
    expect(quoted.faults[0]?.problem).toContain('ends inside a quoted cell');
  });

  test('a last row without a line end is taken, and a person told to look', async () => {
    const { rows, remarks } = await read('id,share\nA,1');
    expect(rows).toHaveLength(1);
    expect(remarks[0]?.text).toContain('no line end');
  });

  describe('a last row without a line end is refused where a cut can be told', () => {
    test.each([
      ['its last cell is empty, all others are filled', 'id,share,note\nA,1,gate\nB,2,', 'note', 'empty'],
      [
        'narrower figures than all others: 0.45 cut to 0.4',
        'id,share\nA,0.45\nB,0.35\nC,0.4',
        'share',
        '"0.4"',
      ],
      ['an instant cut to a day', 'id,share\nA,2026-03-04T14:30:00Z\nB,2026-03-04', 'share', 'narrower'],
      ['half a line end', 'id,share\r\nA,1\r\nB,2\r', null, 'half a line end'],
    ])('%s', async (_name, text, column, problem) => {
      const { faults, whole } = await read(text);
      expect(whole).toBe(true);
      expect(faults).toHaveLength(1);
      expect(faults[0]).toMatchObject({ column });
      expect(faultText(faults[0] as RowFault)).toContain(problem);
      expect(faults[0]?.remedy).toContain('line end');
    });

    test.each([
      ['figures of any width', 'id,share\nA,0.45\nB,10\nC,1'],
      ['words of any width', 'id,share\nA,gate\nB,dog'],
      ['empty cells before', 'id,share,note\nA,1,\nB,1,'],
      ['nothing to compare with', 'id,share\nA,1'],
      ['the same width', 'id,share\nA,1\nB,0'],
    ])('%s: a remark only', async (_name, text) => {
      const { faults, remarks } = await read(text);
      expect(faults).toEqual([]);
      expect(remarks[0]?.text).toContain('no line end');
    });

    test('with its line end the same row is whole', async () => {
      expect((await read('id,share\nA,0.45\nB,0.4\n')).faults).toEqual([]);
    });
  });

  test('a quote in the middle of a cell', async () => {
    const { faults } = await read('id,share\nA,6" pipe\n');
    expect(faults[0]).toMatchObject({ line: 2 });
    expect(faults[0]?.remedy).toContain('double the quote');
  });

  test('a quote that swallows the file is stopped where it opened', async () => {
    const { faults } = await read(`id,share\nA,1\n"B,2\n${'C,3\n'.repeat(40_000)}`);
    expect(faults[0]).toMatchObject({ line: 3 });
    expect(faults[0]?.problem).toContain('more than 65536 characters');
  });

  test('what a spreadsheet would take for a formula stays plain text; signed numbers are none', async () => {
    const { rows, remarks } = await read(
      'id,share,note\nA,-1.5e3,=1+1\nB,+2,@here\nC,1,+1 274-555-0100\nD,1,-gate\n',
    );
    expect(rows.map((row) => row['note'])).toEqual(['=1+1', '@here', '+1 274-555-0100', '-gate']);
    expect(remarks).toHaveLength(1);
    expect(remarks[0]).toMatchObject({ line: 2 });
    expect(remarks[0]?.text).toContain('3 cells begin like a spreadsheet formula (first in note)');
  });
});

describe('bytes', () => {
  test('NUL characters, UTF-16 with and without its mark', async () => {
    expect((await read('id,share\nA,1\nB\0,2\n')).faults[0]).toMatchObject({ line: 3 });
    const utf16 = await readBytes(csvFromBytes('t.csv', Buffer.from('\ufeffid,share\n', 'utf16le')));
    expect(utf16.faults[0]?.problem).toContain('UTF-16');
    const bare = await readBytes(csvFromBytes('t.csv', Buffer.from('id,share\n', 'utf16le')));
    expect(bare.faults[0]?.problem).toContain('NUL');
  });

  test('a file that ends inside a character', async () => {
    const whole = Buffer.from('id,share\nJörg,1\nZoë', 'utf8');
    const { faults } = await readBytes(csvFromBytes('t.csv', whole.subarray(0, whole.length - 1)));
    expect(faults[0]).toMatchObject({ line: 3, problem: 'characters that are not UTF-8' });
  });

  test('where the pieces of a stream are cut makes no difference', async () => {
    const bytes = Buffer.from('id,share\r\nJörg,1\r\n"Zoë\n日本",2\r\n', 'utf8');
    const whole = await readBytes(csvFromBytes('t.csv', bytes));
    expect(whole.rows).toHaveLength(2);
    for (let cut = 1; cut < bytes.length; cut += 1) {
      const pieces = (async function* () {
        yield bytes.subarray(0, cut);
        yield bytes.subarray(cut);
      })();
      expect(await readBytes(csvFromStream('t.csv', pieces))).toEqual(whole);
    }
  });
});

test('any bytes at all end in rows or faults, never in an exception', async () => {
  const text = fc.array(
    fc.constantFrom('id,share', 'A', ',', '"', '\n', '\r\n', '\ufeff', 'é', '=1', ';', '\0'),
  );
  const source = fc.oneof(
    fc.uint8Array({ maxLength: 200 }),
    text.map((parts) => Buffer.from(`id,share\n${parts.join('')}`)),
  );
  await fc.assert(
    fc.asyncProperty(source, async (bytes) => {
      const { whole, faults } = await readBytes(csvFromBytes('t.csv', bytes));
      expect(whole || faults.length > 0).toBe(true);
    }),
    { seed: 11, numRuns: 300 },
  );
});
