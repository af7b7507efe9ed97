import { createHash } from 'node:crypto';
import type { FastifyInstance } from 'fastify';
import type { House } from '../actions/house.js';
import { openingPage } from '../papers/openingPage.js';
import { OPENING_SCRIPT } from '../papers/openingScript.js';
import { OPENING_STYLE } from '../papers/openingStyle.js';
import type { Allowed } from './keyCheck.js';
import { OPENING_CHOICES, OPENING_GROUPS, rolesAt } from './openingGroups.js';

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

/** The page for whoever types the address. Registered before what it leads to: it shows each key what its roles may read. */
export function registerOpeningRoutes(app: FastifyInstance, house: House): void {
  const roles = new Map<string, Allowed>();
  app.addHook('onRoute', ({ method, url, config }) => {
    if (method === 'GET' && config?.roles) roles.set(url, config.roles);
  });
  const page = () =>
    openingPage({
      version: house.version,
      groups: OPENING_GROUPS,
      choices: OPENING_CHOICES,
      rolesAt: rolesAt(roles),
    });
  let made: string | null = null;
  app.get('/', {
    config: { roles: 'public' },
    schema: { hide: true },
    handler: async (_request, reply) => {
      made ??= page();
      return reply
        .type('text/html; charset=utf-8')
        .header('content-security-policy', POLICY)
        .header('cache-control', 'no-cache')
        .serializer(String)
        .send(made);
    },
  });
}
