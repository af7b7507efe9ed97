/** Rows under the heading they share, headings in the order of `of`, each with its rows as they came. */
export function underHeadings<Row>(
  rows: readonly Row[],
  of: (row: Row) => string,
): ({ heading: string } | { row: Row })[] {
  const groups = new Map<string, Row[]>();
  for (const row of rows) groups.set(of(row), [...(groups.get(of(row)) ?? []), row]);
  return [...groups].flatMap(([heading, own]) => [{ heading }, ...own.map((row) => ({ row }))]);
}
