/** One thing wrong in a file: where, what stood there, what is wrong with it, what would be right. */
export interface RowFault {
  file: string;
  /** Line of the file, counted from 1, the header included; null when the fault is the whole file's. */
  line: number | null;
  column: string | null;
  value: string | null;
  problem: string;
  remedy: string;
}

/** Something worth a look that does not stop the reading. */
export interface Remark {
  file: string;
  line: number | null;
  text: string;
}

const SHOWN_VALUE = 60;

/** Gathers faults: all are counted, the first `shown` are kept. Remarks are bounded likewise. */
export class FaultList {
  readonly faults: RowFault[] = [];
  readonly remarks: Remark[] = [];
  total = 0;
  /** Says the faults of the row at hand as its file has them. */
  inFileWords: ((fault: RowFault) => RowFault) | null = null;
  /** By file: its own name of one of our columns, for faults that are found when all files are in. */
  readonly columnNames = new Map<string, (column: string) => string>();
  private readonly shown: number;

  constructor(shown: number) {
    this.shown = shown;
  }

  add(fault: RowFault): void {
    this.total += 1;
    if (this.faults.length >= this.shown) return;
    const said = this.inFileWords?.(fault) ?? this.withFileColumn(fault);
    this.faults.push({ ...said, value: clipped(said.value) });
  }

  private withFileColumn(fault: RowFault): RowFault {
    const nameOf = this.columnNames.get(fault.file);
    return fault.column === null || !nameOf ? fault : { ...fault, column: nameOf(fault.column) };
  }

  remark(file: string, line: number | null, text: string): void {
    if (this.remarks.length < this.shown) this.remarks.push({ file, line, text });
  }
}

function clipped(value: string | null): string | null {
  if (value === null || value.length <= SHOWN_VALUE) return value;
  return `${value.slice(0, SHOWN_VALUE)}… (${value.length} characters)`;
}

/** One fault as one line of text: `readings.csv line 12, occlusion "1.4": …; …`. */
export function faultText(fault: RowFault): string {
  const line = fault.line === null ? '' : ` line ${fault.line}`;
  const column = fault.column === null ? '' : `, ${fault.column}`;
  const value = fault.value === null ? '' : ` ${JSON.stringify(fault.value)}`;
  return `${fault.file}${line}${column}${value}: ${fault.problem}; ${fault.remedy}`;
}
