import { z } from 'zod';
import { dayNumber } from '../domain/calendar/isoDate.js';

/** Text a person typed: trimmed, no NUL and no lone surrogates (PostgreSQL refuses both), bounded. */
export function text(max: number, min = 1) {
  return z
    .string()
    .max(max)
    .refine((s) => !s.includes('\u0000') && s.isWellFormed(), 'holds a NUL or a broken character')
    .refine((s) => s.trim().length >= min, `needs at least ${min} visible character${min === 1 ? '' : 's'}`)
    .meta({ minLength: min, example: 'text' });
}

/** Ids are compared as text: `A` and `a` are one id. */
export const id = z.uuid().toLowerCase().meta({ example: '019abcde-0000-7000-8000-000000000001' });

/** A calendar day in the business's zone. */
export const day = z
  .string()
  .refine((s) => {
    try {
      return dayNumber(s) > -200_000;
    } catch {
      return false;
    }
  }, 'is not a calendar day written YYYY-MM-DD')
  .meta({ format: 'date', example: '2026-10-01' });

const inUtc = (text: string): string => {
  const at = new Date(text);
  return Number.isNaN(at.getTime()) ? text : at.toISOString();
};

/** RFC 3339, any offset (PostgreSQL takes fewer than the RFC does); stored and answered in UTC. */
export const instant = z.iso
  .datetime({ offset: true })
  .refine((s) => {
    const ms = Date.parse(s);
    return ms >= Date.UTC(1900, 0, 1) && ms < Date.UTC(2200, 0, 1);
  }, 'lies outside the years 1900 to 2199')
  .overwrite(inUtc)
  .meta({ format: 'date-time', example: '2026-10-01T08:30:00Z' });

export const timeOfDay = z
  .string()
  .regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'is not a time of day written HH:MM')
  .meta({ example: '07:30' });

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

/** Refusals an operation may answer with, as response schemas. */
export function refusals(...statuses: number[]): Record<number, z.ZodType> {
  return Object.fromEntries(
    [...new Set([400, 401, 403, 429, 503, ...statuses])].map((status) => [status, problem]),
  );
}
