import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';
import type { House } from '../actions/house.js';
import { OPENING_SCRIPT, OPENING_STYLE, openingPage } from '../papers/openingPage.js';
import { QUESTIONS } from './reports/all.js';
import { reportQuery } from './reports/lineFilterQuery.js';

const hashOf = (text: string): string => `'sha256-${createHash('sha256').update(text).digest('base64')}'`;

/** The page may run its own script and ask this service; nothing else. */
const POLICY = [
  "default-src 'none'",
  `style-src ${hashOf(OPENING_STYLE)}`,
  `script-src ${hashOf(OPENING_SCRIPT)}`,
  "connect-src 'self'",
  'img-src blob:',
  "form-action 'none'",
  "base-uri 'none'",
  "frame-ancestors 'none'",
].join('; ');

const titled = (path: string): string => `${path[0]?.toUpperCase()}${path.slice(1).replaceAll('-', ' ')}`;

/** The pictures that need nothing said: of every question over the base, and of today's routes. */
const pictures = (today: string) => [
  ...QUESTIONS.filter(({ own }) => reportQuery(own).safeParse({}).success).map(({ path }) => ({
    title: titled(path),
    href: `/v1/reports/${path}.svg`,
  })),
  { title: "Today's routes", href: `/v1/routes.svg?day=${today}` },
];

/** The page for whoever types the address. */
export function registerOpeningRoutes(app: FastifyInstance, house: House): void {
  app.get('/', {
    config: { roles: 'public' },
    schema: { hide: true },
    handler: async (_request, reply) =>
      reply
        .type('text/html; charset=utf-8')
        .header('content-security-policy', POLICY)
        .header('cache-control', 'no-cache')
        .serializer(String)
        .send(
          openingPage({
            version: house.version,
            pictures: pictures(house.zone.dayOf(house.clock.now())),
          }),
        ),
  });
}
