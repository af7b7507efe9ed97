/** Numbers in a block out of which rows are cut. */
const BLOCK = 1 << 13;

let block = new Float64Array(BLOCK);
let used = 0;

/** Blocks of the work under `reusingRows`, and where its next row begins; null outside. */
let reused: { blocks: Float64Array[]; at: number; used: number } | null = null;
const kept: Float64Array[] = [];

/**
 * A row of zeros. Small arrays with a memory of their own cost twenty times as much as rows cut from a common block;
 * a row that is kept keeps its block of 64 KiB.
 */
export function freshRow(length: number): Float64Array {
  if (8 * length > BLOCK) return new Float64Array(length);
  if (reused !== null) return reusedRow(reused, length);
  if (used + length > BLOCK) {
    block = new Float64Array(BLOCK);
    used = 0;
  }
  const row = block.subarray(used, used + length);
  used += length;
  return row;
}

function reusedRow(rows: NonNullable<typeof reused>, length: number): Float64Array {
  if (rows.used + length > BLOCK) {
    rows.at++;
    rows.used = 0;
  }
  const from = rows.blocks[rows.at] ?? new Float64Array(BLOCK);
  rows.blocks[rows.at] = from;
  const row = from.subarray(rows.used, rows.used + length);
  rows.used += length;
  return row.fill(0);
}

/**
 * Does work on one of many lines: the memory of all rows it makes serves the next line again. None of them may be kept,
 * in a cache or in what is returned.
 */
export function reusingRows<T>(work: () => T): T {
  if (reused !== null) return work();
  reused = { blocks: kept, at: 0, used: 0 };
  try {
    return work();
  } finally {
    reused = null;
  }
}
