import { z } from 'zod';
import type { Row } from '../actions/ports.js';
import { EVENT_TYPES } from '../domain/words.js';
import { instant, text } from './shapes.js';

const about = z.uuid().nullable();

export const eventView = z
  .object({
    id: z.uuid(),
    type: z.enum(EVENT_TYPES),
    at: instant,
    text: z.string().describe('one sentence for people'),
    facts: z.record(z.string(), z.unknown()).describe('its numbers, by type'),
    subjectId: z.uuid().describe('the record it is first of all about'),
    siteId: about,
    workOrderId: about,
    routeId: about,
    crewId: about,
    lineId: about,
  })
  .meta({
    id: 'Event',
    description: 'What happened that others may want to hear, written with what caused it.',
    example: {
      id: '019abcde-0000-7000-8000-000000000001',
      type: 'on_the_way',
      at: '2026-10-01T13:05:00.000Z',
      text: 'The crew is on the way to order 143, expected at 08:25.',
      facts: {
        orderNumber: 143,
        leftAt: '2026-10-01T13:05:00.000Z',
        expectedAt: '2026-10-01T13:25:00.000Z',
        expectedTime: '08:25',
      },
      subjectId: '019abcde-0000-7000-8000-000000000002',
      siteId: '019abcde-0000-7000-8000-000000000003',
      workOrderId: '019abcde-0000-7000-8000-000000000002',
      routeId: null,
      crewId: null,
      lineId: null,
    },
  });

export const onTheWayBody = z
  .strictObject({
    leftAt: instant.describe('when the crew left for it'),
    expectedAt: instant.nullable().optional().describe('absent: by the drive of its route'),
  })
  .meta({ id: 'OnTheWay', example: { leftAt: '2026-10-01T13:05:00Z' } });

export const runningLateBody = z
  .strictObject({
    expectedAt: instant.describe('when the crew will be there'),
    because: text(300).nullable().optional().describe('for the office; the client is told the time alone'),
  })
  .meta({
    id: 'RunningLate',
    example: { expectedAt: '2026-10-01T16:40:00Z', because: 'the pump before needed a new float' },
  });

export const viewEvent = (row: Row) => ({
  id: row['id'],
  type: row['kind'],
  at: row['created_at'],
  text: row['text'],
  facts: row['facts'],
  subjectId: row['subject_id'],
  siteId: row['site_id'],
  workOrderId: row['work_order_id'],
  routeId: row['route_id'],
  crewId: row['crew_id'],
  lineId: row['line_id'],
});
