import type { Chance } from './demoChance.js';

/** Invented: put together from parts, so that no real person is meant. */
const GIVEN = [
  'Anwen',
  'Bram',
  'Corin',
  'Delphie',
  'Edda',
  'Fenn',
  'Greta',
  'Hale',
  'Isolde',
  'Jory',
  'Kestra',
];
const GIVEN_MORE = [
  'Linnet',
  'Marlo',
  'Nessa',
  'Orrin',
  'Perrin',
  'Quilla',
  'Rowan',
  'Senna',
  'Tamsin',
  'Ulric',
];
const FIRST_PARTS = ['Aber', 'Brock', 'Clay', 'Dun', 'Elder', 'Fal', 'Gris', 'Hawth', 'Ivel', 'Knap', 'Lang'];
const FIRST_MORE = [
  'Mere',
  'Nether',
  'Ox',
  'Pell',
  'Quarr',
  'Rush',
  'Sallow',
  'Thorn',
  'Under',
  'Wick',
  'Yarl',
];
const LAST_PARTS = [
  'combe',
  'dale',
  'fold',
  'garth',
  'holt',
  'low',
  'mond',
  'ness',
  'shaw',
  'thwaite',
  'wen',
];

export interface DemoPerson {
  name: string;
  email: string;
  phone: string;
}

export function demoPerson(chance: Chance): DemoPerson {
  const given = chance.pick([...GIVEN, ...GIVEN_MORE]);
  const family = chance.pick([...FIRST_PARTS, ...FIRST_MORE]) + chance.pick(LAST_PARTS);
  return {
    name: `${given} ${family}`,
    email: `${given}.${family}@example.com`.toLowerCase(),
    phone: demoPhone(chance),
  };
}

/** 555-0100 to 555-0199 are kept free of subscribers in every area code of the North American plan. */
export function demoPhone(chance: Chance): string {
  return `${chance.pick([274, 534, 715])}-555-01${String(chance.whole(0, 99)).padStart(2, '0')}`;
}

/** Clients with more than one site. Invented. */
export const DEMO_INSTITUTIONS = [
  'Wexley Reach School District',
  'Alder Quay Harbour Office',
  'Osier Row Owners',
  'Fallow Bridge Parish Hall',
] as const;
