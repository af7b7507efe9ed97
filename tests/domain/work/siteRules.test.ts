import { expect, test } from 'vitest';
import {
  CONSEQUENCES,
  INCIDENT_KINDS,
  NOT_DONE_REASONS,
  OUTLETS,
  TASK_KINDS,
} from '../../../src/domain/words.js';
import { cautionsOf } from '../../../src/domain/work/cautions.js';
import { closesTrench } from '../../../src/domain/work/digPlan.js';
import { tellings } from '../../../src/domain/work/incidentRules.js';
import { afterNotDone } from '../../../src/domain/work/notDone.js';
import {
  missingFacts,
  preconditionsOf,
  somebodyMustAgree,
  type VisitFacts,
  wrongFacts,
} from '../../../src/domain/work/preconditionRules.js';
import { tracedFaults } from '../../../src/domain/work/tracedRun.js';
import {
  type CheckOnRecord,
  deeperThanChecked,
  type TrenchSeen,
  trenchCheckHolds,
  trenchFaults,
  wasCheckedOpen,
} from '../../../src/domain/work/trenchRules.js';
import { isSensitive, receiverOf, referenceFor } from '../../../src/domain/work/waterRules.js';

const codes = (tasks: readonly (typeof TASK_KINDS)[number][], facts = {}) =>
  cautionsOf(tasks, facts).map(({ code }) => code);

test('every task carries cautions with a source, each once, local codes last', () => {
  for (const task of TASK_KINDS) {
    const cautions = cautionsOf([task], {});
    expect(cautions.length, task).toBeGreaterThan(1);
    expect(
      cautions.every(({ source, text }) => source !== '' && text !== ''),
      task,
    ).toBe(true);
    expect(cautions.at(-1)?.code, task).toBe('local_codes');
  }
  const all = codes(TASK_KINDS);
  expect(new Set(all).size).toBe(all.length);
});

test('a cross-bored gas line is possible on jet, cable, trace and dig', () => {
  for (const task of ['jet', 'cable', 'trace', 'dig_and_replace'] as const)
    expect(codes([task]), task).toContain('cross_bore');
  expect(codes(['test_pump'])).not.toContain('cross_bore');
});

test('a flooded basement comes first; a deep pit and a sewer add theirs', () => {
  expect(codes(['inspect'], { floodedBasement: true })[0]).toBe('flooded_basement');
  expect(codes(['jet'], { enterablePit: true, sanitaryTie: true })).toEqual(
    expect.arrayContaining(['confined_space', 'sewage']),
  );
});

test('a house known to have no pump needs no caution of one, unless the task brings or handles it', () => {
  expect(codes(['jet'])).toEqual(expect.arrayContaining(['pump_power', 'pit_overflow']));
  const dry = codes(['jet'], { noPump: true });
  expect(dry).not.toContain('pump_power');
  expect(dry).not.toContain('pit_overflow');
  expect(dry).toEqual(codes(['jet']).filter((code) => code !== 'pump_power' && code !== 'pit_overflow'));
  for (const task of ['temporary_pump', 'test_pump', 'fit_pump', 'clear_pit'] as const)
    expect(codes([task, 'jet'], { noPump: true }), task).toContain('pump_power');
});

test('no caution suggests a chemical', () => {
  const words = cautionsOf(TASK_KINDS, {})
    .map(({ text }) => text.toLowerCase())
    .join(' ');
  expect(words).not.toMatch(/acid|bleach|chlor|biocide|bactericide|dose/);
});

const SEEN: TrenchSeen = {
  depthM: 1.8,
  protection: 'shored',
  exitWithinM: 5,
  spoilBackM: 0.7,
  oxygenPercent: 20.8,
  waterGathers: false,
  signsOfCaveIn: false,
  slopeRatio: null,
  ladderAboveM: null,
};

test.each([
  ['water_gathers', { waterGathers: true }],
  ['signs_of_cave_in', { signsOfCaveIn: true, protection: 'sloped' as const, slopeRatio: 1.5 }],
  ['little_oxygen', { oxygenPercent: 19 }],
  ['spoil_too_near', { spoilBackM: 0.5 }],
  ['no_protection', { protection: 'none' as const }],
  ['no_exit', { exitWithinM: null }],
  ['engineer_needed', { depthM: 6.2 }],
  ['slope_unsaid', { protection: 'sloped' as const }],
  ['spoil_unsaid', { spoilBackM: null }],
  ['air_unsaid', { oxygenPercent: null }],
])('%s keeps everybody out of the trench', (code, change) => {
  expect(trenchFaults(SEEN)).toEqual([]);
  expect(trenchFaults({ ...SEEN, ...change }).map((fault) => fault.code)).toEqual([code]);
});

