import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type {
  AttemptResult,
  CameBack,
  FlowProven,
  LineKind,
  NotDoneReason,
  TaskKind,
} from '../domain/words.js';
import { afterNotDone } from '../domain/work/notDone.js';
import {
  atHome,
  type ClientDecision,
  type ClientDeclined,
  type ClientReading,
  type ClientWater,
  decisionText,
  declinedText,
  emergencyBox,
  readingText,
  waterText,
} from './clientWords.js';
import { type Coming, comingWords, declinedLines, tellsTheSame } from './comingVisits.js';
import { type Currency, moneyText } from './money.js';
import {
  type Block,
  list,
  type Paper,
  type Photograph,
  paragraph,
  quiet,
  section,
  theirs,
  type Words,
} from './paper.js';
import { begun, countText, dayText, runsText, stopped, weekdayText } from './printed.js';
import { fromWords, type Sender } from './sender.js';
import { LINE_KIND_TEXT, NOT_DONE_TEXT, RESULT_TEXT, TASK_TEXT } from './wording.js';

/** What a client gets of a visit that was made: as it stood at its end, and beside that what is known today. */
export interface VisitReportData extends Sender {
  /** Day of printing. */
  printedOn: IsoDate;
  units: UnitSystem;
  currency: Currency;
  orderNumber: number;
  clientName: string | null;
  address: string;
  /** Why we came. */
  because: readonly string[];
  /** In order of time, at least one. */
  tries: readonly ReportedTry[];
  tasks: readonly ReportedTask[];
  lines: readonly ReportedLine[];
  /** Lines with a chart beyond those printed. */
  moreCharts: number;
  water: readonly ClientWater[];
  next: ReportedNext;
  /** Work that is still to come for this house, as of the day of printing. */
  ahead: readonly ReportedAhead[];
  declined: readonly ClientDecision[];
  declinedProposals: readonly ClientDeclined[];
  photographs: readonly Photograph[];
  /** Photographs beyond those printed. */
  morePhotographs: number;
}

export interface ReportedTry {
  on: IsoDate;
  crew: string | null;
  result: AttemptResult | null;
  reason: NotDoneReason | null;
  flowProven: FlowProven | null;
}

export interface ReportedTask {
  kind: TaskKind;
  target: string;
  result: AttemptResult | null;
  reason: NotDoneReason | null;
  /** Found while there, with the price somebody took or declined. */
  added: { priceMinor: number | null; by: string | null } | null;
  declinedBy: string | null;
}

export interface ReportedLine {
  name: string;
  kind: LineKind;
  before: ClientReading | null;
  after: ClientReading | null;
  passes: number | null;
  cameBack: CameBack | null;
  /** What was found in it up to the visit, drawn. */
  chart: string | null;
}

export interface ReportedNext {
  /** As first reckoned after the visit; null: not kept, or not reckoned yet. */
  told: Coming | null;
  /** As reckoned now; null: not since the last visit, or the house is another client's. */
  known: Coming | null;
  /** Days after the visit on which the house was seen again. */
  seenAgain: readonly IsoDate[];
}

/** Orders for one thing on one day: a dig has several. */
export interface ReportedAhead {
  orderNumbers: readonly number[];
  tasks: readonly TaskKind[];
  because: string | null;
  promisedOn: IsoDate | null;
}

const FLOW_TEXT: Readonly<Record<FlowProven, string>> = {
  yes: 'Water was seen to run through at the end.',
  no: 'Water did not run through at the end.',
  not_possible: 'Whether water runs through could not be seen this time.',
};

const CAME_BACK_TEXT: Readonly<Record<CameBack, string>> = {
  clear: 'clear water',
  tinted: 'tinted water',
  slugs: 'slugs of deposit',
  thick: 'thick deposit',
};

/** A finished or tried order, told to who lives there. */
export function visitReport(data: VisitReportData): Paper {
  const { officePhone, tries, orderNumber, printedOn, units } = data;
  const day = tries.at(-1)?.on ?? printedOn;
  const charts = data.lines.flatMap(({ chart }): Block[] =>
    chart === null ? [] : [{ kind: 'picture', svg: chart, size: 'small' }],
  );
  const declined = [...data.declined.map(decisionText), ...data.declinedProposals.map(declinedText)];
  return {
    title: `Visit of ${dayText(day)}, order ${orderNumber}`,
    from: fromWords(data),
    heading: ['Our visit on ', weekdayText(day)],
    lead: [
      [
        ...(data.clientName === null ? [] : [theirs(data.clientName), ' · ']),
        theirs(data.address),
        ` · order ${orderNumber} · printed ${dayText(printedOn)}`,
      ],
      ...(data.because.length === 0 ? [] : [[quiet('Why we came: '), theirs(data.because.join(' '))]]),
    ],
    blocks: [
      emergencyBox(officePhone),
      ...section('What we found and left', found(data)),
      ...section('What we did', list('dots', done(data))),
      ...section('What comes next', ...next(data, day)),
      ...section('For your safety', atHome()),
      ...section('Your lines up to this visit', ...charts, more(data.moreCharts)),
      ...section('Photographs', ...photographs(data)),
      ...section('What was declined or put off', declined.length === 0 ? null : list('dots', declined)),
    ],
    foot: [
      [
        quiet(
          'Shares are of the inside of the pipe: 0 % is a free pipe. Figures by eye or by the pump are less sure than those by camera.',
        ),
      ],
    ],
    day: printedOn,
    units,
  };
}

