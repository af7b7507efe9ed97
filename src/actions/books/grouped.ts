export function grouped<T>(items: readonly T[], keyOf: (item: T) => string): Map<string, T[]> {
  const groups = new Map<string, T[]>();
  for (const item of items) {
    const key = keyOf(item);
    const held = groups.get(key);
    if (held) held.push(item);
    else groups.set(key, [item]);
  }
  return groups;
}
