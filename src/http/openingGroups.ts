import { LINE_KINDS, MATERIALS, ROLES } from '../domain/words.js';
import type { OpeningEntry, OpeningGroup } from '../papers/openingPage.js';
import { LINE_KIND_TEXT, MATERIAL_TEXT } from '../papers/wording.js';
import type { Allowed } from './keyCheck.js';
import { QUESTIONS } from './reports/all.js';
import { reportQuery } from './reports/lineFilterQuery.js';
import { MONEY_QUESTIONS } from './reports/moneyQuestions.js';
import type { Question } from './reports/question.js';

const isMoney = (asked: Question): boolean =>
  MONEY_QUESTIONS.includes(asked) || asked.path === 'cost-against-risk';

/** A question that needs nothing said, as picture and table. */
const entryOf = ({ path, summary }: Question): OpeningEntry => ({
  title: summary,
  file: path,
  picture: `/v1/reports/${path}.svg`,
  csv: `/v1/reports/${path}`,
  filtered: true,
});

const asked = QUESTIONS.filter(({ own }) => reportQuery(own).safeParse({}).success);

/** The lists an office takes into a spreadsheet. */
const LISTS: readonly (readonly [title: string, path: string])[] = [
  ['Clients', 'clients'],
  ['Houses', 'sites'],
  ['Lines', 'lines'],
  ['What is believed of each line, and when it is due', 'trends'],
  ['Care terms', 'care-terms'],
  ['Readings', 'inspections'],
  ['Cleans', 'cleans'],
  ['Work orders', 'work-orders'],
];

/** What the page at `/` leads to, by what somebody comes for. Sheets, papers and what-ifs have forms of their own there. */
export const OPENING_GROUPS: readonly OpeningGroup[] = [
  { id: 'state', title: 'State of the base', entries: asked.filter((each) => !isMoney(each)).map(entryOf) },
  { id: 'money', title: 'Money', entries: asked.filter(isMoney).map(entryOf) },
  {
    id: 'next',
    title: 'What next',
    entries: [
      { title: 'Work that comes against hours there are', file: 'workload', picture: '/v1/workload.svg' },
    ],
  },
  {
    id: 'out',
    title: 'In and out',
    entries: [
      ...LISTS.map(([title, path]) => ({ title, file: path, csv: `/v1/${path}` })),
      { title: 'Houses on a map (GeoJSON)', file: 'sites', geojson: '/v1/sites.geojson' },
    ],
  },
];

/** Roles that may read what stands at an address; nobody where there is nothing. */
export function rolesAt(roles: ReadonlyMap<string, Allowed>): (address: string) => readonly string[] {
  return (address) => {
    const allowed = roles.get(address) ?? [];
    return allowed === 'public' ? ROLES : allowed;
  };
}

/** What the filter of the page offers to choose from. */
export const OPENING_CHOICES = {
  kind: LINE_KINDS.map((value) => ({ value, text: LINE_KIND_TEXT[value] })),
  material: MATERIALS.map((value) => ({ value, text: MATERIAL_TEXT[value] })),
};