test('a trench check holds for its shift and until it rains', () => {
  const check = { checkedAtMs: 1000, day: '2026-06-02', passed: true, depthM: 1 };
  const holds = (lastRainMs: number | null, checks: CheckOnRecord[] = [check], day = '2026-06-02') =>
    trenchCheckHolds(checks, day, 5000, lastRainMs);
  expect(holds(null)).toBe(true);
  expect(holds(500)).toBe(true);
  expect(holds(2000)).toBe(false);
  expect(holds(2000, [check, { ...check, checkedAtMs: 2500 }])).toBe(true);
  expect(holds(null, [check], '2026-06-03')).toBe(false);
  expect(holds(null, [check, { ...check, checkedAtMs: 2000, passed: false }])).toBe(false);
  expect(holds(null, [{ ...check, checkedAtMs: 6000 }])).toBe(false);
  // From before the opening: does until one said a depth.
  const before = { ...check, checkedAtMs: 2000, depthM: null };
  expect(holds(null, [before])).toBe(true);
  expect(holds(null, [check, before])).toBe(false);
});

test('a trench that was dug ends with a check of it open; one traced to be shallow needs none', () => {
  const [hour, day] = [3_600_000, '2026-06-02'];
  const before = { checkedAtMs: 20 * hour, day, passed: true, depthM: null };
  const open = { ...before, checkedAtMs: 22 * hour, depthM: 1.8 };
  const end = { startedMs: 21 * hour, atMs: 25 * hour, day, lastRainMs: null };
  const ended = (checks: CheckOnRecord[], plannedM: number | null = null, more = {}) =>
    wasCheckedOpen(checks, { ...end, ...more }, plannedM);
  expect(ended([before])).toBe(false);
  expect(ended([before, open])).toBe(true);
  expect(ended([before, { ...open, passed: false }])).toBe(false);
  expect(ended([{ ...open, checkedAtMs: 26 * hour }])).toBe(false);
  expect(ended([{ ...open, checkedAtMs: 8 * hour }])).toBe(false);
  // 4 ft is 1.22 m
  expect(ended([before], 1.2)).toBe(true);
  expect(ended([before], 1.3)).toBe(false);
  // Checked at 1.8 m: a tape's width deeper still holds, more does not.
  expect(ended([before, open], 1.85)).toBe(true);
  expect(ended([before, open], 2)).toBe(false);
  // Rain after the last check: checked again first, however shallow; before it, or not over yet: nothing changes.
  expect(ended([before, open], 1.8, { lastRainMs: 23 * hour })).toBe(false);
  expect(ended([before], 1, { lastRainMs: 23 * hour })).toBe(false);
  expect(ended([before, open], 1.8, { lastRainMs: 21 * hour })).toBe(true);
  expect(ended([before, open], 1.8, { lastRainMs: 26 * hour })).toBe(true);
  expect(ended([open, { ...open, checkedAtMs: 24 * hour }], 1.8, { lastRainMs: 23 * hour })).toBe(true);
  // A second day wants a check of its own; a night shift goes on over midnight.
  expect(ended([open], 1.8, { day: '2026-06-03' })).toBe(true);
  expect(ended([open], 1.8, { day: '2026-06-03', atMs: 34 * hour })).toBe(false);
});

test('a trench deeper than its check, or past a depth where another rule begins, is checked again', () => {
  expect(deeperThanChecked(1.05, 1)).toBeNull();
  expect(deeperThanChecked(1.11, 1)).toMatchObject({ code: 'deeper_than_checked' });
  // 4 ft are 1.219 m and 5 ft 1.524 m: crossed by less than a tape's width
  expect(deeperThanChecked(1.22, 1.2)?.text).toContain('checked at 1.20 m');
  expect(deeperThanChecked(1.53, 1.5)).not.toBeNull();
  expect(deeperThanChecked(1.6, 1.55)).toBeNull();
  expect(deeperThanChecked(1, null)).toBeNull();
  expect(deeperThanChecked(1.3, null)?.text).toContain('before it was opened');
});

test('what a trace found lies on its line and in the ground', () => {
  const fields = (fromM: number | null, toM: number | null, depthM: number | null, lengthM: number | null) =>
    tracedFaults({ fromM, toM, depthM }, lengthM).map(({ field }) => field);
  expect(fields(2, 5, 1.3, 7)).toEqual([]);
  expect(fields(null, null, null, 7)).toEqual([]);
  expect(fields(5, 2, 1.3, 7)).toEqual(['to']);
  expect(fields(5, 5, 1.3, null)).toEqual(['to']);
  expect(fields(8, 9, 0, 7)).toEqual(['from', 'to', 'depth']);
  // 900 ft
  expect(fields(2, 5, 274, null)).toEqual(['depth']);
});

test('a dig closes its trench with its last part, whoever made it', () => {
  expect(closesTrench('dig_and_replace', {})).toBe(true);
  expect(closesTrench('dig_and_replace', { part: 1, parts: 2 })).toBe(false);
  expect(closesTrench('dig_and_replace', { part: 2, parts: 2 })).toBe(true);
  expect(closesTrench('jet', {})).toBe(false);
});

const VISIT: VisitFacts = {
  tasks: ['jet'],
  kit: [],
  priceBasis: 'care_terms',
  standingConsent: false,
  beyondTerms: false,
  builderNotice: false,
  endAsks: false,
};
const opens = (change: Partial<VisitFacts>) => preconditionsOf({ ...VISIT, ...change });

