/**
 * Finds records that stand in a file twice, by two numbers that tell them apart. Sixteen bytes a record, so
 * that a million of them stay small; doubles come out when all are in.
 */
export class Doubles {
  private owners = new Uint32Array(1024);
  private keys = new Float64Array(1024);
  private lines = new Uint32Array(1024);
  private count = 0;

  /** @param owner Whose record it is, a small whole number. @param key Which of the owner's, exact in a double. */
  add(owner: number, key: number, fileLine: number): void {
    if (this.count === this.keys.length) this.grow();
    this.owners[this.count] = owner;
    this.keys[this.count] = key;
    this.lines[this.count] = fileLine;
    this.count += 1;
  }

  /** The line of each record that has an earlier double, with the line of the first one; in the file's order. */
  found(): { line: number; firstLine: number }[] {
    const { owners, keys, lines, count } = this;
    const order = new Uint32Array(count).map((_, at) => at);
    order.sort((a, b) => owners[a]! - owners[b]! || keys[a]! - keys[b]! || a - b);
    const doubles: { line: number; firstLine: number }[] = [];
    let first = 0;
    for (let at = 1; at < count; at += 1) {
      const here = order[at]!;
      const head = order[first]!;
      if (owners[here] !== owners[head] || keys[here] !== keys[head]) first = at;
      else doubles.push({ line: lines[here]!, firstLine: lines[head]! });
    }
    return doubles.sort((a, b) => a.line - b.line);
  }

  private grow(): void {
    const { owners, keys, lines } = this;
    this.owners = new Uint32Array(2 * owners.length);
    this.keys = new Float64Array(2 * keys.length);
    this.lines = new Uint32Array(2 * lines.length);
    this.owners.set(owners);
    this.keys.set(keys);
    this.lines.set(lines);
  }
}
