import { z } from 'zod';
import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { notOfOneLine, plainLine } from '../domain/oneLine.js';

/** Says what is wrong with a cell and what would be right; its result stands for "no value". */
export type Refuse = (problem: string, remedy: string) => never;

const LONGEST_ID = 120;
const DAY_MS = 86_400_000;
const EARLIEST_DAY = '1850-01-01';
const SPREADSHEET_ERROR = /^#(REF!|N\/A|NAME\?|VALUE!|DIV\/0!|NULL!|NUM!|#+)$/;
// biome-ignore lint/suspicious/noControlCharactersInRegex: these are what is looked for.
const CONTROL_CHARACTER = /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f]/;
const DAY = /^\d{4}-\d{2}-\d{2}$/;
const INSTANT = /^(\d{4}-\d{2}-\d{2})[T ]([01]\d|2[0-3]):[0-5]\d(:[0-5]\d(\.\d{1,9})?)?(Z|[+-]\d{2}:\d{2})$/;
const NUMBER = /^[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?$/i;

class CellFault extends Error {
  readonly problem: string;
  readonly remedy: string;

  constructor(problem: string, remedy: string) {
    super(problem);
    this.problem = problem;
    this.remedy = remedy;
  }
}

const refuse: Refuse = (problem, remedy) => {
  throw new CellFault(problem, remedy);
};

/** A cell's schema from a function that reads its text. */
export function cell<T>(read: (text: string, refuse: Refuse) => T) {
  return z.string().transform((text, context): T => {
    try {
      if (SPREADSHEET_ERROR.test(text)) refuse("a spreadsheet's error", 'mend the cell in the spreadsheet');
      return read(text, refuse);
    } catch (error) {
      if (!(error instanceof CellFault)) throw error;
      context.addIssue({ code: 'custom', message: error.problem, params: { remedy: error.remedy } });
      return z.NEVER;
    }
  });
}

/** As `cell`; empty or `unknown` is null. */
function optionalCell<T>(read: (text: string, refuse: Refuse) => T) {
  return cell((text, no) => (isUnknown(text) ? null : read(text, no)));
}

function isUnknown(text: string): boolean {
  return text === '' || text === 'unknown';
}

/** Text of one line. */
export function readText(longest: number) {
  return (given: string, no: Refuse): string => {
    const text = plainLine(given);
    if (text === '') return no('empty', 'fill it in');
    if (text.length > longest) return no(`longer than ${longest} characters`, 'shorten it');
    const strange = notOfOneLine(text);
    if (strange !== null) return no(strange, 'type the cell anew');
    return text;
  };
}

export const textCell = (longest: number) => cell(readText(longest));
export const idCell = () => cell(readText(LONGEST_ID));

/** A name: empty is null, any other text is kept, the word `unknown` too. */
export const optionalTextCell = (longest: number) =>
  cell((text, no) => (text === '' ? null : readText(longest)(text, no)));

/** A note of any number of lines; empty is null. */
export const noteCell = (longest: number) =>
  cell((text, no) => {
    if (text.length > longest) return no(`longer than ${longest} characters`, 'shorten it');
    if (CONTROL_CHARACTER.test(text)) return no('a control character', 'type the cell anew');
    return text === '' ? null : text;
  });

function readWord<W extends string>(words: readonly W[]) {
  return (text: string, no: Refuse): W => {
    const word = words.find((each) => each === text.toLowerCase());
    return word ?? no(text === '' ? 'empty' : 'is not one of the known words', `one of: ${words.join(', ')}`);
  };
}

export const wordCell = <W extends string>(words: readonly W[]) => cell(readWord(words));

/** A word of the list; empty is `whenEmpty`. */
export const wordCellOr = <W extends string, E extends W | null>(words: readonly W[], whenEmpty: E) =>
  cell((text, no): W | E => (text === '' ? whenEmpty : readWord(words)(text, no)));

export interface Range {
  /** What the number is, with its unit: `mm`, `a share from 0 to 1`. */
  unit: string;
  min: number;
  max: number;
  /** What to do when the number is outside. */
  outside?: string;
  whole?: boolean;
}

function readNumber({ unit, min, max, outside, whole }: Range) {
  return (text: string, no: Refuse): number => {
    if (!NUMBER.test(text)) return no(text === '' ? 'empty' : 'no number', numberRemedy(text, unit));
    const value = Number(text);
    if (whole && !Number.isInteger(value)) return no('no whole number', `a whole number (${unit})`);
    if (value < min) return no(`is below ${min}`, outside ?? `from ${min} to ${max} (${unit})`);
    if (value > max) return no(`is above ${max}`, outside ?? `from ${min} to ${max} (${unit})`);
    return value;
  };
}

function numberRemedy(text: string, unit: string): string {
  if (/^[+-]?\d+,\d+$/.test(text)) return `write ${text.replace(',', '.')} (${unit})`;
  return `the number alone, with a point, without its unit (${unit})`;
}

export const numberCell = (range: Range) => cell(readNumber(range));
export const optionalNumberCell = (range: Range) => optionalCell(readNumber(range));

function readDay(text: string, no: Refuse): IsoDate {
  if (!DAY.test(text)) return no(text === '' ? 'empty' : 'no day', 'write year-month-day: 2026-03-04');
  if (!isDay(text)) return no('no day of the calendar', 'check month and day: year-month-day');
  if (text < EARLIEST_DAY) return no(`before ${EARLIEST_DAY}`, 'check the year');
  return text;
}

export const optionalDayCell = () => optionalCell(readDay);

function isDay(text: string): boolean {
  try {
    dayNumber(text);
    return true;
  } catch {
    return false;
  }
}

/** Milliseconds since 1970, UTC. A day without a time is taken at noon UTC. */
function readInstant(text: string, no: Refuse): number {
  if (DAY.test(text)) return Date.parse(readDay(text, no)) + DAY_MS / 2;
  const day = INSTANT.exec(text)?.[1];
  if (day === undefined) return no(text === '' ? 'empty' : 'no instant', instantRemedy(text));
  readDay(day, no);
  const offset = /[+-]\d{2}:\d{2}$/.exec(text)?.[0];
  if (offset !== undefined && !isOffset(offset)) {
    return no(`no zone is ${offset} from UTC`, 'Z for UTC, or an offset from -12:00 to +14:00');
  }
  return Date.parse(text.replace(' ', 'T'));
}

/** Clocks of the earth run from twelve hours behind UTC to fourteen ahead (IANA time zone database). */
function isOffset(offset: string): boolean {
  const [hours = 0, minutes = 0] = offset.slice(1).split(':').map(Number);
  const most = offset.startsWith('-') ? 12 * 60 : 14 * 60;
  return minutes < 60 && hours * 60 + minutes <= most;
}

function instantRemedy(text: string): string {
  if (/^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?$/.test(text)) {
    return 'add the zone: Z for UTC or an offset such as -05:00; or write the day alone';
  }
  return 'write 2026-03-04T14:30:00Z, 2026-03-04T08:30:00-06:00, or the day alone: 2026-03-04';
}

export const instantCell = () => cell(readInstant);

function readFlag(text: string, no: Refuse): boolean {
  const said = text.toLowerCase();
  if (said === '1' || said === 'yes' || said === 'true') return true;
  if (said === '0' || said === 'no' || said === 'false') return false;
  return no(text === '' ? 'empty' : 'neither yes nor no', '1 or yes, 0 or no');
}

/** 0 or 1, also no or yes, false or true. */
export const flagCell = () => cell(readFlag);
export const optionalFlagCell = () => optionalCell(readFlag);

function readTimeOfDay(text: string, no: Refuse): string {
  const padded = /^\d:\d{2}$/.test(text) ? `0${text}` : text;
  if (!/^([01]\d|2[0-3]):[0-5]\d$/.test(padded)) return no('no time of day', 'write 07:30');
  return padded;
}

/** Local time of day, `07:30`. */
export const timeOfDayCell = () => cell(readTimeOfDay);
export const optionalTimeOfDayCell = () => optionalCell(readTimeOfDay);

/** Words of the list separated by semicolons, one at least. Doubled words count once. */
export const wordListCell = <W extends string>(words: readonly W[]) =>
  cell((text, no): W[] => {
    const parts = text.split(';').flatMap((part) => (part.trim() === '' ? [] : [part.trim()]));
    if (parts.length === 0) return no('empty', `separated by ";", one of: ${words.join(', ')}`);
    return [...new Set(parts.map((part) => readWord(words)(part, listRefusal(part, no))))];
  });

function listRefusal(part: string, no: Refuse): Refuse {
  return (problem, remedy) => no(`${JSON.stringify(part)}: ${problem}`, `separated by ";", ${remedy}`);
}
