import type { Ground, Recipe } from '../asks.js';
import { dayFrom } from '../values.js';
import { ago } from '../works.js';
import { changeOfNew, changeWithout, having } from './shape.js';

const freshCrew = (ground: Ground): Promise<string> =>
  ground.door.make('crews', {
    name: `Crew ${ground.chance.id().slice(0, 6)}`,
    depotId: ground.t.firm.depotId,
  });

/** Crews, their kit and their hours. */
export const PEOPLE: Record<string, Recipe> = {
  createCrew: having(() => ({}), 'externalRef', 'source', 'archivedOn'),
  changeCrew: changeWithout(
    'crews',
    'externalRef',
    'source',
    'archivedOn',
    'depotId',
    'endDepotId',
    'people',
  ),
  changeDepot: changeWithout('depots', 'archivedOn', 'latitude', 'longitude'),
  createCrewMembership: having(async ({ door }) => ({
    memberId: await door.make('members', { name: 'Wren' }),
  })),
  changeCrewMembership: changeOfNew(
    'crew-memberships',
    async ({ door, t }) =>
      door.make('crew-memberships', {
        crewId: t.firm.crewIds[1],
        memberId: await door.make('members', { name: 'Wren' }),
        fromDay: '2025-01-01',
      }),
    () => ({}),
    'fromDay',
  ),
  createKitItem: having(() => ({}), 'externalRef', 'source', 'boreMin', 'boreMax'),
  changeKitItem: changeWithout(
    'kit-items',
    'externalRef',
    'source',
    'boreMin',
    'boreMax',
    'archivedOn',
    'kind',
  ),
  createCrewKit: having(async ({ door }) => ({
    kitItemId: await door.make('kit-items', { name: 'Reel', kind: 'hose' }),
  })),
  changeCrewKit: changeOfNew(
    'crew-kit',
    async ({ door, t }) =>
      door.make('crew-kit', {
        crewId: t.firm.crewIds[1],
        kitItemId: await door.make('kit-items', { name: 'Reel', kind: 'hose' }),
        fromDay: '2025-01-01',
      }),
    () => ({}),
    'fromDay',
  ),
  createShift: having(async (ground) => ({
    crewId: await freshCrew(ground),
    startsAt: '07:00',
    endsAt: '16:00',
    breakAfter: '12:00',
  })),
  changeShift: changeWithout('shifts', 'startsAt', 'endsAt', 'breakAfter', 'fromDay', 'toDay', 'weekday'),
  createAbsence: having(
    async (ground) => ({ crewId: await freshCrew(ground), fromDay: '2027-01-01', toDay: '2027-01-02' }),
    'memberId',
    'kitItemId',
    'people',
    'fromAt',
    'backAt',
  ),
  changeAbsence: changeOfNew(
    'absences',
    async (ground) =>
      ground.door.make('absences', {
        crewId: await freshCrew(ground),
        fromDay: '2027-01-01',
        toDay: '2027-01-02',
        reason: 'ill',
      }),
    () => ({}),
    'people',
    'fromAt',
    'backAt',
    'fromDay',
    'toDay',
  ),
  createOnCallTurn: having(({ chance }) => {
    const from = Date.UTC(2027, 0, 1) + chance.whole(0, 400_000) * 3_600_000;
    return { fromAt: new Date(from).toISOString(), toAt: new Date(from + 1_800_000).toISOString() };
  }),
  changeOnCallTurn: changeWithout('on-call-turns', 'fromAt', 'toAt'),
  createCallOut: having(
    async (ground) => ({
      memberId: await ground.door.make('members', { name: 'Wren' }),
      calledAt: ago(ground, 500),
      backAt: ago(ground, 400),
    }),
    'workOrderId',
  ),
  changeCallOut: changeWithout('call-outs', 'calledAt', 'backAt', 'workOrderId'),
  createClosedSeason: having(() => ({ fromDay: '2027-02-01', toDay: '2027-02-10' })),
  createHoliday: having(({ chance, known }) => ({ day: dayFrom(known.now, chance.whole(100, 30_000)) })),
  changeHoliday: changeWithout('holidays', 'day'),
};
