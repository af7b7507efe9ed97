import { z } from 'zod';
import type { HinderedVisit } from '../../actions/desk/hinderedVisits.js';
import { day, instant, reason } from '../shapes.js';

export const hinderedVisit = z
  .object({
    workOrderId: z.uuid(),
    number: z.number().int(),
    address: z.string(),
    day,
    routeId: z.uuid(),
    crewId: z.uuid(),
    crewName: z.string(),
    startsAt: instant,
    published: z.boolean().describe('its crew was told of the day'),
    reasons: z
      .array(reason)
      .describe('facts.recordIds: the absences, closed season, holiday or locate ticket'),
  } satisfies Record<keyof HinderedVisit, z.ZodType>)
  .meta({
    id: 'HinderedVisit',
    description:
      'A visit that stands on a route and can no longer be done there: plan anew, move it, or phone.',
  });
