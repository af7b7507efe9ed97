import { parentPort } from 'node:worker_threads';
import { printedFaces } from '../files/printedFaces.js';
import type { Paper } from '../papers/paper.js';
import { paperPdf } from '../papers/paperPdf.js';

/** What a thread says of a paper it was given: its bytes, or why there are none. */
export type PrintedPaper = { pdf: Uint8Array<ArrayBuffer> } | { error: unknown };

/** The printer's own thread: one paper after the other. */
parentPort?.on('message', (paper: Paper) => {
  paperPdf(paper, printedFaces).then(
    (bytes) => {
      const pdf = Uint8Array.from(bytes);
      parentPort?.postMessage({ pdf } satisfies PrintedPaper, [pdf.buffer]);
    },
    (error: unknown) => parentPort?.postMessage({ error } satisfies PrintedPaper),
  );
});
