import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { nearMisses, readConfig } from '../../src/config.js';

test('every fault of the settings is told at once, by itself or together with others', () => {
  const wrong = {
    DATABASE_URL: 'mysql://nowhere',
    PORT: '80800',
    TIME_ZONE: 'Mars/Olympus',
    CURRENCY: 'dollars',
    UNITS: 'imperial',
    NIGHT: 'maybe',
    NIGHT_AT: '25:00',
    ROUTE_SECONDS: '0',
    OUTGOING_ALLOW: '999.1.1.1/99',
    REQUESTS_PER_MINUTE: '-1',
    LOG_LEVEL: 'loud',
    TRAVEL_URL: 'http://127.0.0.1:5000',
    MAIL_HOST: 'mail.example.org',
    MAIL_USER: 'office',
  };
  let told = '';
  try {
    readConfig(wrong);
  } catch (error) {
    told = (error as Error).message;
  }
  for (const name of [
    ...Object.keys(wrong).filter((each) => each !== 'MAIL_HOST'),
    'MAIL_FROM',
    'PUBLIC_URL',
  ])
    expect(told, name).toMatch(new RegExp(`^ {2}${name}: `, 'm'));
});

test('an empty setting is none', () => {
  expect(readConfig({ PORT: '', MAIL_HOST: '' })).toMatchObject({ PORT: 8080, NIGHT_AT: '02:00' });
});

test('a blank setting is a fault, and files beside a database elsewhere need a folder of their own', () => {
  const blank = { PORT: ' ', REQUESTS_PER_MINUTE: '\t', TIME_ZONE: '  ' };
  for (const name of Object.keys(blank))
    expect(() => readConfig(blank)).toThrow(new RegExp(`^ {2}${name}: is blank$`, 'm'));
  const elsewhere = { DATABASE_URL: 'postgresql://127.0.0.1/openbore' };
  expect(() => readConfig(elsewhere, { keepsFiles: true })).toThrow(/OPENBORE_FILES: is needed/);
  expect(readConfig(elsewhere)).toMatchObject(elsewhere);
  expect(readConfig({ ...elsewhere, OPENBORE_FILES: '/srv/files' }, { keepsFiles: true })).toMatchObject(
    elsewhere,
  );
  expect(readConfig({}, { keepsFiles: true }).OPENBORE_FILES).toBeUndefined();
});

test('names that nearly are those of settings are told, others are not', () => {
  const environment = {
    TIMEZONE: 'Europe/Berlin',
    NIHGT: 'off',
    UNITES: 'metric',
    DATABASE_ULR: '',
    currency: 'EUR',
    HOSTNAME: 'a',
    HOME: '/root',
    PATH: '/bin',
    TIME_ZONE: 'Europe/Berlin',
    SHELL: '/bin/sh',
    LOGNAME: 'root',
  };
  expect(Object.fromEntries(nearMisses(environment).map(({ name, meant }) => [name, meant]))).toEqual({
    TIMEZONE: 'TIME_ZONE',
    NIHGT: 'NIGHT',
    UNITES: 'UNITS',
    DATABASE_ULR: 'DATABASE_URL',
    currency: 'CURRENCY',
  });
});

test('a secret may come from a file; both, an empty one and none to read are faults, which never show it', () => {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-secrets-'));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  const file = (name: string, text: string) => {
    writeFileSync(join(folder, name), text);
    return join(folder, name);
  };
  const url = 'postgresql://openbore:pike-and-perch@db/openbore';
  const mail = {
    MAIL_HOST: 'mail.example.org',
    MAIL_FROM: 'Office <office@example.org>',
    MAIL_USER: 'office',
    PUBLIC_URL: 'https://drains.example.org',
  };
  const given = {
    ...mail,
    DATABASE_URL_FILE: file('url', `${url}\n`),
    MAIL_SECRET_FILE: file('mail', 'bream '),
    OPENBORE_FILES: '/srv/files',
  };
  expect(readConfig(given, { keepsFiles: true })).toMatchObject({ DATABASE_URL: url, MAIL_SECRET: 'bream ' });
  expect(nearMisses(given)).toEqual([]);
  expect(nearMisses({ DATABASE_URL_FIEL: '' })).toEqual([
    { name: 'DATABASE_URL_FIEL', meant: 'DATABASE_URL_FILE' },
  ]);

  const faults = (more: NodeJS.ProcessEnv): string => {
    try {
      readConfig({ ...given, ...more });
    } catch (error) {
      return (error as Error).message;
    }
    return '';
  };
  const told = faults({
    DATABASE_URL: url,
    MAIL_SECRET_FILE: join(folder, 'missing'),
  });
  expect(told).toMatch(/^ {2}DATABASE_URL_FILE: and DATABASE_URL are both given/m);
  expect(told).toMatch(/^ {2}MAIL_SECRET_FILE: cannot be read: ENOENT/m);
  expect(faults({ MAIL_SECRET_FILE: file('none', '\n') })).toMatch(/MAIL_SECRET_FILE: .*none is empty/);
  expect(faults({ MAIL_SECRET_FILE: folder })).toMatch(/MAIL_SECRET_FILE: cannot be read: EISDIR/);
  const odd = faults({ DATABASE_URL_FILE: file('odd', 'mysql://openbore:pike-and-perch@db') });
  expect(odd).toMatch(/^ {2}DATABASE_URL: is not a postgresql/m);
  for (const each of [told, odd]) expect(each).not.toContain('perch');
});
