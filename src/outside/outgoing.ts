import { lookup as dnsLookup, type LookupAddress } from 'node:dns';
import { request as httpRequest } from 'node:http';
import { request as httpsRequest, type RequestOptions } from 'node:https';
import { isIP } from 'node:net';
import { type Outgoing, type OutgoingAnswer, type OutgoingAsk, OutgoingFault } from '../actions/outgoing.js';
import { type Allowed, isLinkLocal, notPublic } from './addressRules.js';

export type Resolve = (host: string) => Promise<LookupAddress[]>;

export interface OutgoingOptions {
  allowed: Allowed;
  /** Absent: the system's own. */
  resolve?: Resolve;
  /** Trusted beside the usual authorities, PEM. */
  ca?: string;
}

const systemResolve: Resolve = (host) =>
  new Promise((resolve, reject) => {
    dnsLookup(host, { all: true, verbatim: true }, (error, addresses) => {
      if (error) reject(error);
      else resolve(addresses);
    });
  });

/** The same for a name inside and for one that nobody has: which names there are is nobody's business outside. */
const NOT_OUTSIDE = 'its name leads to no address on the internet';

/**
 * Addresses of a host that may be called: one that is not of the open internet is refused, unless it, its network or
 * the host's name is allowed. All of a name's addresses must pass.
 *
 * @throws {OutgoingFault} `refused`, `unreachable`.
 */
export async function safeAddresses(
  host: string,
  { allowed, resolve = systemResolve }: OutgoingOptions,
): Promise<LookupAddress[]> {
  const family = isIP(host);
  const found = family === 0 ? await resolved(host, resolve) : [{ address: host, family }];
  const byName = family === 0 && allowed.host(host);
  for (const { address } of found) {
    const what = notPublic(address);
    if (what === null || allowed.address(address) || (byName && !isLinkLocal(address))) continue;
    throw new OutgoingFault(
      'refused',
      `${host} ${family === 0 ? 'leads to' : 'is'} an address that is ${what}; OUTGOING_ALLOW can allow it`,
      { told: NOT_OUTSIDE },
    );
  }
  return found;
}

async function resolved(host: string, resolve: Resolve): Promise<LookupAddress[]> {
  const found = await resolve(host).catch((error: unknown) => {
    throw new OutgoingFault('unreachable', `${host} has no address`, { cause: error, told: NOT_OUTSIDE });
  });
  if (found.length === 0)
    throw new OutgoingFault('unreachable', `${host} has no address`, { told: NOT_OUTSIDE });
  return found;
}

/**
 * Calls others' servers: by https unless the host is allowed otherwise, never to an address inside unless allowed, by
 * the very addresses that were looked at, without following redirects, within a time and a size.
 */
export function outgoingCalls(options: OutgoingOptions): Outgoing {
  return {
    refuses: (url) => refusesUrl(url, options.allowed),
    async call(ask) {
      const refused = refusesUrl(ask.url, options.allowed);
      if (refused !== null) throw new OutgoingFault('refused', refused);
      const timeout = AbortSignal.timeout(ask.timeoutMs);
      const signal = ask.signal ? AbortSignal.any([timeout, ask.signal]) : timeout;
      const url = new URL(ask.url);
      try {
        const addresses = await untilAborted(safeAddresses(hostOf(url), options), signal);
        return await send(url, addresses, ask, signal, options.ca);
      } catch (error) {
        if (error instanceof OutgoingFault) throw error;
        if (signal.aborted)
          throw new OutgoingFault('timeout', `no answer within ${ask.timeoutMs / 1000} s`, { cause: error });
        throw new OutgoingFault('unreachable', reasonOf(error), { cause: error });
      }
    },
  };
}

/** Ports where something else than a web server listens (Fetch Standard, WHATWG, port blocking; from memory). */
const BAD_PORTS: ReadonlySet<number> = new Set([
  0, 1, 7, 9, 11, 13, 15, 17, 19, 20, 21, 22, 23, 25, 37, 42, 43, 53, 69, 77, 79, 87, 95, 101, 102, 103, 104,
  109, 110, 111, 113, 115, 117, 119, 123, 135, 137, 139, 143, 161, 179, 389, 427, 465, 512, 513, 514, 515,
  526, 530, 531, 532, 540, 548, 554, 556, 563, 587, 601, 636, 989, 990, 993, 995, 1719, 1720, 1723, 2049,
  3659, 4045, 4190, 5060, 5061, 6000, 6566, 6665, 6666, 6667, 6668, 6669, 6679, 6697, 10080,
]);

