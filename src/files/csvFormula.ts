/** What a spreadsheet takes for a formula: its first sign, also of full width, behind any apostrophes (OWASP, CSV Injection). */
const FORMULA = /^'*[=+\-@\t\r\n＝＋－＠]/;
const MADE_HARMLESS = /^'+[=+\-@\t\r\n＝＋－＠]/;

/** A text as a cell that no spreadsheet reckons: an apostrophe before what looks like a formula. */
export const harmlessCell = (text: string): string => (FORMULA.test(text) ? `'${text}` : text);

/** The text of a cell as it was before. */
export const textOfCell = (cell: string): string => (MADE_HARMLESS.test(cell) ? cell.slice(1) : cell);
