import type { Chance } from './chance.js';

/** Values that no field expects, and some that only look right. */
const ODD: readonly unknown[] = [
  null,
  '',
  ' ',
  '\u0000',
  'a\u0000b',
  '\ud800',
  '\udfff\ud800',
  '\u202e\u2066evil\u2069',
  '🪠'.repeat(50),
  'e\u0301'.repeat(200),
  "'; DROP TABLE line; --",
  '=HYPERLINK("http://127.0.0.1")',
  '../../etc/passwd',
  '<script>alert(1)</script>',
  '{{7*7}} <%= 7*7 %> %s %n',
  'x'.repeat(5000),
  -1,
  0,
  -0,
  0.1 + 0.2,
  1e308,
  -1e308,
  5e-324,
  2 ** 31,
  -(2 ** 31) - 1,
  2 ** 53,
  2 ** 63,
  1e21,
  true,
  false,
  [],
  {},
  [[]],
  [null],
  { value: 1 },
  { value: 'NaN', unit: 'm' },
  { value: 1e308, unit: 'in' },
  { value: -0, unit: 'mm' },
  '2026-02-29',
  '2024-02-29',
  '0000-00-00',
  '0001-01-01',
  '9999-12-31',
  '10000-01-01',
  '-0001-01-01',
  '2026-10-01T24:00:00Z',
  '2026-12-31T23:59:60Z',
  '1899-12-31T23:59:59Z',
  '2200-01-01T00:00:00Z',
  '2026-10-01T08:00:00+99:99',
  '2026-10-01T08:00:00.123456789012Z',
  '2026-03-08T02:30:00-06:00',
  '24:00',
  '1e3',
  '0x10',
  'NaN',
  'Infinity',
  '00000000-0000-0000-0000-000000000000',
  'ffffffff-ffff-ffff-ffff-ffffffffffff',
  '019abcde-0000-7000-8000-000000000001',
  '019ABCDE-0000-7000-8000-00000000000Z',
];

type Tree = Record<string, unknown> | unknown[];

function branches(tree: unknown, found: Tree[] = []): Tree[] {
  if (typeof tree === 'object' && tree !== null) {
    found.push(tree as Tree);
    for (const each of Object.values(tree)) branches(each, found);
  }
  return found;
}

/** The same body with one thing wrong in it, deep or shallow. */
export function nearly(chance: Chance, body: unknown): unknown {
  const copy: unknown = structuredClone(body);
  const all = branches(copy);
  if (all.length === 0) return chance.of(ODD);
  const spot = chance.of(all);
  if (Array.isArray(spot)) {
    if (chance.is(0.3))
      spot.push(...Array.from({ length: chance.of([1, 2500]) }, () => spot[0] ?? chance.of(ODD)));
    else if (spot.length > 0) spot[chance.whole(0, spot.length - 1)] = chance.of(ODD);
    else spot.push(chance.of(ODD));
    return copy;
  }
  const names = Object.keys(spot);
  const kind = chance.unit();
  if (names.length === 0 || kind < 0.1)
    spot[chance.of(['surprise', '__proto__', 'constructor', 'toString', ''])] = 1;
  else if (kind < 0.25) delete spot[chance.of(names)];
  else spot[chance.of(names)] = chance.of(ODD);
  return copy;
}

export interface RawBody {
  type: string | null;
  bytes: Buffer;
  headers?: Record<string, string>;
}

const json = 'application/json';
const raw = (type: string | null, text: string | Buffer, headers?: Record<string, string>): RawBody => ({
  type,
  bytes: Buffer.from(text),
  ...(headers ? { headers } : {}),
});

/** Bodies that are none. */
export function hostileBody(chance: Chance, good: unknown): RawBody {
  const text = JSON.stringify(good ?? {});
  return chance.of<() => RawBody>([
    () => raw(json, text.slice(0, Math.max(1, text.length - 1))),
    () => raw(json, '['.repeat(50_000)),
    () => raw(json, `${'{"a":'.repeat(60)}1${'}'.repeat(60)}`),
    () => raw(json, `${'{"a":'.repeat(70)}1${'}'.repeat(70)}`),
    () => raw(json, `{"__proto__":{"admin":true},"constructor":{"prototype":{}}}`),
    () => raw(json, `\ufeff${text}`),
    () => raw(json, Buffer.from([0x7b, 0x22, 0xff, 0xfe, 0x22, 0x3a, 0x31, 0x7d])),
    () => raw(json, Buffer.from(text, 'utf16le')),
    () => raw(json, text.replace(/^\{/, '{"id":1,"id":2,')),
    () => raw(json, '1e999'),
    () => raw(json, '"text"'),
    () => raw(json, 'null'),
    () => raw(json, '[]'),
    () => raw(json, ''),
    () => raw(json, ' '.repeat(10_000)),
    () => raw(`${json}; charset=iso-8859-1`, text),
    () => raw(json, text, { 'content-encoding': 'gzip' }),
    () => raw('text/plain', text),
    () => raw('text/csv', 'id,name\n1,"unclosed'),
    () => raw('text/csv', '\u0000\r\n=1+1,"a\nb"\r'),
    () =>
      raw(
        'application/xml',
        '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "file:///etc/passwd">]><a>&b;</a>',
      ),
    () => raw('application/x-www-form-urlencoded', 'a=1&b=2'),
    () => raw('multipart/form-data; boundary=x', '--x\r\nContent-Disposition: form-data; name="a"\r\n\r\n1'),
    () => raw('multipart/form-data', 'no boundary'),
    () => raw('nonsense', text),
    () => raw(null, text),
    () => raw(json, `{"a":"${'x'.repeat(chance.is(0.1) ? 5 * 1024 * 1024 : 300_000)}"}`),
  ])();
}

/** Path parts that name nothing. */
export const ODD_PARTS: readonly string[] = [
  'nothing',
  '%00',
  '%ff',
  '%E0%A4%A',
  '..%2f..%2fetc',
  '-1',
  "';--",
  'x'.repeat(190),
  'x'.repeat(3000),
  '019abcde-0000-7000-8000-000000000001%20',
];

export const ODD_QUERIES: readonly string[] = [
  'surprise=1',
  'limit=0',
  'limit=1e9',
  'limit=10&limit=20',
  'cursor=AAAA',
  'cursor=eyJ2IjoxfQ',
  'cursor=%00',
  'sort=id%3Bdrop',
  'q=%00',
  'q=%25%27%5c_',
  'units=furlong',
  '__proto__=1',
  'day=2026-02-30',
  'near=91,181',
  `q=${'x'.repeat(4000)}`,
  'fromDay=9999-12-31&toDay=0001-01-01',
  'day=%ED%A0%80',
  '%',
  '&&==&',
];

export const ODD_HEADERS: readonly Record<string, string>[] = [
  { 'if-match': '"0"' },
  { 'if-match': 'W/"1"' },
  { 'if-match': '*, "x"' },
  { 'if-match': '"999999999999999999999"' },
  { 'if-none-match': '*' },
  { 'idempotency-key': '""' },
  { 'idempotency-key': 'k'.repeat(300) },
  { 'idempotency-key': '\u00ff' },
  { accept: 'text/csv' },
  { accept: 'application/xml' },
  { accept: 'image/png;q=2, ,;' },
  { range: 'bytes=9-1' },
  { range: 'bytes=-' },
  { 'accept-language': 'x'.repeat(2000) },
];
