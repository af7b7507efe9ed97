import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { WATER_RECEIVERS } from '../domain/words.js';
import { letGoFaults } from '../domain/work/waterRules.js';
import type { ClientWater } from './clientWords.js';
import {
  type Block,
  list,
  type Paper,
  paragraph,
  quiet,
  section,
  strong,
  theirs,
  type Words,
} from './paper.js';
import { aboutText, clockText, countText, dayText, estimateText } from './printed.js';
import type { Sender } from './sender.js';
import { RECEIVER_TEXT } from './wording.js';

/** Where flushed water and sludge went in a period, for the authority. */
export interface DischargeLogData extends Sender {
  printedOn: IsoDate;
  units: UnitSystem;
  from: IsoDate;
  to: IsoDate;
  entries: readonly DischargeEntry[];
}

export interface DischargeEntry extends ClientWater {
  day: IsoDate;
  /** Since midnight. */
  seconds: number;
  orderNumber: number;
  address: string;
  /** What nobody wrote down: the order's plan stands there. */
  isPlanned: { water: boolean; sludge: boolean };
  /** Depot of the crew: what "depot" means in `sludgeTo`. */
  depot: string | null;
  author: string;
}

/** Stands where the authority asks and nobody wrote it down. */
const MISSING = strong('MISSING');

export function dischargeLog(data: DischargeLogData): Paper {
  const { businessName, officePhone, printedOn, from, to, units, entries } = data;
  const period = `${dayText(from)} to ${dayText(to)}`;
  return {
    title: `Discharge log ${period}`,
    from: officePhone === null ? [] : ['office ', theirs(officePhone)],
    heading: ['Discharge log'],
    lead: [
      ['Business: ', ...said(businessName, 'businessName')],
      ['Address: ', ...said(data.businessAddress, 'businessAddress')],
      ['Licence or registration: ', ...said(data.licence, 'licence')],
      [`${period} · ${countText(entries.length, 'entry', 'entries')} · printed ${dayText(printedOn)}`],
      ['Where water from cleaning drain lines, and the sludge it carried, was let go or taken.'],
    ],
    blocks:
      entries.length === 0
        ? [paragraph('No water was let go in this period.')]
        : [
            ...section('By receiver', totals(data)),
            ...section('What is missing', ...missing(entries)),
            ...section('Entries', {
              kind: 'table',
              columns: [
                { head: 'When', narrow: true },
                { head: 'Where' },
                { head: 'Went to, with reference' },
                { head: 'Water', figures: true },
                { head: 'Sludge' },
              ],
              rows: entries.map((entry) => rowOf(entry, units)),
            }),
            ...section('Sludge and caught water given on by our depots', ...HANDED_ON, SIGNED),
          ],
    foot: [
      [
        quiet(
          'Written on site by the crew; amounts are estimates by hand. Water caught and taken away is listed too. Local rules govern what may be let go where.',
        ),
      ],
    ],
    day: printedOn,
    units,
  };
}

const said = (words: string | null, setting: string): Words =>
  words === null || words === ''
    ? [MISSING, `: set it at PATCH /v1/settings, papers.${setting}`]
    : [theirs(words)];

/** Nothing on record tells of it: written in by hand from the tickets of who took it. */
const HANDED_ON: Block[] = [1, 2, 3].map(() => ({
  kind: 'fields',
  fields: [
    { label: 'Day', blank: 'short' },
    { label: 'Taken by, with permit', blank: 'long' },
    { label: 'Amount', blank: 'short' },
    { label: 'Ticket', blank: 'short' },
  ],
}));
const SIGNED: Block = {
  kind: 'fields',
  fields: [
    { label: 'Signed', blank: 'long' },
    { label: 'Day', blank: 'short' },
  ],
};

const isBlank = (words: string | null): boolean => (words ?? '').trim() === '';

/** What an entry lacks for the authority. */
const LACKS = {
  taker: {
    words: 'where caught water was taken',
    isLacking: ({ receiver, place }: DischargeEntry) => receiver === 'caught' && isBlank(place),
  },
  permit: {
    words: 'permit or ticket of who took caught water',
    isLacking: ({ receiver, reference }: DischargeEntry) => receiver === 'caught' && isBlank(reference),
  },
  leave: {
    words: 'reference in writing that the receiver asks for (each is kept as an incident)',
    isLacking: ({ receiver, reference, sludgeTo }: DischargeEntry) =>
      letGoFaults({ receiver, permitRef: reference, sludgeTo }).length > 0,
  },
  sludge: {
    words: 'where sludge was taken',
    isLacking: ({ sludgeLitres, sludgeTo }: DischargeEntry) => (sludgeLitres ?? 0) > 0 && isBlank(sludgeTo),
  },
} as const;

