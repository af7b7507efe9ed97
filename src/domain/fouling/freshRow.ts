/** Numbers in a block out of which rows are cut. */
const BLOCK = 1 << 13;

let block = new Float64Array(BLOCK);
let used = 0;

/** Rows of one length that serve one line after the other, and how many of them this line has. */
interface Shelf {
  rows: Float64Array[];
  used: number;
}

/** By their length; longer rows are not kept. */
const shelves: (Shelf | undefined)[] = [];
const LONGEST_KEPT = 256;
let reusing = false;

/**
 * A row of zeros. Small arrays with a memory of their own cost twenty times as much as rows cut from a common block,
 * and those ten times as much as one that is there already. A row that is kept keeps its block of 64 KiB.
 */
export function freshRow(length: number): Float64Array {
  if (8 * length > BLOCK) return new Float64Array(length);
  if (reusing && length <= LONGEST_KEPT) return reusedRow(length);
  if (used + length > BLOCK) {
    block = new Float64Array(BLOCK);
    used = 0;
  }
  const row = block.subarray(used, used + length);
  used += length;
  return row;
}

/** A row whose every number its taker writes: what stands in it is another line's. */
export function rowToFill(length: number): Float64Array {
  return reusing && length <= LONGEST_KEPT ? takenRow(length) : freshRow(length);
}

const reusedRow = (length: number): Float64Array => takenRow(length).fill(0);

function takenRow(length: number): Float64Array {
  let shelf = shelves[length];
  if (shelf === undefined) {
    shelf = { rows: [], used: 0 };
    shelves[length] = shelf;
  }
  const known = shelf.rows[shelf.used++];
  if (known !== undefined) return known;
  const made = new Float64Array(length);
  shelf.rows.push(made);
  return made;
}

/**
 * Does work on one of many lines: the rows it makes serve the next line again. None of them may be kept, in a cache or
 * in what is returned.
 */
export function reusingRows<T>(work: () => T): T {
  if (reusing) return work();
  reusing = true;
  try {
    return work();
  } finally {
    reusing = false;
    for (const shelf of shelves) if (shelf !== undefined) shelf.used = 0;
  }
}
