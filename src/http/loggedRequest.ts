import type { FastifyInstance, FastifyRequest } from 'fastify';

/**
 * A request as it goes into the log: an address that holds a secret without it, and of the query its names alone, as
 * people look for clients by name, phone and address.
 */
export function loggedRequest({ method, url, host, ip }: FastifyRequest) {
  const [path = '', query] = url.split('?', 2);
  const names = [...new Set([...new URLSearchParams(query ?? '').keys()])].map((name) => name.slice(0, 40));
  return {
    method,
    url: path.replace(/^\/(feeds|unsubscribe)\/[^/]+/, '/$1/…'),
    ...(names.length > 0 ? { query: names.slice(0, 20) } : {}),
    host,
    remoteAddress: ip,
  };
}

/** Asked every few seconds by whoever keeps watch. */
const PROBES = new Set(['/health', '/ready', '/metrics']);

/** One line an answer: what was asked, by which operation it was answered, for whose key, how and in what time. */
export function logAnswers(app: FastifyInstance): void {
  app.addHook('onResponse', async (request, reply) => {
    const { url: route, schema } = request.routeOptions;
    const { operationId } = (schema ?? {}) as { operationId?: string };
    // The hook that would set it may have refused before.
    const actor = request.actor as typeof request.actor | undefined;
    const line = {
      req: request,
      res: { statusCode: reply.statusCode },
      ...(route === undefined ? {} : { route }),
      ...(operationId === undefined ? {} : { operation: operationId }),
      ...(actor ? { keyId: actor.keyId } : {}),
      responseTime: Math.round(reply.elapsedTime * 10) / 10,
    };
    const isQuiet = PROBES.has(route ?? '') && reply.statusCode < 400;
    request.log[isQuiet ? 'debug' : 'info'](line, 'answered');
  });
}

interface LoggedError {
  type: string;
  message: string;
  stack: string;
  [fact: string]: unknown;
}

/** What a database says of the row in question: names, phones and addresses of people. */
const OF_THE_ROW = new Set(['detail', 'where', 'internalQuery', 'query', 'parameters']);

/** An error as it goes into the log: what, where in the code, and its facts, without the row that it was about. */
export function loggedError(error: unknown): LoggedError {
  if (!(error instanceof Error)) return { type: typeof error, message: String(error), stack: '' };
  const facts = Object.fromEntries(
    Object.entries(error).filter(([name, value]) => !OF_THE_ROW.has(name) && typeof value !== 'object'),
  );
  return {
    ...facts,
    type: error.name,
    message: error.message,
    stack: error.stack ?? '',
    ...(error.cause === undefined ? {} : { cause: loggedError(error.cause) }),
  };
}
