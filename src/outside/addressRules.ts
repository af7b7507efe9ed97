import { BlockList, isIP, isIPv4, isIPv6 } from 'node:net';

/**
 * Networks that nobody on the open internet is reached by, so that a call to one would come out inside.
 * Source: IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890 and its updates).
 */
const IPV4: readonly [string, number, string][] = [
  ['0.0.0.0', 8, 'this host'],
  ['10.0.0.0', 8, 'private'],
  ['100.64.0.0', 10, 'shared by carriers'],
  ['127.0.0.0', 8, 'loopback'],
  ['169.254.0.0', 16, 'link-local, where machines keep their secrets'],
  ['172.16.0.0', 12, 'private'],
  ['192.0.0.0', 24, 'for protocols'],
  ['192.0.2.0', 24, 'for documents'],
  ['192.88.99.0', 24, 'a relay'],
  ['192.168.0.0', 16, 'private'],
  ['198.18.0.0', 15, 'for measuring'],
  ['198.51.100.0', 24, 'for documents'],
  ['203.0.113.0', 24, 'for documents'],
  ['224.0.0.0', 4, 'multicast'],
  ['240.0.0.0', 4, 'reserved'],
];

/** Of IPv6 only 2000::/3 is handed out as global unicast; these parts of it are not for everybody. */
const IPV6_GLOBAL: readonly [string, number, string][] = [
  ['2001::', 23, 'for protocols and tunnels'],
  ['2001:db8::', 32, 'for documents'],
  ['2002::', 16, 'a tunnel'],
  ['3fff::', 20, 'for documents'],
];

const listOf = (networks: readonly (readonly [string, number, ...unknown[]])[], type: 'ipv4' | 'ipv6') => {
  const list = new BlockList();
  for (const [address, bits] of networks) list.addSubnet(address, bits, type);
  return list;
};
const GLOBAL_UNICAST = listOf([['2000::', 3]], 'ipv6');
const LINK_LOCAL = listOf([['169.254.0.0', 16]], 'ipv4');
LINK_LOCAL.addSubnet('fe80::', 10, 'ipv6');
const NOT_PUBLIC = [...IPV4, ...IPV6_GLOBAL].map(([address, bits, what]) => {
  const type = isIPv4(address) ? 'ipv4' : 'ipv6';
  return { list: listOf([[address, bits]], type), type, what } as const;
});

/** `::ffff:10.0.0.1` and its hexadecimal writing are IPv4 in other clothes. */
function plain(address: string): string {
  if (!isIPv6(address)) return address;
  const canonical = new URL(`http://[${address.replace(/%.*$/, '')}]`).hostname.slice(1, -1);
  const mapped = /^::ffff:([0-9a-f]{1,4}):([0-9a-f]{1,4})$/.exec(canonical);
  if (!mapped) return canonical;
  const [high, low] = [Number.parseInt(mapped[1] ?? '0', 16), Number.parseInt(mapped[2] ?? '0', 16)];
  return [high >> 8, high & 255, low >> 8, low & 255].join('.');
}

/** What an address is that is not one of the open internet; null: it is one. */
export function notPublic(address: string): string | null {
  const asked = plain(address);
  if (isIP(asked) === 0) return 'not an address';
  const type = isIPv4(asked) ? 'ipv4' : 'ipv6';
  if (type === 'ipv6' && !GLOBAL_UNICAST.check(asked, 'ipv6')) return 'not global';
  return NOT_PUBLIC.find((each) => each.type === type && each.list.check(asked, type))?.what ?? null;
}

/** Hosts and networks inside that an operator lets the service call, without TLS if need be. */
export interface Allowed {
  /** Named as a host: `travel.internal`, `127.0.0.1`. */
  host(name: string): boolean;
  /** An address that was named, or lies in a network that was. */
  address(address: string): boolean;
}

/**
 * Reads `OUTGOING_ALLOW`: host names, addresses and networks (`10.1.0.0/16`), separated by commas.
 * @throws {RangeError} Naming the first part that is none of these.
 */
export function readAllowed(text: string): Allowed {
  const hosts = new Set<string>();
  const networks = new BlockList();
  for (const part of text.split(',').map((each) => each.trim().toLowerCase())) {
    if (part === '') continue;
    const [address = '', bits, more] = part.split('/');
    const version = isIP(plain(address));
    const most = version === 4 ? 32 : 128;
    const isNetwork =
      version !== 0 && (bits === undefined || (/^\d{1,3}$/.test(bits) && Number(bits) <= most));
    if (more !== undefined || !(isNetwork || (version === 0 && bits === undefined && isHostName(part))))
      throw new RangeError(`${part} is not a host, an address or a network`);
    if (isNetwork) networks.addSubnet(plain(address), Number(bits ?? most), version === 4 ? 'ipv4' : 'ipv6');
    else hosts.add(part);
  }
  const address = (asked: string): boolean => {
    const of = plain(asked);
    return isIP(of) !== 0 && networks.check(of, isIPv4(of) ? 'ipv4' : 'ipv6');
  };
  return { host: (name) => hosts.has(name.toLowerCase()) || (isIP(name) !== 0 && address(name)), address };
}

const isHostName = (text: string): boolean =>
  /^(?=.{1,253}$)[a-z0-9_]([a-z0-9_-]{0,62})(\.[a-z0-9_-]{1,63})*\.?$/.test(text);

/** Never by a name, whoever allows the name: where machines hand out their own secrets. */
export const isLinkLocal = (address: string): boolean => {
  const of = plain(address);
  return isIP(of) !== 0 && LINK_LOCAL.check(of, isIPv4(of) ? 'ipv4' : 'ipv6');
};
