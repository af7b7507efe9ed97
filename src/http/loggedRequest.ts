import type { FastifyRequest } from 'fastify';

/** A request as it goes into the log: an address that holds a secret without it. */
export const loggedRequest = ({ method, url, host, ip }: FastifyRequest) => ({
  method,
  url: url.replace(/^\/(feeds|unsubscribe)\/[^/?]+/, '/$1/…'),
  host,
  remoteAddress: ip,
});
