import { expect, test } from 'vitest';
import { objection, packagesOf, readLock } from './licences.mjs';

test('no package comes in under a licence that nobody has looked at; else see `npm run licences`', () => {
  const all = packagesOf(readLock());
  expect(all.length).toBeGreaterThan(300);
  expect(all.flatMap((each) => (objection(each) ? [`${each.name}: ${objection(each)}`] : []))).toEqual([]);
});

test('a licence that asks for more is an objection, one of several to choose from is not', () => {
  const of = (licence: string, isTool = false) => objection({ name: 'x', licence, isTool });
  expect(of('AGPL-3.0-only')).toContain('not on the list');
  expect(of('MPL-2.0')).toContain('what is passed on');
  expect(of('MPL-2.0', true)).toBeNull();
  expect(of('none given')).toContain('not on the list');
  expect(of('(MIT OR GPL-3.0)')).toBeNull();
  expect(of('MIT AND GPL-3.0')).toContain('not on the list');
});
