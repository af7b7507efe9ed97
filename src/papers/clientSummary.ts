import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { AttemptResult, LineKind, TaskKind } from '../domain/words.js';
import {
  atHome,
  BEING_CHECKED,
  type ClientDecision,
  type ClientDeclined,
  decisionText,
  declinedText,
  emergencyBox,
} from './clientWords.js';
import { type Coming, comingWords, declinedLines } from './comingVisits.js';
import { type Block, list, type Paper, paragraph, quiet, section, theirs, type Words } from './paper.js';
import { aboutText, countText, dayText, shareText } from './printed.js';
import { fromWords, type Sender } from './sender.js';
import { LINE_KIND_TEXT, RESULT_TEXT, TASK_TEXT } from './wording.js';

/** A client's year. */
export interface ClientSummaryData extends Sender {
  printedOn: IsoDate;
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
  /** Visits that cleaned, of which nobody wrote down how much water they took. */
  visitsWithoutWater: number;
  /** When we come again, as of the day of printing; null: not reckoned, or the house is another client's. */
  next: Coming | null;
  declined: readonly ClientDecision[];
  declinedProposals: readonly ClientDeclined[];
}

/** What was done on one day. */
export interface SummedVisit {
  on: IsoDate;
  /** An order was done or a clean recorded: it counts. Else somebody came, and neither was. */
  counts: boolean;
  /** None: a clean that no order tells of. */
  orderNumbers: readonly number[];
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
}

/** A client's year on paper: each house with its visits, its lines, and what comes next. */
export function clientSummary(data: ClientSummaryData): Paper {
  const { officePhone, clientName, year, upTo, printedOn, houses, units } = data;
  const came = houses.flatMap(({ visits }) => visits);
  const visits = came.filter(({ counts }) => counts).length;
  const inVain = came.length - visits;
  const plugs = houses.flatMap(({ lines }) => lines).reduce((sum, { timesPlugged }) => sum + timesPlugged, 0);
  return {
    title: `${clientName}, ${year}`,
    from: fromWords(data),
    heading: [`Your drains in ${year}`],
    lead: [
      [theirs(clientName), ` · printed ${dayText(printedOn)}`],
      [
        `${countText(houses.length, 'house')} · ${countText(visits, 'visit')}${inVain === 0 ? '' : ` and ${inVain} on which nothing was finished`} · ` +
          `${plugs === 0 ? 'no plug found' : `${countText(plugs, 'plug')} found`} · up to ${dayText(upTo)}`,
      ],
    ],
    blocks:
      houses.length === 0
        ? [paragraph(`No house of yours was in our care in ${year}.`)]
        : [
            emergencyBox(officePhone),
            ...houses.flatMap((house) => houseBlocks(house, units, printedOn)),
            ...section('For your safety', atHome()),
          ],
    foot: [
      [
        quiet(
          'Shares are of the inside of the pipe: 0 % is a free pipe. Days to come may still move with what the next visit finds.',
        ),
      ],
    ],
    day: printedOn,
    units,
  };
}

function houseBlocks(house: SummedHouse, units: UnitSystem, printedOn: IsoDate): Block[] {
  const { address, visits, lines, next } = house;
  const declined = [...house.declined.map(decisionText), ...house.declinedProposals.map(declinedText)];
  const water = waterWords(house, units);
  return [
    ...section(
      address,
      ...(next === null ? [] : nextBlocks(next, printedOn)),
      visits.length === 0 ? paragraph('No visit in this year.') : visitTable(visits),
      water === null ? null : paragraph(water),
      lines.length === 0 ? null : lineTable(lines),
    ),
    ...(declined.length === 0 ? [] : [paragraph('Declined or put off:'), list('dots', declined)]),
  ];
}

function waterWords({ waterLitres, sludgeLitres, visitsWithoutWater }: SummedHouse, units: UnitSystem) {
  const volume = (litres: number) => aboutText(litres, 'volume', units);
  const known =
    waterLitres + sludgeLitres === 0
      ? []
      : [`Water used and led away: about ${volume(waterLitres)}; sludge: about ${volume(sludgeLitres)}.`];
  const unknown =
    visitsWithoutWater === 0
      ? []
      : [`Of ${countText(visitsWithoutWater, 'visit')} nobody wrote down how much water was used.`];
  return [...known, ...unknown].join(' ') || null;
}

function nextBlocks(next: Coming, printedOn: IsoDate): Block[] {
  const visits = comingWords(next, printedOn).map((words, i) => [
    i === 0 ? `We come again (state of ${dayText(printedOn)}) ` : 'And ',
    ...words,
    '.',
  ]);
  const declined = declinedLines(next);
  return [...visits, ...(declined.length === 0 ? [] : [declined])].map((words) => paragraph(...words));
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
    rows: visits.map(({ on, orderNumbers, tasks, result }): Words[] => [
      [dayText(on)],
      [orderNumbers.length === 0 ? '–' : orderNumbers.join(', ')],
      [[...new Set(tasks)].map((task) => TASK_TEXT[task]).join(', ') || 'clean'],
      [result === null ? 'begun' : RESULT_TEXT[result]],
    ]),
  };
}

function lineTable(lines: readonly SummedLine[]): Block {
  const share = (value: SummedLine['left']) =>
    value === null ? '–' : value === BEING_CHECKED ? value : shareText(value);
  return {
    kind: 'table',
    columns: [
      { head: 'Line' },
      { head: 'Cleans', figures: true },
      { head: 'Fullest', figures: true },
      { head: 'Left', figures: true },
    ],
    rows: lines.map(({ name, kind, cleans, fullest, timesPlugged, left }): Words[] => [
      [
        theirs(name),
        ...(name.toLowerCase() === LINE_KIND_TEXT[kind] ? [] : [quiet(` ${LINE_KIND_TEXT[kind]}`)]),
      ],
      [`${cleans}`],
      [timesPlugged > 0 ? 'plugged' : share(fullest)],
      [share(left)],
    ]),
  };
}
