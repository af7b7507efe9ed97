import { randomUUID } from 'node:crypto';

/** What the base holds that requests are about. */
export interface Ground {
  lineId: string;
  siteId: string;
  crewId: string;
}

export interface Request {
  method: 'GET' | 'POST';
  path: string;
  body?: unknown;
}

export const DAY = '2026-10-05';
/** Each process has minutes of its own, long before the books begin. */
let instants = Math.floor(Math.random() * 10 * 365 * 1440);

/** An instant of its own for each reading: the same look twice is refused. */
const instant = (): string => new Date(Date.UTC(2000, 0, 1) + 60_000 * instants++).toISOString();

const inspection = ({ lineId }: Ground) => ({
  id: randomUUID(),
  lineId,
  observedAt: instant(),
  phase: 'no_cleaning',
  reading: { method: 'camera', share: 0.2 },
});

const SYNC_ITEMS = 50;

/** The four requests that a day is made of, each new every time. */
export const WORK: Record<string, (ground: Ground) => Request> = {
  'crew’s route': () => ({ method: 'GET', path: `/v1/routes?day=${DAY}` }),
  'list of trends': () => ({ method: 'GET', path: '/v1/trends?sort=dueOn&limit=50' }),
  'one inspection': (ground) => ({ method: 'POST', path: '/v1/inspections', body: inspection(ground) }),
  'sync of 50': (ground) => ({
    method: 'POST',
    path: '/v1/sync',
    body: {
      sentAt: `${DAY}T12:00:00Z`,
      items: Array.from({ length: SYNC_ITEMS }, (_, i) => {
        const { observedAt, ...rest } = inspection(ground);
        if (i % 2 === 0) return { kind: 'inspection', ...rest, at: observedAt };
        return {
          kind: 'note',
          id: rest.id,
          at: observedAt,
          siteId: ground.siteId,
          text: 'key under the pot',
        };
      }),
    },
  }),
};
