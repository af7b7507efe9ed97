import { z } from 'zod';
import type { LineFilter } from '../../actions/reports/lineFilter.js';
import { LINE_KINDS, MATERIALS } from '../../domain/words.js';
import { id, oneLine, queryNumber } from '../shapes.js';

const number = (least: number, most: number) => queryNumber(z.number().min(least).max(most)).optional();

/** The filter every question takes. */
const LINE_FILTER = {
  kind: z.enum(LINE_KINDS).optional(),
  material: z.enum(MATERIALS).optional(),
  area: oneLine(120).optional(),
  town: oneLine(120).optional(),
  builder: oneLine(200).optional(),
  ironFrom: number(0, 1000).describe('dissolved iron, mg/L; of the line, else of its site'),
  ironTo: number(0, 1000),
  ageFrom: number(0, 200).describe('years since the line was laid'),
  ageTo: number(0, 200),
  crewId: id.optional().describe('who cleaned the line last'),
  siteId: id.optional(),
  clientId: id.optional(),
} satisfies Record<keyof LineFilter, z.ZodType>;

/** A strict query of the common filter and a question's own fields. */
export function reportQuery(own: z.ZodRawShape) {
  const shape: z.ZodRawShape = { ...LINE_FILTER, ...own };
  return z
    .strictObject(shape)
    .refine((asked) => !isAbove(asked['ironFrom'], asked['ironTo']), {
      path: ['ironFrom'],
      message: 'is more than ironTo',
    })
    .refine((asked) => !isAbove(asked['ageFrom'], asked['ageTo']), {
      path: ['ageFrom'],
      message: 'is more than ageTo',
    })
    .refine((asked) => !isAbove(asked['fromDay'], asked['toDay']), {
      path: ['fromDay'],
      message: 'lies after toDay',
    });
}

const isAbove = (from: unknown, to: unknown): boolean =>
  (typeof from === 'number' && typeof to === 'number' && from > to) ||
  (typeof from === 'string' && typeof to === 'string' && from > to);

/** The common filter out of a parsed query. */
export const filterOf = (query: Record<string, unknown>): LineFilter =>
  Object.fromEntries(Object.keys(LINE_FILTER).map((name) => [name, query[name]]));
