import { z } from 'zod';
import { dayNumber } from '../domain/calendar/isoDate.js';
import { notOfOneLine, plainLine, plainPhone } from '../domain/oneLine.js';

/** What to send where something is missing or of another type, in the words of a refusal: the format, and one as it is right. */
export const wanting =
  (right: string) =>
  ({ code }: { code?: string | undefined }): string | undefined =>
    code === 'invalid_type' ? right : undefined;

const typed = (max: number, min: number, given = z.string()) =>
  given
    .max(max)
    .refine((s) => !s.includes('\u0000') && s.isWellFormed(), 'holds a NUL or a broken character')
    .refine((s) => s.trim().length >= min, `needs at least ${min} visible character${min === 1 ? '' : 's'}`);

/** Text a person typed: trimmed, no NUL and no lone surrogates (PostgreSQL refuses both), bounded. */
export const text = (max: number, min = 1) => typed(max, min).meta({ minLength: min, example: 'text' });

const ONE_LINE = 'one line of plain text: type it anew rather than copying it';

/** Text of one line, as a name, a number or an address. */
export const oneLine = (max: number, min = 1, plain = plainLine) =>
  typed(max, min, z.string().overwrite(plain))
    .superRefine((line, context) => {
      const strange = line.includes('\u0000') ? null : notOfOneLine(line);
      if (strange !== null)
        context.addIssue({ code: 'custom', message: `holds ${strange}`, params: { remedy: ONE_LINE } });
    })
    .meta({ minLength: min, example: 'text' });
export const phoneLine = (max: number) => oneLine(max, 1, plainPhone);

/** Ids are compared as text: `A` and `a` are one id. */
const ID = '019abcde-0000-7000-8000-000000000001';
export const id = z
  .uuid({ error: wanting(`an id as ${ID}`) })
  .toLowerCase()
  .meta({ example: ID });

/** A calendar day in the business's zone. */
const DAY = '2026-10-01';
export const day = z
  .string({ error: wanting(`a day as ${DAY}`) })
  .refine((s) => {
    try {
      return dayNumber(s) > -200_000;
    } catch {
      return false;
    }
  }, 'is not a calendar day written YYYY-MM-DD')
  .meta({ format: 'date', example: DAY });

const inUtc = (text: string): string => {
  const at = new Date(text);
  return Number.isNaN(at.getTime()) ? text : at.toISOString();
};

/** RFC 3339, any offset (PostgreSQL takes fewer than the RFC does); stored and answered in UTC. */
const INSTANT = '2026-10-01T08:30:00Z';
export const instant = z.iso
  .datetime({ offset: true, error: wanting(`an instant as ${INSTANT}`) })
  .refine((s) => {
    const ms = Date.parse(s);
    return ms >= Date.UTC(1900, 0, 1) && ms < Date.UTC(2200, 0, 1);
  }, 'lies outside the years 1900 to 2199')
  .overwrite(inUtc)
  .meta({ format: 'date-time', example: INSTANT });

const TIME = '07:30';
export const timeOfDay = z
  .string({ error: wanting(`a time of day as ${TIME}`) })
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'is not a time of day written HH:MM')
  .meta({ example: TIME });

/** A share of the bore's area, 0 to 1. */
export const share = z.number().min(0).max(1).meta({ example: 0.4 });

/** A reason or warning: a stable code, its numbers, and one sentence for people. */
export const reason = z
  .object({ code: z.string(), facts: z.record(z.string(), z.unknown()), text: z.string() })
  .meta({
    id: 'Reason',
    description: 'A reason or warning: stable code, its numbers, one sentence for people.',
  });

export const caution = z
  .object({
    code: z.string(),
    name: z.string().describe('a word or two, for a list'),
    text: z.string(),
    source: z.string(),
  })
  .meta({ id: 'Caution', description: 'Local codes and licensed practice come first.' });

const fieldFault = z
  .object({ pointer: z.string(), detail: z.string(), remedy: z.string() })
  .meta({ id: 'FieldFault', description: 'Where in the request, what was wrong, what would be right.' });

/** RFC 9457. */
export const problem = z
  .object({
    type: z.string(),
    title: z.string(),
    status: z.number().int(),
    detail: z.string(),
    instance: z.string().optional(),
    errors: z.array(fieldFault).optional(),
    facts: z.record(z.string(), z.unknown()).optional(),
  })
  .meta({ id: 'Problem', description: 'Problem details (RFC 9457).' });

export const PROBLEM_TYPE = 'application/problem+json';

/**
 * Refusals an operation may answer with, as response schemas: its own, and those of the door. What keys and roles are
 * refused follows from its roles; 403 among its own is for what not everybody with the role may do.
 */
export function refusals(...statuses: number[]): Record<number, z.ZodType> {
  return Object.fromEntries(
    [...new Set([400, 401, 429, 503, ...statuses])].map((status) => [status, problem]),
  );
}

/** A number in a query: digits, none of the other writings that a computer would take for one (empty, 0x10, 1e3). */
export const queryNumber = (numbers: z.ZodNumber = z.number()) =>
  z.preprocess(
    (text) => (typeof text === 'string' && /^-?\d+(\.\d+)?$/.test(text) ? Number(text) : text),
    numbers,
  );