function missing(entries: readonly DischargeEntry[]): Block[] {
  const counts = Object.values(LACKS)
    .map(({ words, isLacking }) => ({ words, count: entries.filter(isLacking).length }))
    .filter(({ count }) => count > 0);
  if (counts.length === 0)
    return [paragraph('Nothing: each entry names its receiver, and a reference where one is asked for.')];
  return [
    list(
      'dots',
      counts.map(({ words, count }) => [
        MISSING,
        ` in ${countText(count, 'entry', 'entries')} of ${entries.length}: ${words}.`,
      ]),
    ),
  ];
}

const litres = (value: number | null, isPlanned: boolean, units: UnitSystem): string =>
  value === null
    ? 'not written down'
    : `${estimateText(value, 'volume', units)}${isPlanned ? ' as planned' : ''}`;

function rowOf(entry: DischargeEntry, units: UnitSystem): Words[] {
  const { day, seconds, orderNumber, address, receiver, place, reference, isPlanned } = entry;
  const lacks = (what: keyof typeof LACKS) => LACKS[what].isLacking(entry);
  return [
    [`${dayText(day)} ${clockText(seconds, units)}`],
    [theirs(address), ` · order ${orderNumber}`, quiet(' · '), theirs(entry.author)],
    [
      RECEIVER_TEXT[receiver],
      ...told(': ', place, lacks('taker') && 'where to'),
      ...told(', ', reference, (lacks('permit') || lacks('leave')) && 'reference'),
    ],
    [litres(entry.waterLitres, isPlanned.water, units)],
    sludgeWords(entry, units),
  ];
}

/** @param lacking What is missing where nobody wrote it; false: nothing. */
const told = (before: string, words: string | null, lacking: string | false): Words =>
  isBlank(words)
    ? lacking === false
      ? []
      : [before, MISSING, ` ${lacking}`]
    : [before, theirs(words ?? '')];

function sludgeWords(entry: DischargeEntry, units: UnitSystem): Words {
  const { sludgeLitres, sludgeTo, depot, isPlanned } = entry;
  if (sludgeLitres === null && sludgeTo === null) return ['–'];
  return [
    litres(sludgeLitres, isPlanned.sludge, units),
    ...told(' to ', sludgeTo, LACKS.sludge.isLacking(entry) && 'place'),
    ...(depot !== null && sludgeTo?.trim().toLowerCase() === 'depot' ? [' ', theirs(depot)] : []),
  ];
}

function totals({ entries, units }: DischargeLogData): Block {
  const sum = (of: readonly (number | null)[]): string => {
    const known = of.filter((each) => each !== null);
    return known.length === 0
      ? '–'
      : `about ${aboutText(
          known.reduce((total, each) => total + each, 0),
          'volume',
          units,
        )}`;
  };
  const rows = WATER_RECEIVERS.flatMap((receiver): Words[][] => {
    const own = entries.filter((entry) => entry.receiver === receiver);
    const unknown = own.filter(({ waterLitres }) => waterLitres === null && receiver !== 'none').length;
    const planned = own.filter(({ isPlanned }) => isPlanned.water).length;
    if (own.length === 0) return [];
    return [
      [
        [RECEIVER_TEXT[receiver]],
        [`${own.length}`],
        [sum(own.map(({ waterLitres }) => waterLitres))],
        [sum(own.map(({ sludgeLitres }) => sludgeLitres))],
        [
          [
            ...(planned === 0 ? [] : [`water of ${planned} as planned, not measured`]),
            ...(unknown === 0 ? [] : [`water of ${unknown} not written down`]),
          ].join('; '),
        ],
      ],
    ];
  });
  return {
    kind: 'table',
    columns: [
      { head: 'Went to' },
      { head: 'Entries', figures: true },
      { head: 'Water', figures: true },
      { head: 'Sludge', figures: true },
      { head: '' },
    ],
    rows,
  };
}
