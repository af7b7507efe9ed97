import type { Paper } from '../../papers/paper.js';

/** Makes a PDF of a paper, away from whoever serves. */
export interface PaperPrinter {
  /** @throws {Refused} `busy` when too many wait, or it takes too long. */
  print(paper: Paper): Promise<Uint8Array>;
}
