import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { Validator } from '@seriousme/openapi-schema-validator';
import { expect, test } from 'vitest';
import { openapiDocument, rolesTable } from '../../src/commands/openapi.js';
import { ROLES } from '../../src/domain/words.js';

const FILE = join(import.meta.dirname, '../../openapi/openapi.json');

test('openapi/openapi.json is what the code says; else run `npm run openapi`', async () => {
  const document = await openapiDocument();
  expect(JSON.parse(readFileSync(FILE, 'utf8'))).toEqual(JSON.parse(document));
  expect(readFileSync(join(FILE, '../roles.md'), 'utf8')).toBe(rolesTable(document));
});

test('the document is valid OpenAPI 3.1, and every operation has an id, a summary, tags and its refusals', async () => {
  const document = JSON.parse(readFileSync(FILE, 'utf8'));
  expect(await new Validator().validate(document)).toMatchObject({ valid: true });
  const operations = Object.values(document.paths).flatMap((path) => Object.values(path as object));
  expect(operations.length).toBeGreaterThan(100);
  const ids = operations.map((operation) => operation.operationId);
  expect(new Set(ids).size).toBe(ids.length);
  for (const operation of operations) {
    expect(operation.summary, operation.operationId).toBeTruthy();
    expect(operation.tags?.length, operation.operationId).toBeGreaterThan(0);
    if (operation.security?.length === 0) continue; // asked for without a key
    // Where every role may ask, no key is refused for its role.
    const isForAll = ROLES.every((role) => /Roles: ([^.]*)/.exec(operation.description)?.[1]?.includes(role));
    expect(Object.keys(operation.responses), operation.operationId).toEqual(
      expect.arrayContaining(isForAll ? ['401'] : ['401', '403']),
    );
  }
});

test('answers are declared with the media type they are sent as', async () => {
  const { paths } = JSON.parse(readFileSync(FILE, 'utf8'));
  const media = (path: string, method: string, status: string) =>
    Object.keys(paths[path][method].responses[status].content);
  expect(media('/v1/sites', 'post', '422')).toEqual(['application/problem+json']);
  expect(media('/v1/sites', 'get', '503')).toEqual(['application/problem+json']);
  expect(media('/v1/sites', 'get', '200')).toEqual(['application/json', 'text/csv']);
  expect(media('/v1/calculations/pumped-discharge/figure.svg', 'post', '200')).toEqual(['image/svg+xml']);
});

test('an operation tells the headers it heeds', () => {
  const { paths } = JSON.parse(readFileSync(FILE, 'utf8'));
  const headers = (path: string, method: string) =>
    (paths[path][method].parameters as { name: string; in: string; required: boolean }[])
      .filter((each) => each.in === 'header')
      .map(({ name, required }) => [name, required]);
  expect(headers('/v1/sites/{id}', 'patch')).toEqual([['If-Match', true]]);
  // A try needs no version.
  expect(headers('/v1/work-orders/{id}/placement', 'post')).toEqual([
    ['If-Match', false],
    ['Idempotency-Key', false],
  ]);
  expect(paths['/v1/calculations/jetting'].post.parameters ?? []).not.toContainEqual(
    expect.objectContaining({ name: 'Idempotency-Key' }),
  );
});

test('a typed client gets each schema under one plain name, and none that nothing refers to', () => {
  const text = readFileSync(FILE, 'utf8');
  const { schemas } = JSON.parse(text).components as { schemas: Record<string, unknown> };
  const names = Object.keys(schemas);
  expect(names).toEqual(expect.arrayContaining(['SyncItem', 'SitePatch', 'Route']));
  for (const name of names) expect(text.includes(`"#/components/schemas/${name}"`), name).toBe(true);
  // A body has a name of its own only beside an answer whose fields differ.
  for (const name of names.filter((each) => each.endsWith('Input')))
    expect(names).toContain(name.slice(0, -'Input'.length));
});