test('what a visit waits for follows from its tasks, price, house and outlet', () => {
  expect(opens({})).toEqual([]);
  // A restoration fills up from the top; with an excavator it opens the ground.
  expect(opens({ tasks: ['restore'] })).toEqual([]);
  expect(opens({ tasks: ['restore'], kit: ['excavator'] })).toEqual(['locate_ticket']);
  expect(opens({ tasks: ['dig_and_replace'], priceBasis: 'quote', builderNotice: true })).toEqual([
    'locate_ticket',
    'quote_accepted',
    'discharge_plan',
    'builder_notice',
    'parts',
  ]);
  expect(opens({ beyondTerms: true })).toEqual(['consent']);
  expect(opens({ beyondTerms: true, standingConsent: true })).toEqual([]);
  expect(opens({ endAsks: true })).toEqual(['discharge_plan']);
});

test('a day is agreed with the client where somebody must let the crew in', () => {
  expect(somebodyMustAgree('someone_home', ['clear_outlet', 'test_pump'])).toBe(true);
  expect(somebodyMustAgree('someone_home', ['restore'])).toBe(false);
  expect(somebodyMustAgree('anytime', ['test_pump'])).toBe(false);
});

test('a quote is accepted with its lines, its most, by whom and when', () => {
  expect(missingFacts('quote_accepted', { lines: 'north drain', notToExceedMinor: 500_000 })).toEqual([
    'acceptedBy',
    'acceptedAt',
  ]);
  expect(missingFacts('parts', {})).toEqual([]);
});

test('a storm drain, water or a sewer takes water only with a reference; unknown ends are caught', () => {
  const sensitive = OUTLETS.filter(isSensitive);
  expect(sensitive).toEqual(['creek', 'ditch', 'pond', 'kerb', 'storm_sewer', 'sanitary_sewer']);
  expect(receiverOf('unknown')).toBe('caught');
  expect([referenceFor('own_ground'), referenceFor('caught')]).toEqual([null, null]);
});

test('each incident says who is told by when, the soonest first; a jet injury goes to hospital at once', () => {
  for (const kind of INCIDENT_KINDS)
    for (const consequence of CONSEQUENCES) {
      const list = tellings(kind, consequence);
      expect(list.length, kind).toBeGreaterThan(0);
      expect([...list].sort((a, b) => a.withinHours - b.withinHours)).toEqual(list);
    }
  expect(tellings('jet_injury', 'first_aid')[0]).toMatchObject({
    withinHours: 0,
    who: expect.stringContaining('hospital'),
  });
  expect(tellings('injury', 'death').map(({ who }) => who)).toContain('authority for work safety');
  expect(tellings('near_miss', 'none').map(({ who }) => who)).not.toContain('authority for work safety');
});

test('each reason for not doing work leads to something the client can read', () => {
  for (const reason of NOT_DONE_REASONS) expect(afterNotDone(reason).next.length, reason).toBeGreaterThan(10);
  expect(afterNotDone('no_one_home')).toMatchObject({ opens: 'someone_home', billedWhenPromised: 'yes' });
  expect(afterNotDone('unsafe')).toMatchObject({ opens: 'made_safe', billedWhenPromised: 'no' });
  expect(afterNotDone('out_of_time').opens).toBeNull();
});

test('whoever digs at a house is told of its footing; at a buried outlet of utilities and private lines', () => {
  for (const task of ['dig_and_replace', 'add_cleanout', 'replace_outlet'] as const)
    expect(codes([task]), task).toContain('footing');
  expect(codes(['clear_outlet'])).toEqual(expect.arrayContaining(['utilities', 'private_lines']));
});

test('a strike tells the emergency service at once; whom a jet pierced, the authority for work safety', () => {
  const first = tellings('utility_strike', 'none')[0];
  expect([first?.withinHours, first?.who]).toEqual([0, expect.stringContaining('emergency service')]);
  const authority = (consequence: 'none' | 'death') =>
    tellings('jet_injury', consequence)
      .filter(({ who }) => who.includes('work safety'))
      .map(({ withinHours }) => withinHours);
  expect([authority('none'), authority('death')]).toEqual([[24], [8]]);
});

test('facts of a quote are written as what they are', () => {
  const quote = {
    lines: 'discharge',
    notToExceedMinor: 0,
    acceptedBy: 'A. Sedge',
    acceptedAt: '2026-06-04T18:00:00Z',
  };
  const wrong = (change: object) =>
    wrongFacts('quote_accepted', { ...quote, ...change }).map(({ name }) => name);
  expect(wrong({})).toEqual([]);
  expect(wrong({ notToExceedMinor: -5, acceptedAt: 'never' })).toEqual(['notToExceedMinor', 'acceptedAt']);
  expect(wrong({ notToExceedMinor: 0.5, lines: true })).toEqual(['lines', 'notToExceedMinor']);
});
