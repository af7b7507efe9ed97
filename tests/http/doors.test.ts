import { beforeAll, expect, test } from 'vitest';
import { type Json, type TestHouse, testHouse } from '../setup/testHouse.js';

let t: TestHouse;
beforeAll(async () => {
  t = await testHouse();
});

test('the reference page, its document and its files, health and readiness are for everybody', async () => {
  for (const url of [
    '/docs',
    '/docs/',
    '/docs/json',
    '/docs/static/index.html',
    '/docs/static/swagger-ui.css',
    '/health',
    '/ready',
  ]) {
    expect((await t.call(null, { method: 'GET', url })).status, url).toBeLessThan(400);
  }
});

test('every operation of the document refuses a caller without a key', async () => {
  const document = (await t.call(null, { method: 'GET', url: '/docs/json' })).body;
  let operations = 0;
  for (const [path, methods] of Object.entries(document.paths)) {
    for (const [method, operation] of Object.entries(methods as Json)) {
      const isPublic = (operation as Json).security?.length === 0;
      const url = path.replace(/\{[^}]+\}/g, '019abcde-0000-7000-8000-000000000001');
      const { status } = await t.call(null, { method: method.toUpperCase() as 'GET', url });
      // What is for everybody needs a token in its address instead.
      expect(status, `${method} ${path}`).toBe(isPublic ? 404 : 401);
      operations++;
    }
  }
  expect(operations).toBeGreaterThan(100);
});
