import type { SiteRow } from '../actions/clientBase.js';
import { addDays, daysBetween, type IsoDate } from '../domain/calendar/isoDate.js';
import type { Basement } from '../domain/words.js';
import type { Chance } from './demoChance.js';
import { DEMO_INSTITUTIONS, type DemoPerson, demoPerson, demoPhone } from './demoNames.js';
import { DEMO_TOWNS, type DemoArea, type DemoTown, shifted } from './demoPlaces.js';

/** A site as the simulation knows it, more than the books say. */
export interface DemoSite {
  row: SiteRow;
  area: DemoArea;
  /** Iron in this site's water, mg/L. */
  ironMgL: number;
  builtOn: IsoDate;
  /** Who lives there or keeps the keys. */
  person: DemoPerson;
  /** The books know a name and the last clean, nothing else. */
  thin: boolean;
}

/** An old house is past every chance that its drains started clean when the history begins. */
const OLD_HOUSE_DAYS = 1300;
const ACCESS_NOTES = [
  'Side gate, latch sticks.',
  'Dog in the yard: ring first.',
  'Pit under the stairs, move the shelf.',
  'Park on the street, drive is new.',
  'Key with the neighbour to the left.',
  'Outlet behind the compost, twelve steps from the fence.',
];

export function demoSites(count: number, historyFrom: IsoDate, asOf: IsoDate, chance: Chance): DemoSite[] {
  const numbers = new Map<string, number>();
  const doors = new Set<string>();
  const reached = new Map<string, { phone: string; email: string | null }>();
  return Array.from({ length: count }, (_, index) => {
    const town = townOf(chance);
    const number = (numbers.get(town.code) ?? 0) + 1;
    numbers.set(town.code, number);
    const id = `${town.code}-${String(number).padStart(3, '0')}`;
    return demoSite(id, town, { thin: index % 25 === 24, historyFrom, asOf, doors, reached }, chance);
  });
}

interface Founding {
  thin: boolean;
  historyFrom: IsoDate;
  asOf: IsoDate;
  /** Addresses taken. */
  doors: Set<string>;
  /** How each client is reached: one with several houses has one telephone. */
  reached: Map<string, { phone: string; email: string | null }>;
}

function demoSite(id: string, town: DemoTown, founding: Founding, chance: Chance): DemoSite {
  const { thin, historyFrom, asOf } = founding;
  const area = chance.pick(town.areas);
  const person = demoPerson(chance);
  const institution = chance.happens(0.04) ? chance.pick(DEMO_INSTITUTIONS) : null;
  const client = institution ?? person.name;
  const reach = founding.reached.get(client) ?? {
    phone: institution === null ? person.phone : demoPhone(chance),
    email: thin ? null : institution === null ? person.email : 'drains@example.com',
  };
  founding.reached.set(client, reach);
  const basement = basementOf(area, chance);
  const builtOn = builtOnOf(area, historyFrom, asOf, chance);
  const place = shifted(town, chance.normal() * town.spreadKm * 0.5, chance.normal() * town.spreadKm * 0.5);
  const ironMgL = area.ironMgL * Math.exp(0.45 * chance.normal());
  const row: SiteRow = {
    siteId: id,
    client,
    clientPhone: reach.phone,
    clientEmail: reach.email,
    address: addressOf(town, founding.doors, chance),
    town: town.name,
    area: area.name,
    postalCode: `${town.postalCode}${chance.pick(['AA', 'BD', 'CE', 'DF'])}`,
    ...place,
    access: chance.happens(basement === 'finished' ? 0.5 : 0.25) ? 'someone_home' : 'anytime',
    accessNotes: chance.happens(0.3) ? chance.pick(ACCESS_NOTES) : null,
    basement,
    tap: chance.weighted({ yes: 70, no: 12, unknown: 18 }),
    builder: area.builder,
    builtOn: chance.happens(0.85) ? builtOn : null,
    lastCleaned: null,
  };
  if (!thin) return { row, area, ironMgL, builtOn, person, thin };
  const bare: SiteRow = {
    ...row,
    access: 'anytime',
    accessNotes: null,
    basement: 'unknown',
    tap: 'unknown',
    builder: null,
    builtOn: null,
    lastCleaned: addDays(asOf, -chance.whole(40, 420)),
  };
  return { row: bare, area, ironMgL, builtOn, person, thin };
}

function townOf(chance: Chance): DemoTown {
  const name = chance.weighted(Object.fromEntries(DEMO_TOWNS.map((town) => [town.name, town.weight])));
  return DEMO_TOWNS.find((town) => town.name === name) ?? chance.pick(DEMO_TOWNS);
}

function addressOf(town: DemoTown, doors: Set<string>, chance: Chance): string {
  for (;;) {
    const address = `${chance.whole(1, 240)} ${chance.pick(town.streets)}`;
    if (doors.has(`${town.code} ${address}`)) continue;
    doors.add(`${town.code} ${address}`);
    return address;
  }
}

function basementOf(area: DemoArea, chance: Chance): Basement {
  if (area.builder !== null) return chance.weighted<Basement>({ finished: 45, basement: 35, none: 20 });
  return chance.weighted<Basement>({ finished: 22, basement: 40, none: 32, unknown: 6 });
}

/** A builder's area is new: some of it was built while the history ran. */
function builtOnOf(area: DemoArea, historyFrom: IsoDate, asOf: IsoDate, chance: Chance): IsoDate {
  if (area.builder !== null && chance.happens(0.6)) {
    return addDays(historyFrom, chance.whole(-60, daysBetween(historyFrom, asOf) - 100));
  }
  const years = area.builder !== null ? chance.between(0, 5) : chance.between(3, 75);
  return addDays(historyFrom, -OLD_HOUSE_DAYS - Math.floor(years * 365.25));
}
