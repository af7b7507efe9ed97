/** Numbers in a block out of which rows are cut. */
const BLOCK = 1 << 13;

let block = new Float64Array(BLOCK);
let used = 0;

/**
 * A row of zeros. Small arrays with a memory of their own cost twenty times as much as rows cut from a common block;
 * a row that is kept keeps its block of 64 KiB.
 */
export function freshRow(length: number): Float64Array {
  if (8 * length > BLOCK) return new Float64Array(length);
  if (used + length > BLOCK) {
    block = new Float64Array(BLOCK);
    used = 0;
  }
  const row = block.subarray(used, used + length);
  used += length;
  return row;
}
