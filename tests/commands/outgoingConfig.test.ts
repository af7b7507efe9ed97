import { expect, test } from 'vitest';
import { readConfig } from '../../src/config.js';
import { mailerOf } from '../../src/main.js';

const faultsOf = (environment: NodeJS.ProcessEnv): string => {
  try {
    readConfig(environment);
    return '';
  } catch (error) {
    return (error as Error).message;
  }
};
const MAIL = {
  MAIL_HOST: 'mail.example.org',
  MAIL_FROM: 'Alder Quay Drainworks <office@alderquay.example>',
  PUBLIC_URL: 'https://drains.alderquay.example/',
};

test('without a mail server there is none, and nothing else is asked for', () => {
  expect(mailerOf(readConfig({}))).toBeNull();
});

test('a mail server needs who writes and where links lead; all that is missing is said at once', () => {
  const faults = faultsOf({ MAIL_HOST: 'mail.example.org', MAIL_USER: 'office', MAIL_SECURITY: 'none' });
  for (const name of [
    'MAIL_FROM: is needed',
    'PUBLIC_URL: is needed',
    'MAIL_USER: and MAIL_SECRET',
    'MAIL_SECURITY: none',
  ])
    expect(faults).toContain(name);
  expect(faultsOf({ ...MAIL, MAIL_FROM: 'office@alderquay.example' })).toContain(
    'MAIL_FROM: is not written as',
  );
  const mailer = mailerOf(readConfig(MAIL));
  expect(mailer).toMatchObject({
    sender: { name: 'Alder Quay Drainworks', domain: 'alderquay.example' },
    publicUrl: 'https://drains.alderquay.example',
  });
  expect(faultsOf({ ...MAIL, MAIL_SECURITY: 'none', OUTGOING_ALLOW: 'mail.example.org' })).toBe('');
});

test('a table server inside is named twice: as what it is, and as allowed', () => {
  expect(faultsOf({ TRAVEL_URL: 'http://127.0.0.1:5000' })).toContain(
    'TRAVEL_URL: cannot be called: it does not begin with https://',
  );
  expect(faultsOf({ TRAVEL_URL: 'https://10.0.0.1' })).toContain('an address that is private');
  expect(faultsOf({ TRAVEL_URL: 'http://127.0.0.1:5000', OUTGOING_ALLOW: '127.0.0.1' })).toBe('');
  expect(faultsOf({ OUTGOING_ALLOW: '10.0.0.0/40' })).toContain('OUTGOING_ALLOW: is not a list of hosts');
});
