import { expect, test } from 'vitest';
import { readConfig } from '../../src/config.js';

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
