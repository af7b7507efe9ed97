import { expect, test } from 'vitest';
import { CALL_KINDS } from '../../../src/domain/words.js';
import { NOTHING_ANSWERED, triage } from '../../../src/domain/work/callTriage.js';
import { phoneSheet } from '../../../src/domain/work/phoneSheet.js';
import { DEFAULT_SETTINGS } from '../../../src/domain/work/settings.js';

const { calls } = DEFAULT_SETTINGS;
const answers = (more: object = {}) => ({ ...NOTHING_ANSWERED, ...more });

test('each kind has its time to be there', () => {
  const minutes = CALL_KINDS.map((kind) => {
    const { respondWithinMinutes, urgency } = triage(kind, answers(), 'basement', calls);
    return [kind, respondWithinMinutes, urgency];
  });
  expect(minutes).toEqual([
    ['water_rising', 120, 'at_once'],
    ['alarm', 240, 'at_once'],
    ['pump_without_flow', 240, 'at_once'],
    ['power_out', 240, 'at_once'],
    ['orange_stain', 7200, 'in_days'],
    ['other', 2880, 'in_days'],
  ]);
});

test('water in the house is water rising, whatever the call began with', () => {
  for (const kind of CALL_KINDS)
    expect(triage(kind, answers({ waterInHouse: 'yes' }), 'none', calls)).toMatchObject({
      kind: 'water_rising',
      flooded: true,
      respondWithinMinutes: 120,
    });
  expect(triage('water_rising', answers(), 'finished', calls).respondWithinMinutes).toBe(60);
  // Dry, a finished basement shortens nothing.
  expect(triage('alarm', answers(), 'finished', calls).respondWithinMinutes).toBe(240);
});

test('a stain beside a pump that stands still is an alarm, unless the backup runs', () => {
  expect(triage('orange_stain', answers({ pumpRuns: 'no' }), 'basement', calls).kind).toBe('alarm');
  expect(triage('orange_stain', answers({ pumpRuns: 'no', backupRuns: 'yes' }), 'basement', calls).kind).toBe(
    'orange_stain',
  );
});

test('the owner sets the times', () => {
  const own = { ...calls, respondWithinMinutes: { ...calls.respondWithinMinutes, alarm: 600 } };
  expect(triage('alarm', answers(), 'basement', own)).toMatchObject({ urgency: 'today' });
});

test('gas keeps everybody out', () => {
  expect(triage('alarm', answers({ smellOfGas: 'yes' }), 'basement', calls)).toMatchObject({ unsafe: true });
});

test('the first thing said where water may stand is not to enter it; nothing is ever poured in', () => {
  expect(phoneSheet('water_rising').sayFirst[0]?.code).toBe('do_not_enter');
  for (const kind of CALL_KINDS) {
    const sheet = phoneSheet(kind);
    const all = [...sheet.sayFirst, ...sheet.ask, ...sheet.whileTheyWait, ...sheet.never];
    expect(new Set(all.map(({ code }) => code)).size, kind).toBe(all.length);
    for (const { source, text } of all) {
      expect(source).not.toBe('');
      expect(text.length, text).toBeLessThan(240);
    }
  }
});
