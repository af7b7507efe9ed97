import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import { WATER_RECEIVERS } from '../domain/words.js';
import { letGoFaults } from '../domain/work/waterRules.js';
import type { ClientWater } from './clientWords.js';
import { type Block, type Paper, paragraph, quiet, section, strong, theirs, type Words } from './paper.js';
import { clockText, countText, dayText, quantityText } from './printed.js';
import { RECEIVER_TEXT } from './wording.js';

/** Where flushed water and sludge went in a period, for the authority. */
export interface DischargeLogData {
  businessName: string;
  officePhone: string | null;
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
  author: string;
}

export function dischargeLog(data: DischargeLogData): Paper {
  const { businessName, officePhone, from, to, units, entries } = data;
  const missing = entries.filter(lacksReference);
  // Water that was caught needs none: a column of dashes would only make the others narrow.
  const named = entries.some((entry) => lacksReference(entry) || hasReference(entry));
  const period = `${dayText(from)} to ${dayText(to)}`;
  return {
    title: `Discharge log ${period}`,
    from: [
      ...(businessName === '' ? [] : [theirs(businessName)]),
      ...(officePhone === null ? [] : [' · office ', theirs(officePhone)]),
    ],
    heading: ['Discharge log'],
    lead: [
      [`${period} · ${countText(entries.length, 'entry', 'entries')}`],
      ['Where water from cleaning drain lines, and the sludge it carried, was let go or taken.'],
    ],
    blocks:
      entries.length === 0
        ? [paragraph('No water was let go in this period.')]
        : [
            ...section('By receiver', totals(data)),
            ...section(
              'Without a reference',
              missing.length === 0
                ? null
                : paragraph(
                    `${countText(missing.length, 'entry', 'entries')} marked `,
                    strong('none'),
                    ' went where a reference in writing is asked for and none is on record. Each is kept as an incident.',
                  ),
            ),
            ...section('Entries', {
              kind: 'table',
              columns: [
                { head: 'When', narrow: true },
                { head: 'Where' },
                { head: 'Went to' },
                ...(named ? [{ head: 'Reference' }] : []),
                { head: 'Water', figures: true },
                { head: 'Sludge' },
              ],
              rows: entries.map((entry) => rowOf(entry, units, named)),
            }),
            {
              kind: 'fields',
              fields: [
                { label: 'Signed', blank: 'long' },
                { label: 'Day', blank: 'short' },
              ],
            },
          ],
    foot: [
      [
        quiet(
          'Written on site by the crew. Water caught and taken away is listed too. Local rules govern what may be let go where.',
        ),
      ],
    ],
    day: to,
    units,
  };
}

const lacksReference = ({ receiver, reference, sludgeTo }: DischargeEntry): boolean =>
  letGoFaults({ receiver, permitRef: reference, sludgeTo }).length > 0;

const hasReference = ({ reference }: DischargeEntry): boolean => (reference ?? '').trim() !== '';

const litres = (value: number | null, isPlanned: boolean, units: UnitSystem): string =>
  value === null
    ? 'not written down'
    : `${quantityText(value, 'volume', units)}${isPlanned ? ' as planned' : ''}`;

function rowOf(entry: DischargeEntry, units: UnitSystem, named: boolean): Words[] {
  const { day, seconds, orderNumber, address, receiver, place, reference, sludgeLitres, sludgeTo } = entry;
  const none = lacksReference(entry) ? strong('none') : '–';
  return [
    [`${dayText(day)} ${clockText(seconds, units)}`],
    [theirs(address), ` · order ${orderNumber}`, quiet(' · '), theirs(entry.author)],
    [RECEIVER_TEXT[receiver], ...(place === null ? [] : [': ', theirs(place)])],
    ...(named ? [[hasReference(entry) ? theirs(reference ?? '') : none]] : []),
    [litres(entry.waterLitres, entry.isPlanned.water, units)],
    sludgeLitres === null && sludgeTo === null
      ? ['–']
      : [
          litres(sludgeLitres, entry.isPlanned.sludge, units),
          ...(sludgeTo === null ? [] : [' to ', theirs(sludgeTo)]),
        ],
  ];
}

function totals({ entries, units }: DischargeLogData): Block {
  const sum = (of: readonly (number | null)[]): string => {
    const known = of.filter((each) => each !== null);
    return known.length === 0
      ? '–'
      : quantityText(
          known.reduce((total, each) => total + each, 0),
          'volume',
          units,
        );
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
