import swaggerUi from '@fastify/swagger-ui';
import type { FastifyInstance } from 'fastify';
import { yamlOf } from './yaml.js';

declare module 'fastify' {
  interface FastifyInstance {
    /** The OpenAPI document as it is sent, made at the first call: a second or more of work, best done before listening. */
    documentTexts(): { json: string; yaml: string };
  }
}

/** The page loads its own files, asks this service, and runs nothing else: people type keys into it. */
const POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; connect-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/** In place of the page's stock logo. */
const WORDMARK =
  '<svg xmlns="http://www.w3.org/2000/svg" width="130" height="40"><text x="0" y="28" font-family="sans-serif" font-size="24" fill="#fff">Openbore</text></svg>';

/** The reference page at /docs with the document behind it, for everybody. */
export async function registerReferencePage(app: FastifyInstance): Promise<void> {
  let texts: { json: string; yaml: string } | null = null;
  app.decorate('documentTexts', () => {
    texts ??= { json: JSON.stringify(app.swagger()), yaml: yamlOf(app.swagger()) };
    return texts;
  });
  app.addHook('onRoute', (route) => {
    if (route.url.startsWith('/docs')) route.config = { ...route.config, roles: 'public' };
  });
  await app.register(swaggerUi, {
    routePrefix: '/docs',
    uiConfig: { docExpansion: 'none' },
    theme: { title: 'Openbore' },
    logo: { type: 'image/svg+xml', content: Buffer.from(WORDMARK) },
    staticCSP: POLICY,
    uiHooks: {
      // In place of what the page's own routes would make anew at each call.
      preHandler: (request, reply, next) => {
        const { url } = request.routeOptions;
        if (url === '/docs/json')
          reply.type('application/json; charset=utf-8').serializer(String).send(app.documentTexts().json);
        else if (url === '/docs/yaml')
          reply.type('application/yaml; charset=utf-8').serializer(String).send(app.documentTexts().yaml);
        else next();
      },
    },
  });
}