const done = (data: VisitReportData): Words[] => [
  ...triesText(data),
  ...data.tasks.map((task) => taskText(task, data)),
  ...data.water.map((water) => waterText(water, data.units)),
];

function triesText({ tries }: VisitReportData): Words[] {
  return tries.map(({ on, crew, result, reason, flowProven }) => [
    `${weekdayText(on)}`,
    ...(crew === null ? [] : [', ', theirs(crew)]),
    `: ${result === null ? 'begun' : RESULT_TEXT[result]}`,
    stopped(reason === null ? '' : ` (${NOT_DONE_TEXT[reason]}): ${afterNotDone(reason).next}`),
    flowProven === null ? '' : ` ${FLOW_TEXT[flowProven]}`,
  ]);
}

function found({ lines }: VisitReportData): Block | null {
  if (lines.length === 0) return null;
  const rows = lines.map(({ name, kind, before, after, passes, cameBack }): Words[] => [
    [
      theirs(name),
      ...(name.toLowerCase() === LINE_KIND_TEXT[kind] ? [] : [quiet(` ${LINE_KIND_TEXT[kind]}`)]),
    ],
    [readingText(before)],
    [readingText(after)],
    [
      [
        passes === null ? null : countText(passes, 'pass', 'passes'),
        cameBack === null ? null : CAME_BACK_TEXT[cameBack],
      ]
        .filter((each) => each !== null)
        .join(', '),
    ],
  ]);
  return {
    kind: 'table',
    columns: [{ head: 'Line' }, { head: 'Before' }, { head: 'After' }, { head: 'What came back' }],
    rows,
  };
}

function taskText(
  { kind, target, result, reason, added, declinedBy }: ReportedTask,
  { currency }: VisitReportData,
): Words {
  const price =
    added === null
      ? ''
      : ` Found while there${added.priceMinor === null ? '' : `, ${moneyText(added.priceMinor, currency, 2)}`}`;
  return [
    `${TASK_TEXT[kind]}: `,
    theirs(target),
    ` – ${result === null ? 'not said' : RESULT_TEXT[result]}${reason === null ? '' : ` (${NOT_DONE_TEXT[reason]})`}.`,
    price,
    ...(added === null || added.by === null ? [] : [', agreed by ', theirs(added.by)]),
    ...(declinedBy === null
      ? []
      : [added === null ? ' Its price was declined by ' : ', declined by ', theirs(declinedBy)]),
    added === null && declinedBy === null ? '' : '.',
  ];
}

/** What the client was told after the visit stands first; what is known since then bears its day. */
function next({ next: coming, ahead, printedOn }: VisitReportData, day: IsoDate): (Block | null)[] {
  const { told, known, seenAgain } = coming;
  const first = told === null ? [] : comingItems(told, day, ` (reckoned ${dayText(told.reckonedOn)})`);
  const isLate = (known?.visits[0]?.on ?? printedOn) <= printedOn && printedOn > day;
  const changed =
    known !== null && (told === null || isLate || seenAgain.length > 0 || !tellsTheSame(told, known));
  const since = changed
    ? comingItems(known, printedOn, '', [`State of ${dayText(printedOn)}: `, ...again(seenAgain)])
    : [];
  const notKept =
    told === null && known !== null && changed && printedOn > day
      ? [['What was reckoned right after this visit is not on record.']]
      : [];
  const all = [...first, ...since, ...notKept];
  const orders = ahead.map(
    ({ orderNumbers, tasks, because, promisedOn }): Words => [
      `${orderNumbers.length === 1 ? 'Order' : 'Orders'} ${runsText(orderNumbers)}: ${[...new Set(tasks)].map((task) => TASK_TEXT[task]).join(', ') || 'visit'}`,
      promisedOn === null ? ', day not set yet.' : ` on ${weekdayText(promisedOn)}.`,
      ...(because === null ? [] : [' ', theirs(begun(stopped(because)))]),
    ],
  );
  return [
    all.length === 0
      ? paragraph('The day of the next visit is set in the night after this one.')
      : list('dots', all),
    orders.length === 0 ? null : paragraph(`Work that is still to come, state of ${dayText(printedOn)}:`),
    orders.length === 0 ? null : list('dots', orders),
  ];
}

/** Most days of later visits that are named. */
const MOST_DAYS = 3;

function again(days: readonly IsoDate[]): Words {
  if (days.length === 0) return [];
  const named = days.slice(-MOST_DAYS).map((day) => dayText(day));
  const more = days.length - named.length;
  return [
    `we were at your house again on ${named.join(', ')}${more === 0 ? '' : ` and ${countText(more, 'day')} before`}. `,
  ];
}

function comingItems(coming: Coming, day: IsoDate, behind: string, before: Words = []): Words[] {
  const visits = comingWords(coming, day).map(
    (words, i): Words => [...(i === 0 ? [...before, 'We come again '] : ['And ']), ...words, `${behind}.`],
  );
  const declined = declinedLines(coming);
  return [
    ...visits,
    ...(declined.length === 0 ? [] : [[...(visits.length === 0 ? before : []), ...declined]]),
  ];
}

function photographs({ photographs: all, morePhotographs }: VisitReportData): (Block | null)[] {
  if (all.length === 0) return [];
  return [{ kind: 'photographs', photographs: all }, more(morePhotographs)];
}

const more = (count: number): Block | null =>
  count === 0 ? null : paragraph(quiet(`${count} more are kept; ask us for them.`));
