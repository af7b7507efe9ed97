/** JSON as YAML 1.2 in blocks, every text in double quotes, as JSON writes it: what a library takes seconds for is done at once. */
export const yamlOf = (value: object): string => `${block(value, '').trimStart()}\n`;

function block(value: unknown, indent: string): string {
  if (value === null || typeof value !== 'object') return ` ${JSON.stringify(value)}`;
  const entries = Object.entries(value).filter(([, inner]) => inner !== undefined);
  if (entries.length === 0) return Array.isArray(value) ? ' []' : ' {}';
  return entries
    .map(([name, inner]) => {
      const head = Array.isArray(value) ? '-' : `${JSON.stringify(name)}:`;
      return `\n${indent}${head}${block(inner, `${indent}  `)}`;
    })
    .join('');
}
