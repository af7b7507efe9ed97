import { expect, test } from 'vitest';
import { isLinkLocal, notPublic, readAllowed } from '../../src/outside/addressRules.js';

// IANA IPv4 and IPv6 Special-Purpose Address Registries; the first and last address of a network and its neighbours.
test.each([
  '0.0.0.0',
  '10.0.0.1',
  '10.255.255.255',
  '100.64.0.1',
  '127.0.0.1',
  '127.255.255.254',
  '169.254.169.254',
  '172.16.0.0',
  '172.31.255.255',
  '192.168.1.1',
  '198.19.255.255',
  '224.0.0.1',
  '255.255.255.255',
  '::',
  '::1',
  '::ffff:127.0.0.1',
  '::ffff:7f00:1',
  '::ffff:a9fe:a9fe',
  '::127.0.0.1',
  '64:ff9b::7f00:1',
  'fc00::1',
  'fd00:ec2::254',
  'fe80::1',
  'fe80::1%eth0',
  'fec0::1',
  'ff02::1',
  '2001:db8::1',
  '2001::1',
  '2002:7f00:1::',
  'nobody',
])('%s is not of the open internet', (address) => {
  expect(notPublic(address)).not.toBeNull();
});

test.each([
  '1.1.1.1',
  '9.255.255.255',
  '11.0.0.0',
  '100.63.255.255',
  '100.128.0.0',
  '126.255.255.255',
  '128.0.0.0',
  '172.15.255.255',
  '172.32.0.0',
  '192.167.255.255',
  '223.255.255.255',
  '::ffff:8.8.8.8',
  '2001:4860:4860::8888',
  '2606:4700::1111',
])('%s is', (address) => {
  expect(notPublic(address)).toBeNull();
});

test('hosts, addresses and networks are allowed by name, and nothing beside them', () => {
  const allowed = readAllowed('Travel.internal, 127.0.0.1,10.1.0.0/16, fd00::/8');
  expect(allowed.host('travel.internal')).toBe(true);
  expect(allowed.host('other.internal')).toBe(false);
  expect(allowed.host('10.1.2.3')).toBe(true);
  expect(allowed.address('10.1.255.255')).toBe(true);
  expect(allowed.address('10.2.0.0')).toBe(false);
  expect(allowed.address('::ffff:127.0.0.1')).toBe(true);
  expect(allowed.address('127.0.0.2')).toBe(false);
  expect(allowed.address('fd12::1')).toBe(true);
  expect(readAllowed('').address('127.0.0.1')).toBe(false);
  for (const wrong of ['10.0.0.0/33', 'a b', 'http://x', '10.0.0.0/8/8', '/8', 'x/8'])
    expect(() => readAllowed(wrong), wrong).toThrow(RangeError);
});

test('where machines hand out their secrets is link-local', () => {
  expect(['169.254.169.254', 'fe80::1', '::ffff:169.254.169.254'].map(isLinkLocal)).toEqual([
    true,
    true,
    true,
  ]);
  expect(['10.0.0.1', '2606:4700::1111', 'x'].map(isLinkLocal)).toEqual([false, false, false]);
});
