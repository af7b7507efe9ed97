import { z } from 'zod';
import type { NewAnswer } from '../actions/desk/answerQuestion.js';
import { type Quantity, toStored } from '../domain/units/quantity.js';
import { BASEMENTS, MATERIALS, OUTLETS, YES_NO_UNKNOWN } from '../domain/words.js';
import { ASKED_FACTS, type AskedFact } from '../domain/work/missingFact.js';
import { measured } from './fields.js';

export const answerBody = z
  .strictObject({
    basement: z.enum(BASEMENTS).optional(),
    staysWet: z.boolean().optional(),
    material: z.enum(MATERIALS).optional(),
    bore: measured('bore').optional(),
    outlet: z.enum(OUTLETS).optional(),
    length: measured('lineLength').optional(),
    tap: z.enum(YES_NO_UNKNOWN).optional(),
    notKnown: z.literal(true).optional().describe('looked, and could not tell: another visit asks again'),
  })
  .meta({
    id: 'QuestionAnswer',
    description: 'One of these: the fact the visit asks for, or notKnown.',
    example: { material: 'clay' },
  });

const QUANTITIES: Partial<Record<AskedFact, 'bore' | 'length'>> = { bore: 'bore', length: 'length' };

/** The answer out of its body, in the columns' own units. */
export const answerOf = (
  body: z.infer<typeof answerBody>,
  workOrderId: string,
  answerId: string,
  at: string,
): NewAnswer => ({
  id: answerId,
  workOrderId,
  at,
  notKnown: body.notKnown ?? false,
  told: ASKED_FACTS.flatMap((fact) => {
    const value = body[fact];
    if (value === undefined) return [];
    const dimension = QUANTITIES[fact];
    return [
      { fact, value: dimension ? toStored(value as Quantity, dimension) : (value as string | boolean) },
    ];
  }),
});
