import { stringify } from 'csv-stringify/sync';

/** One CSV line; quantities as `4 in`, lists and objects as JSON, formulas made harmless for spreadsheets. */
export function csvLine(values: readonly unknown[]): string {
  return stringify([values.map(cell)]);
}

function cell(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'object') {
    if ('value' in value && 'unit' in value) return `${String(value.value)} ${String(value.unit)}`;
    return JSON.stringify(value);
  }
  const text = String(value);
  return typeof value === 'string' && /^'*[=+\-@\t\r]/.test(text) ? `'${text}` : text;
}
