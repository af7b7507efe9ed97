import { expect, test } from 'vitest';
import { ARRIVE_AND_LEAVE_MINUTES } from '../../../src/domain/jetting/siteMinutes.js';
import type { CarriedKit, CrewDayFacts } from '../../../src/domain/work/crewDayFacts.js';
import { onBoard, type SuppliedVisit, waterUnchecked } from '../../../src/domain/work/onBoard.js';
import { onBoardText, waterUncheckedText } from '../../../src/papers/onBoardText.js';

const item = (own: Partial<CarriedKit> & Pick<CarriedKit, 'name' | 'kind'>): CarriedKit => ({
  id: own.name,
  tankL: null,
  wasteL: null,
  isOwn: true,
  outBecause: null,
  outId: null,
  ...own,
});
const crew = (...kit: CarriedKit[]): CrewDayFacts => ({
  crewName: 'Heron',
  depotId: 'north',
  people: 2,
  holiday: null,
  away: [],
  rest: null,
  kit,
  seasons: [],
});
const visit = (own: Partial<SuppliedVisit> = {}): SuppliedVisit => ({
  number: 154,
  kit: ['jetter'],
  tasks: ['jet'],
  tap: 'no',
  minutes: 60,
  waterL: 400,
  sludgeL: 30,
  ...own,
});
const texts = (facts: CrewDayFacts, visits: SuppliedVisit[], units: 'metric' | 'us' = 'metric') =>
  onBoard(facts, visits).map((thing) =>
    onBoardText(thing, units)
      .replaceAll(/[\u2068\u2069]/g, '')
      .replaceAll(/[\u00A0\u202F]/g, ' '),
  );

test('tank and waste tank stand with what they hold and what the day needs, in the units asked for', () => {
  const full = crew(item({ name: 'Trailer jetter', kind: 'jetter', tankL: 1514.2, wasteL: 378.5 }));
  const visits = [
    visit(),
    visit({ number: 155, tap: 'unknown', waterL: 357 }),
    visit({ number: 156, tap: 'yes' }),
  ];
  expect(texts(full, visits)).toEqual([
    'Trailer jetter',
    // 400 + 357; the third house has a tap.
    'water tank 1 514 L of Trailer jetter, full: about 757 L needed from it',
    'waste tank 379 L of Trailer jetter, empty: about 90 L of sludge',
    'jet injury card',
  ]);
  // 1514 / 3.785 = 400.0; 757 / 3.785 = 200.0; 379 / 3.785 = 100.1; 90 / 3.785 = 23.8
  expect(texts(full, visits, 'us').slice(1, 3)).toEqual([
    'water tank 400 gal of Trailer jetter, full: about 200 gal needed from it',
    'waste tank 100 gal of Trailer jetter, empty: about 23.8 gal of sludge',
  ]);
});

test('without a tank on record: how much to bring, and buckets or the vacuum for the sludge', () => {
  expect(texts(crew(item({ name: 'Reel', kind: 'jetter' })), [visit()])).toEqual([
    'Reel (jetter)',
    'water, about 400 L: tank size not recorded',
    'buckets with lids for about 30 L of sludge',
    'jet injury card',
  ]);
  const vacuum = crew(item({ name: 'Big vacuum', kind: 'vacuum' }));
  expect(texts(vacuum, [visit()])).toContain('Big vacuum for about 30 L of sludge: tank size not recorded');
  expect(texts(vacuum, [visit()])[0]).toBe('jetter (none on record)');
});

test('what is out of service stays behind, and kit of the depot is fetched', () => {
  const digger = item({ name: 'Depot digger', kind: 'excavator', isOwn: false });
  const broken = item({ name: 'Reel', kind: 'jetter', tankL: 900, outBecause: 'pump seal' });
  const said = texts(crew(broken, digger), [
    visit({ kit: ['jetter', 'excavator'], tasks: ['dig_and_replace'] }),
  ]);
  expect(said.slice(0, 3)).toEqual([
    'Depot digger (excavator)',
    'jetter (none on record)',
    'water, about 400 L: tank size not recorded',
  ]);
  expect(said).toEqual(expect.arrayContaining(['trench protection', 'ladder']));
});

test('a jet that takes more than the tap gives draws the rest from the tank', () => {
  const tank = crew(item({ name: 'Jetter', kind: 'jetter', tankL: 2000 }));
  const [, water] = onBoard(tank, [
    visit({ tap: 'yes', waterL: 2000, minutes: 60 + ARRIVE_AND_LEAVE_MINUTES }),
  ]);
  // An hour at .315 L/s is 1,134 L.
  expect(water).toMatchObject({ kind: 'water', needsL: 866 });
});

test('nothing is needed where nobody goes, and no water where every house has a tap', () => {
  const tank = crew(item({ name: 'Jetter', kind: 'jetter', tankL: 100 }));
  expect(onBoard(tank, [])).toEqual([]);
  expect(texts(tank, [visit({ tap: 'yes' })])).toContain(
    'water tank 100 L of Jetter, full: the taps give enough',
  );
  expect(texts(crew(), [visit({ tap: 'yes', kit: [], tasks: ['test_pump'], sludgeL: 0 })])).toEqual([]);
});

test('unchecked is the water for a house without a tap by a crew whose tank nobody wrote down', () => {
  const unknown = crew(item({ name: 'Reel', kind: 'jetter' }));
  const visits = [
    visit(),
    visit({ number: 160, waterL: 54 }),
    visit({ number: 161, tap: 'unknown' }),
    visit({ waterL: 0 }),
  ];
  const unchecked = waterUnchecked(unknown, visits);
  expect(unchecked.map(({ number }) => number)).toEqual([154, 160]);
  expect(waterUncheckedText('Heron', unchecked, 'us').replaceAll('\u00A0', ' ')).toBe(
    // 454 / 3.785 = 119.9
    'no tap at orders 154, 160: bring about 120 gal of water; the size of Heron’s tank is not recorded, so nobody checked that it suffices',
  );
  expect(waterUnchecked(crew(item({ name: 'Jetter', kind: 'jetter', tankL: 10 })), visits)).toEqual([]);
});
