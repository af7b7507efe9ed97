import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { AttemptResult, LineKind, TaskKind } from '../domain/words.js';
import {
  atHome,
  BEING_CHECKED,
  type ClientDecision,
  type ClientDeclined,
  type ClientNext,
  decisionText,
  declinedText,
  nextText,
} from './clientWords.js';
import { type Block, list, type Paper, paragraph, quiet, section, theirs, type Words } from './paper.js';
import { aboutText, countText, dayText, shareText } from './printed.js';
import { LINE_KIND_TEXT, RESULT_TEXT, TASK_TEXT } from './wording.js';

/** A client's year. */
export interface ClientSummaryData {
  businessName: string;
  officePhone: string | null;
  units: UnitSystem;
  clientName: string;
  year: number;
  /** The last day that is counted in. */
  upTo: IsoDate;
  houses: readonly SummedHouse[];
}

export interface SummedHouse {
  address: string;
  visits: readonly SummedVisit[];
  lines: readonly SummedLine[];
  waterLitres: number;
  sludgeLitres: number;
  declined: readonly ClientDecision[];
  declinedProposals: readonly ClientDeclined[];
}

export interface SummedVisit {
  on: IsoDate;
  orderNumber: number;
  tasks: readonly TaskKind[];
  result: AttemptResult | null;
}

export interface SummedLine {
  name: string;
  kind: LineKind;
  cleans: number;
  /** Fullest it was found in the year, share of the bore; null: nobody measured. */
  fullest: number | typeof BEING_CHECKED | null;
  timesPlugged: number;
  /** What the last clean with a reading left. */
  left: number | typeof BEING_CHECKED | null;
  next: ClientNext | null;
  /** Whether there is a forecast at all. */
  dated: boolean;
}

/** A client's year on paper: each house with its visits, its lines, and what comes next. */
export function clientSummary(data: ClientSummaryData): Paper {
  const { businessName, officePhone, clientName, year, upTo, houses, units } = data;
  const visits = houses.reduce((sum, house) => sum + house.visits.length, 0);
  const plugs = houses.flatMap(({ lines }) => lines).reduce((sum, { timesPlugged }) => sum + timesPlugged, 0);
  return {
    title: `${clientName}, ${year}`,
    from: [
      ...(businessName === '' ? [] : [theirs(businessName)]),
      ...(officePhone === null ? [] : [' · office ', theirs(officePhone)]),
    ],
    heading: [`Your drains in ${year}`],
    lead: [
      [theirs(clientName)],
      [
        `${countText(houses.length, 'house')} · ${countText(visits, 'visit')} · ` +
          `${plugs === 0 ? 'no plug found' : `${countText(plugs, 'plug')} found`} · up to ${dayText(upTo)}`,
      ],
    ],
    blocks:
      houses.length === 0
        ? [paragraph(`No house of yours was in our care in ${year}.`)]
        : [
            ...houses.flatMap((house) => houseBlocks(house, units, upTo)),
            ...section('For your safety', ...atHome(officePhone)),
          ],
    foot: [
      [
        quiet(
          'Shares are of the inside of the pipe: 0 % is a free pipe. Days to come may still move with what the next visit finds.',
        ),
      ],
    ],
    day: upTo,
    units,
  };
}

function houseBlocks(house: SummedHouse, units: UnitSystem, today: IsoDate): Block[] {
  const { address, visits, lines, waterLitres, sludgeLitres } = house;
  const declined = [...house.declined.map(decisionText), ...house.declinedProposals.map(declinedText)];
  const volume = (litres: number) => aboutText(litres, 'volume', units);
  return [
    ...section(
      address,
      visits.length === 0 ? paragraph('No visit under an order in this year.') : visitTable(visits),
      waterLitres + sludgeLitres === 0
        ? null
        : paragraph(
            `Water used and led away: about ${volume(waterLitres)}; sludge: about ${volume(sludgeLitres)}.`,
          ),
      lines.length === 0 ? null : lineTable(lines, today),
    ),
    ...(declined.length === 0 ? [] : [paragraph('Declined or put off:'), list('dots', declined)]),
  ];
}

function visitTable(visits: readonly SummedVisit[]): Block {
  return {
    kind: 'table',
    columns: [
      { head: 'Visit', narrow: true },
      { head: 'Order', figures: true },
      { head: 'Work' },
      { head: 'Result' },
    ],
    rows: visits.map(({ on, orderNumber, tasks, result }): Words[] => [
      [dayText(on)],
      [`${orderNumber}`],
      [[...new Set(tasks)].map((task) => TASK_TEXT[task]).join(', ')],
      [result === null ? 'begun' : RESULT_TEXT[result]],
    ]),
  };
}

function lineTable(lines: readonly SummedLine[], today: IsoDate): Block {
  const share = (value: SummedLine['left']) =>
    value === null ? '–' : value === BEING_CHECKED ? value : shareText(value);
  return {
    kind: 'table',
    columns: [
      { head: 'Line' },
      { head: 'Cleans', figures: true },
      { head: 'Fullest', figures: true },
      { head: 'Left', figures: true },
      { head: 'We come again' },
    ],
    rows: lines.map(({ name, kind, cleans, fullest, timesPlugged, left, next, dated }): Words[] => [
      [
        theirs(name),
        ...(name.toLowerCase() === LINE_KIND_TEXT[kind] ? [] : [quiet(` ${LINE_KIND_TEXT[kind]}`)]),
      ],
      [`${cleans}`],
      [timesPlugged > 0 ? 'plugged' : share(fullest)],
      [share(left)],
      [dated ? nextText(next, today) : 'no day yet'],
    ]),
  };
}
