import { z } from 'zod';
import { ruleBroken } from '../../actions/problems.js';
import type { Basis } from '../../domain/hydraulics/formulas.js';
import type { PipeChanges } from '../../domain/hydraulics/pipes.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { reason } from '../shapes.js';

/** A question with its answer and nothing kept: what an app on site asks. */
export interface Calculation {
  path: string;
  operationId: string;
  /** Has rules beyond the shape of its body. */
  ruled: boolean;
  summary: string;
  body: z.ZodType;
  answer: z.ZodType;
  /** @throws {Refused} `rule-broken`, naming the field. */
  compute: (
    body: never,
    units: UnitSystem,
    pipes: PipeChanges,
    settings: OwnerSettings,
  ) => Record<string, unknown>;
  /** The answer as a picture (SVG), where one says it better. */
  figure?: {
    operationId: string;
    summary: string;
    draw: (body: never, units: UnitSystem, pipes: PipeChanges) => string;
  };
}

/** Formulas and sources that an answer rests on. */
export const sources = z
  .array(
    z
      .object({ formula: z.string(), source: z.string() })
      .meta({ id: 'Basis', description: 'A formula or rule, and where it is from.' }),
  )
  .describe('what the numbers rest on');
/** What was taken where nothing was given. */
export const assumptions = z.array(reason).describe('what was taken where nothing was given');

export interface Assumption {
  code: string;
  facts: Record<string, unknown>;
  text: string;
}

/** Something taken because it was not given. */
export const assumed = (field: string, value: number, text: string): Assumption => ({
  code: 'assumed',
  facts: { field, value },
  text,
});

export const basisOf = (...bases: Basis[]): Basis[] =>
  bases.map(({ formula, source }) => ({ formula, source }));

/** Refuses a field of the body. */
export const badField = (field: string, detail: string, remedy: string) =>
  ruleBroken('calculation', `#/${field}`, detail, remedy);
