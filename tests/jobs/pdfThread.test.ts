import { setImmediate as turn } from 'node:timers/promises';
import { beforeAll, expect, onTestFinished, test } from 'vitest';
import { pdfThread } from '../../src/jobs/pdfThreads.js';
import type { Paper } from '../../src/papers/paper.js';
import { paperPdf } from '../../src/papers/paperPdf.js';
import { compiledService } from '../setup/compiled.js';

let compiled: (file: string) => URL;
beforeAll(() => {
  compiled = compiledService();
}, 240_000);

const printerWith = (waiting: number, seconds = 240) => {
  const printer = pdfThread(compiled('jobs/pdfThread.js'), { waiting, seconds });
  onTestFinished(() => printer.close());
  return printer;
};

const paperOf = (rows: number): Paper => ({
  title: `A log of ${rows} rows`,
  from: [],
  heading: ['Log'],
  lead: [],
  blocks: [
    {
      kind: 'table',
      columns: [{ head: 'Number', figures: true }, { head: 'What' }],
      rows: Array.from({ length: rows }, (_, i) => [[`${i}`], ['caught, to the depot']]),
    },
  ],
  foot: [],
  day: '2026-10-01',
  units: 'metric',
});

test('a long paper is printed elsewhere, byte for byte the same, while this thread goes on', async () => {
  const printer = printerWith(1);
  const paper = paperOf(1200);
  let turns = 0;
  let isPrinting = true;
  const printed = printer.print(paper).finally(() => {
    isPrinting = false;
  });
  while (isPrinting) {
    await turn();
    turns++;
  }
  // On this thread the layout would take hundreds of milliseconds without a single turn.
  expect(turns).toBeGreaterThan(50);
  expect(Buffer.compare(Buffer.from(await printed), await paperPdf(paper))).toBe(0);
}, 240_000);

test('beyond the queue it is busy at once; those in it are all printed', async () => {
  const printer = printerWith(1);
  const [first, second, third] = [0, 1, 2].map((n) => printer.print(paperOf(n + 1)));
  await expect(third).rejects.toMatchObject({ problem: { code: 'busy' } });
  for (const each of [first, second])
    expect(
      Buffer.from((await each) ?? [])
        .subarray(0, 5)
        .toString(),
    ).toBe('%PDF-');
}, 240_000);

test('a paper that takes too long ends, and the next one is printed by a new thread', async () => {
  const printer = printerWith(2, 0.001);
  await expect(printer.print(paperOf(3000))).rejects.toMatchObject({
    problem: { code: 'busy', detail: expect.stringContaining('more than') },
  });
  const patient = printerWith(2);
  const broken = patient.print({ ...paperOf(1), blocks: [{ kind: 'picture', svg: 'no picture' }] });
  await expect(broken).rejects.toBeDefined();
  expect((await patient.print(paperOf(2))).length).toBeGreaterThan(1000);
  const closing = expect(patient.print(paperOf(2))).rejects.toMatchObject({ problem: { code: 'busy' } });
  await patient.close();
  await closing;
}, 240_000);
