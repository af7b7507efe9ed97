/** What stands at (x, y), this wide; what is pinned keeps its place and pushes the others. */
export interface Mark {
  x: number;
  y: number;
  width: number;
  pinned: boolean;
}

const MARK_HEIGHT = 19;
const GAP = 2;
const MOST_ROUNDS = 400;
/** Pairs looked at in all: 400 marks get about 100 rounds (measured: a third of a second). */
const MOST_PAIRS = 8_000_000;
/** Marks on one spot leave it in different directions: the angle of a sunflower's seeds. */
const GOLDEN_ANGLE = Math.PI * (3 - Math.sqrt(5));

/**
 * Moves marks that overlap apart, each pair along its shorter way out, and keeps them inside the box.
 * The same marks always end in the same places; where there is no room left some still touch.
 */
export function spreadMarks(
  marks: readonly Mark[],
  box: { left: number; right: number; top: number; bottom: number },
): { x: number; y: number }[] {
  const placed = marks.map((mark, i) => ({
    ...mark,
    x: mark.x + (mark.pinned ? 0 : 0.5 * Math.cos(i * GOLDEN_ANGLE)),
    y: mark.y + (mark.pinned ? 0 : 0.5 * Math.sin(i * GOLDEN_ANGLE)),
  }));
  const rounds = Math.min(MOST_ROUNDS, Math.ceil((2 * MOST_PAIRS) / (marks.length * marks.length + 1)));
  for (let round = 0; round < rounds; round += 1) {
    let moved = false;
    for (const [i, a] of placed.entries()) {
      for (let j = i + 1; j < placed.length; j += 1) moved = pushApart(a, placed[j] ?? a) || moved;
    }
    for (const mark of placed.filter(({ pinned }) => !pinned)) {
      mark.x = Math.min(box.right - mark.width / 2 - 3, Math.max(box.left + mark.width / 2 + 3, mark.x));
      mark.y = Math.min(box.bottom - MARK_HEIGHT / 2 - 3, Math.max(box.top + MARK_HEIGHT / 2 + 3, mark.y));
    }
    if (!moved) break;
  }
  return placed.map(({ x, y }) => ({ x, y }));
}

function pushApart(a: Mark, b: Mark): boolean {
  if (a.pinned && b.pinned) return false;
  const overX = (a.width + b.width) / 2 + GAP - Math.abs(a.x - b.x);
  const overY = MARK_HEIGHT + GAP - Math.abs(a.y - b.y);
  if (overX <= 0.01 || overY <= 0.01) return false;
  const shareOfA = a.pinned ? 0 : b.pinned ? 1 : 0.5;
  if (overX < overY) {
    const way = a.x < b.x ? overX : -overX;
    a.x -= way * shareOfA;
    b.x += way * (1 - shareOfA);
  } else {
    const way = a.y < b.y ? overY : -overY;
    a.y -= way * shareOfA;
    b.y += way * (1 - shareOfA);
  }
  return true;
}
