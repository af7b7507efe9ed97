import { expect, test } from 'vitest';
import type { CarriedKit, CrewDayFacts } from '../../../src/domain/work/crewDayFacts.js';
import { hindrancesOf, type PlannedNeeds } from '../../../src/domain/work/hindrances.js';

const DAY = '2026-10-01';
const jetter: CarriedKit = {
  id: 'j',
  name: 'Long jetter',
  kind: 'jetter',
  tankL: null,
  wasteL: null,
  isOwn: true,
  outBecause: null,
  outId: null,
};
const crew = (own: Partial<CrewDayFacts> = {}): CrewDayFacts => ({
  crewName: 'Heron',
  depotId: 'north',
  people: 2,
  holiday: null,
  away: [],
  rest: null,
  kit: [jetter],
  seasons: [],
  ...own,
});
const visit = (own: Partial<PlannedNeeds> = {}): PlannedNeeds => ({
  startsAt: '2026-10-01T13:00:00Z',
  kit: ['jetter'],
  people: 2,
  tasks: [{ kind: 'jet', lineKind: 'yard_drain' }],
  ...own,
});
const said = (facts: CrewDayFacts, needs = visit()) =>
  hindrancesOf(facts, needs, DAY).map(({ code, facts: { recordIds }, text }) => [code, recordIds, text]);
const away = (own: object) => ({
  id: 'a',
  memberId: null,
  people: null,
  comesBack: false,
  reason: 'flu',
  ...own,
});

test('nothing keeps a whole crew with its kit', () => {
  expect(said(crew())).toEqual([]);
});

test('kit out of service, unless another of its kind is there', () => {
  const out = { ...jetter, outBecause: 'pump seal', outId: 'x' };
  expect(said(crew({ kit: [out] }))).toEqual([
    ['kit_out_of_service', ['x'], 'Long jetter is out of service: pump seal'],
  ]);
  expect(said(crew({ kit: [out, { ...jetter, id: 'k', isOwn: false }] }))).toEqual([]);
  expect(said(crew({ kit: [] }))).toEqual([['kit_missing', [], 'Heron has no jetter that day']]);
  expect(said(crew({ kit: [out] }), visit({ kit: [] }))).toEqual([]);
});

test('a closed season for one of its tasks; rain spares what is inside', () => {
  const rain = {
    id: 's',
    reason: 'rain',
    depotId: null,
    tasks: ['jet', 'dig_and_replace'] as const,
    outsideOnly: true,
    fromDay: DAY,
    toDay: DAY,
  };
  expect(said(crew({ seasons: [rain] }))).toEqual([['closed_season', ['s'], 'no jet that day: rain']]);
  const inside = visit({ tasks: [{ kind: 'jet', lineKind: 'floor_drain' }] });
  expect(said(crew({ seasons: [rain] }), inside)).toEqual([]);
  expect(said(crew({ seasons: [{ ...rain, depotId: 'south' }] }))).toEqual([]);
  expect(said(crew({ seasons: [{ ...rain, toDay: '2026-09-30' }] }))).toEqual([]);
});

test('too few people, a member counted once; a crew away; a holiday', () => {
  const text = 'needs 2 people, Heron has 1 that day: flu';
  expect(said(crew({ away: [away({ people: 1 })] }))).toEqual([['too_few_people', ['a'], text]]);
  const twice = [away({ memberId: 'm' }), away({ id: 'b', memberId: 'm' })];
  expect(said(crew({ people: 3, away: twice }))).toEqual([]);
  expect(said(crew({ away: [away({ people: 1 })] }), visit({ people: 1 }))).toEqual([]);
  expect(said(crew({ away: [away({})] }))).toEqual([
    ['crew_away', ['a'], 'Heron does not work that day: flu'],
  ]);
  expect(said(crew({ away: [away({ comesBack: true })] }))).toEqual([]);
  expect(said(crew({ holiday: { id: 'h', name: 'Quay Day' } }))).toEqual([
    ['crew_away', ['h'], 'Heron does not work that day: Quay Day'],
  ]);
});

test('rest after a call-out holds what stands before its end, and nothing after it', () => {
  const rest = { recordIds: ['c'], untilAt: '2026-10-01T18:00:00Z', text: 'until 13:00: Tern (555 0170)' };
  expect(said(crew({ rest }))).toEqual([
    ['crew_rests', ['c'], 'Heron rests after a call-out until 13:00: Tern (555 0170)'],
  ]);
  expect(said(crew({ rest }), visit({ startsAt: '2026-10-01T18:00:00Z' }))).toEqual([]);
});
