import type { FastifyInstance, FastifyRequest } from 'fastify';

/** Ids and days say nothing of people; all else in an address may: a client's street, a feed's secret. */
const PLAIN = /^([0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}|\d{4}-\d{2}-\d{2})$/i;

/**
 * A request as it goes into the log: the operation's address with its ids, however the caller spelt it, and of the query
 * the names that the operation knows, as people look for clients by name, phone and address.
 */
export function loggedRequest(request: FastifyRequest) {
  const { method, ip, routeOptions, params, raw } = request;
  const values = (params ?? {}) as Record<string, unknown>;
  const url = routeOptions?.url?.replace(/:(\w+)/g, (_, name: string) => {
    const value = String(values[name]);
    return PLAIN.test(value) ? value : '…';
  });
  const known = (routeOptions?.schema?.querystring as { shape?: object } | undefined)?.shape ?? {};
  const asked = new URLSearchParams(raw.url?.split('?').slice(1).join('?'));
  const names = [...new Set(asked.keys())].filter((name) => Object.hasOwn(known, name));
  return {
    method,
    url: url ?? 'no address of ours',
    ...(names.length > 0 ? { query: names } : {}),
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
