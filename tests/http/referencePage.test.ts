import { afterAll, beforeAll, expect, test } from 'vitest';
import { yamlOf } from '../../src/http/yaml.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
}, 60_000);
afterAll(() => t.app.close());

const get = (url: string) => t.call(null, { method: 'GET', url });

test('the reference page and all it loads come with a policy that lets nothing else run', async () => {
  const page = await get('/docs');
  expect(page.status).toBe(200);
  const loaded = [...page.text.matchAll(/(?:src|href)="([^"]+)"/g)].map(([, address]) => String(address));
  expect(loaded.length).toBeGreaterThanOrEqual(7);
  // Files of its own, no script and no handler within the page.
  expect(page.text).not.toMatch(/<script(?! src=)|\son\w+=/);
  for (const url of ['/docs', '/docs/json', '/docs/yaml', ...loaded]) {
    const { status, headers } = await get(url);
    expect([url, status]).toEqual([url, 200]);
    const policy = String(headers['content-security-policy']);
    expect(policy).toContain("default-src 'none'; script-src 'self';");
    expect(policy).toContain("connect-src 'self'");
    expect(policy).not.toMatch(/script-src[^;]*unsafe|https?:|\*/);
  }
});

test('the document is made once, and is the same as YAML', async () => {
  const json = await get('/docs/json');
  expect(json.headers['content-type']).toBe('application/json; charset=utf-8');
  const yaml = await get('/docs/yaml');
  expect(yaml.headers['content-type']).toBe('application/yaml; charset=utf-8');
  expect(t.app.documentTexts()).toBe(t.app.documentTexts());
  expect(yaml.text).toBe(t.app.documentTexts().yaml);
  expect(yaml.text).toMatch(/^"openapi": "3\.1\.0"\n"info":\n {2}"title": "Openbore"\n/);
  expect(json.body.info.title).toBe('Openbore');
});

test('JSON is written as YAML 1.2 in blocks, its texts in double quotes (YAML 1.2.2, 7.3.1)', () => {
  const odd = {
    'a key: with #signs': ['', 'no', "it's", 'line\nbreak', '排水', '\\'],
    empty: { list: [], object: {}, nothing: null, no: false, number: -1.5e-7 },
    nested: [[1, [2]], { a: [{ b: 1 }] }],
  };
  expect(yamlOf(odd)).toBe(`"a key: with #signs":
  - ""
  - "no"
  - "it's"
  - "line\\nbreak"
  - "排水"
  - "\\\\"
"empty":
  "list": []
  "object": {}
  "nothing": null
  "no": false
  "number": -1.5e-7
"nested":
  -
    - 1
    -
      - 2
  -
    "a":
      -
        "b": 1
`);
});