const hostOf = (url: URL): string => url.hostname.replace(/^\[|\]$/g, '');

/** What forbids an address before anybody calls it; null: nothing that can be seen without looking its name up. */
export function refusesUrl(text: string, allowed: Allowed): string | null {
  if (!URL.canParse(text)) return 'it is not an address of the web';
  const url = new URL(text);
  const host = hostOf(url);
  if (url.username !== '' || url.password !== '') return 'it carries a name or password';
  if (url.protocol !== 'https:' && !(url.protocol === 'http:' && allowed.host(host)))
    return 'it does not begin with https://';
  if (BAD_PORTS.has(Number(url.port || 443)) && !allowed.host(host))
    return `port ${url.port} is of another service`;
  if (isIP(host) === 0)
    return /^localhost\.?$|\.localhost\.?$/.test(host) && !allowed.host(host)
      ? `${host} is this machine`
      : null;
  const what = notPublic(host);
  return what === null || allowed.address(host) ? null : `${host} is an address that is ${what}`;
}

function untilAborted<T>(work: Promise<T>, signal: AbortSignal): Promise<T> {
  return new Promise((resolve, reject) => {
    const stop = () => reject(signal.reason as Error);
    if (signal.aborted) stop();
    signal.addEventListener('abort', stop, { once: true });
    work.then(resolve, reject).finally(() => signal.removeEventListener('abort', stop));
  });
}

/** Sends to one of the addresses that were looked at: the name is not looked up a second time. */
function send(
  url: URL,
  addresses: LookupAddress[],
  ask: OutgoingAsk,
  signal: AbortSignal,
  ca: string | undefined,
): Promise<OutgoingAnswer> {
  const isSafe = url.protocol === 'https:';
  const options: RequestOptions = {
    method: ask.method,
    host: hostOf(url),
    port: url.port === '' ? (isSafe ? 443 : 80) : Number(url.port),
    path: `${url.pathname}${url.search}`,
    headers: {
      host: url.host,
      'user-agent': 'Openbore',
      ...ask.headers,
      ...(ask.body === undefined ? {} : { 'content-length': String(Buffer.byteLength(ask.body)) }),
    },
    agent: false,
    signal,
    lookup: (_host, asked, give) => {
      const [first] = addresses;
      if (typeof asked === 'object' && asked.all) give(null, addresses);
      else give(null, first?.address ?? '', first?.family);
    },
    ...(ca === undefined ? {} : { ca }),
  };
  return new Promise((resolve, reject) => {
    const call = (isSafe ? httpsRequest : httpRequest)(options, (response) => {
      const parts: Buffer[] = [];
      let bytes = 0;
      const answer = () =>
        resolve({
          status: response.statusCode ?? 0,
          headers: Object.fromEntries(
            Object.entries(response.headers).map(([name, value]) => [name, value?.toString()]),
          ),
          body: Buffer.concat(parts).toString('utf8'),
        });
      response.on('data', (part: Buffer) => {
        bytes += part.length;
        if (bytes <= ask.atMostBytes) {
          parts.push(part);
          return;
        }
        if (ask.cut) answer();
        else reject(new OutgoingFault('too_large', `the answer is longer than ${ask.atMostBytes} bytes`));
        call.destroy();
      });
      response.on('end', answer);
      response.on('error', reject);
    });
    call.on('error', reject);
    call.end(ask.body);
  });
}

/** In words without addresses: they tell what the network inside looks like. */
function reasonOf(error: unknown): string {
  const code = error instanceof Error && 'code' in error ? String(error.code) : '';
  if (code === 'ECONNREFUSED') return 'the connection was refused';
  if (code === 'ECONNRESET') return 'the connection was cut';
  if (/CERT|SSL|TLS|ALTNAME/.test(code)) return `its certificate is not good (${code})`;
  return code === '' ? 'it cannot be reached' : `it cannot be reached (${code})`;
}
