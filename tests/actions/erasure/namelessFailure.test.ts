import { expect, test } from 'vitest';
import { failingNameless } from '../../../src/actions/erasure/namelessFailure.js';
import { Refused } from '../../../src/actions/problems.js';

const failure = (thrown: unknown) =>
  failingNameless(() => Promise.reject(thrown)).catch((error: unknown) => error);

test('what fails is told by kind, code and place in the code, without a word of the person', async () => {
  const clash = Object.assign(new SyntaxError('no pattern: /Thaddeus Vane/'), { code: '2201B' });
  const error = (await failure(clash)) as Error;
  expect(error.message).toBe('erasing failed, nothing was changed (SyntaxError 2201B)');
  expect(error.stack).toMatch(/^\s+at .*namelessFailure/m);
  expect(`${error.stack}${JSON.stringify(error)}${String(error.cause)}`).not.toContain('Thaddeus');
});

test('a refusal goes through as it is', async () => {
  const refused = new Refused({ code: 'not-found', resource: 'client', id: 'x' });
  expect(await failure(refused)).toBe(refused);
});
