import type { Chance } from './chance.js';
import type { Door } from './door.js';

/** A house with what belongs to it, by the names that fields have in bodies. */
export interface Place {
  siteId: string;
  clientId: string;
  systemId: string;
  pitId: string;
  lineId: string;
  contactId: string;
}

/** The firm that every house is served by. */
export interface Firm {
  depotId: string;
  crewIds: string[];
  memberIds: string[];
  kitItemIds: string[];
  ruleId: string;
}

const ALL_DAYS = ['mon', 'tue', 'wed', 'thu', 'fri'];

export async function layFirm(door: Door): Promise<Firm> {
  const depot = await door.make('depots', {
    name: 'Yard',
    latitude: 44.5,
    longitude: -90.3,
    water: true,
    disposal: true,
  });
  const firm: Firm = { depotId: depot, crewIds: [], memberIds: [], kitItemIds: [], ruleId: '' };
  for (const name of ['Heron', 'Plover', 'Curlew']) {
    const crewId = await door.make('crews', { name, depotId: depot, people: 3 });
    const memberId = await door.make('members', { name: `${name} hand`, phone: '555 0100' });
    await door.make('crew-memberships', { crewId, memberId, fromDay: '2026-01-01' });
    for (const weekday of ALL_DAYS)
      await door.make('shifts', {
        crewId,
        weekday,
        startsAt: '06:00',
        endsAt: '20:00',
        fromDay: '2026-01-01',
      });
    for (const kind of [
      'jetter',
      'camera',
      'hose',
      'excavator',
      'pump',
      'cable_machine',
      'tracer',
      'hand_tools',
      'vacuum',
    ]) {
      const kitItemId = await door.make('kit-items', { name: `${name} ${kind}`, kind, depotId: depot });
      await door.make('crew-kit', { crewId, kitItemId, fromDay: '2026-01-01' });
      firm.kitItemIds.push(kitItemId);
    }
    firm.crewIds.push(crewId);
    firm.memberIds.push(memberId);
  }
  firm.ruleId = await door.make('locate-rules', {
    name: 'Two working days',
    notice: 2,
    holidays: ['2026-07-03', '2026-11-26'],
    noticeUnit: 'business_day',
    source: 'test',
  });
  return firm;
}

/** One house on the map with a pit, its discharge, readings of a year and a client. */
export async function layPlace(door: Door, chance: Chance): Promise<Place> {
  const siteId = await door.make('sites', {
    address: `${chance.whole(1, 9999)} Marsh Gate`,
    town: chance.of(['Brindle', 'Alder Quay']),
    latitude: 44.5 + chance.unit() / 10,
    longitude: -90.3 + chance.unit() / 10,
    tap: 'yes',
    basement: 'basement',
  });
  const clientId = await door.make('clients', {
    name: `Client ${chance.id().slice(0, 8)}`,
    phone: '555 0101',
  });
  await door.make('site-clients', { siteId, clientId, fromDay: '2020-01-01' });
  const contactId = await door.make('contacts', {
    siteId,
    name: 'A. Reed',
    role: 'occupant',
    phone: '555 0102',
    mayConsentTo: ['extra_work'],
  });
  const systemId = await door.make('systems', { siteId, name: 'Pit', kind: 'pit' });
  const lineId = await door.make('lines', {
    siteId,
    systemId,
    name: 'Discharge',
    kind: 'sump_discharge',
    length: { value: 20, unit: 'm' },
    lift: { value: 2.5, unit: 'm' },
    outlet: 'daylight',
    drainsTo: 'outlet',
  });
  await door.make('line-sections', {
    lineId,
    product: 'schedule_40',
    nominal: '1-1/2',
    installedOn: '2012-05-01',
  });
  const pitId = await door.make('pits', {
    siteId,
    systemId,
    dischargeLineId: lineId,
    diameter: { value: 450, unit: 'mm' },
  });
  await door.make('pumps', {
    pitId,
    curve: [
      { flow: { value: 0, unit: 'L/s' }, head: { value: 6.7, unit: 'm' } },
      { flow: { value: 2.27, unit: 'L/s' }, head: { value: 3.05, unit: 'm' } },
    ],
    installedOn: '2015-05-01',
  });
  await door.make('access-points', {
    siteId,
    lineId,
    kind: 'outlet',
    place: 'by the fence',
    kitCanEnter: ['jetter', 'hose'],
  });
  return { siteId, clientId, systemId, pitId, lineId, contactId };
}

/** Readings of a year, from which a night learns how fast the line fouls. */
export async function readLine(door: Door, { lineId }: Place, chance: Chance): Promise<void> {
  for (const month of [1, 4, 7])
    await door.make('inspections', {
      lineId,
      observedAt: `2026-0${month}-${String(chance.whole(10, 28))}T15:00:00Z`,
      phase: 'no_cleaning',
      reading: {
        method: 'camera',
        share: Math.round((0.05 + 0.04 * month * (0.5 + chance.unit())) * 100) / 100,
      },
    });
}
