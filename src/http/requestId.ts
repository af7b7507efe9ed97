import type { IncomingMessage } from 'node:http';
import { BlockList, isIPv6 } from 'node:net';
import type { FastifyInstance } from 'fastify';
import { v7 as newId } from 'uuid';

/** What is written into logs and answers as it came: short, and of letters that mean nothing anywhere. */
const SAFE = /^[\w.-]{1,64}$/;

/**
 * Names of requests: ours, or the `X-Request-Id` that a trusted proxy gave, where it is safe to write down.
 *
 * @param trustedProxy Addresses and networks, as `10.0.0.5,10.1.0.0/16`; absent: nobody's word is taken.
 */
export function requestIds(trustedProxy = ''): (request: IncomingMessage) => string {
  const trusted = new BlockList();
  for (const each of trustedProxy.split(',').filter(Boolean)) {
    const [address = '', bits] = each.trim().split('/');
    const family = familyOf(address);
    if (bits === undefined) trusted.addAddress(address, family);
    else trusted.addSubnet(address, Number(bits), family);
  }
  return ({ headers, socket: { remoteAddress: from } }) => {
    const given = headers['x-request-id'];
    const isTaken =
      typeof given === 'string' && SAFE.test(given) && !!from && trusted.check(from, familyOf(from));
    return isTaken ? given : newId();
  };
}

const familyOf = (address: string): 'ipv4' | 'ipv6' => (isIPv6(address) ? 'ipv6' : 'ipv4');

/** Every answer says by which name its request stands in the log. */
export function nameAnswers(app: FastifyInstance): void {
  app.addHook('onRequest', async (request, reply) => {
    reply.header('x-request-id', request.id);
  });
}
