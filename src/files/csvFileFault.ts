import type { RowFault } from './csvFault.js';

/** A fault that ends the reading of its file: what follows it cannot be trusted or understood. */
export class FileFault extends Error {
  readonly fault: RowFault;

  constructor(file: string, line: number | null, value: string | null, problem: string, remedy: string) {
    super(`${file}: ${problem}`);
    this.name = 'FileFault';
    this.fault = { file, line, column: null, value, problem, remedy };
  }
}
