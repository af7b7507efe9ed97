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
  type ClientNext,
  type ClientReading,
  type ClientWater,
  decisionText,
  declinedText,
  nextText,
  readingText,
  waterText,
} from './clientWords.js';
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
import { dayText, weekdayText } from './printed.js';
import { LINE_KIND_TEXT, NOT_DONE_TEXT, RESULT_TEXT, TASK_TEXT } from './wording.js';

/** What a client gets of a visit that was made. */
export interface VisitReportData {
  businessName: string;
  officePhone: string | null;
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
  water: readonly ClientWater[];
  /** What is still to come for this house. */
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
  next: ClientNext | null;
  /** Its trend, where the night has reckoned since the visit. */
  chart: string | null;
}

export interface ReportedAhead {
  orderNumber: number;
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
  clear: 'clear water came back',
  tinted: 'tinted water came back',
  slugs: 'slugs of deposit came back',
  thick: 'thick deposit came back',
};

/** A finished or tried order, told to who lives there. */
export function visitReport(data: VisitReportData): Paper {
  const { businessName, officePhone, tries, orderNumber, units } = data;
  const last = tries.at(-1);
  const day = last?.on ?? '1970-01-01';
  return {
    title: `Visit of ${dayText(day)}, order ${orderNumber}`,
    from: [
      ...(businessName === '' ? [] : [theirs(businessName)]),
      ...(officePhone === null ? [] : [' · office ', theirs(officePhone)]),
    ],
    heading: ['Our visit on ', weekdayText(day)],
    lead: [
      [
        ...(data.clientName === null ? [] : [theirs(data.clientName), ' · ']),
        theirs(data.address),
        ` · order ${orderNumber}`,
      ],
      ...(data.because.length === 0 ? [] : [[quiet('Why we came: '), theirs(data.because.join(' '))]]),
    ],
    blocks: [
      ...section('In short', list('dots', inShort(data))),
      ...section('What we found and left', found(data)),
      ...data.lines.flatMap(({ chart }): Block[] =>
        chart === null ? [] : [{ kind: 'picture', svg: chart }],
      ),
      ...section(
        'What we did',
        data.tasks.length === 0
          ? null
          : list(
              'dots',
              data.tasks.map((task) => taskText(task, data)),
            ),
      ),
      ...section(
        'Where the water went',
        data.water.length === 0
          ? null
          : list(
              'dots',
              data.water.map((water) => waterText(water, units)),
            ),
      ),
      ...section('What comes next', ...next(data, day)),
      ...section(
        'What was declined or put off',
        data.declined.length + data.declinedProposals.length === 0
          ? null
          : list('dots', [...data.declined.map(decisionText), ...data.declinedProposals.map(declinedText)]),
      ),
      ...section('Photographs', ...photographs(data)),
      ...section('For your safety', ...atHome(officePhone)),
    ],
    foot: [
      [
        quiet(
          'Shares are of the inside of the pipe: 0 % is a free pipe. Figures by eye or by the pump are less sure than those by camera.',
        ),
      ],
    ],
    day,
    units,
  };
}

function inShort({ tries }: VisitReportData): Words[] {
  return tries.map(({ on, crew, result, reason, flowProven }) => [
    `${weekdayText(on)}`,
    ...(crew === null ? [] : [', ', theirs(crew)]),
    `: ${result === null ? 'begun' : RESULT_TEXT[result]}`,
    reason === null ? '' : ` (${NOT_DONE_TEXT[reason]}): ${afterNotDone(reason).next}`,
    '.',
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
      [passes === null ? null : `${passes} passes`, cameBack === null ? null : CAME_BACK_TEXT[cameBack]]
        .filter((each) => each !== null)
        .join(', '),
    ],
  ]);
  return {
    kind: 'table',
    columns: [{ head: 'Line' }, { head: 'Before' }, { head: 'After' }, { head: 'Remarks' }],
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

function next({ lines, ahead }: VisitReportData, day: IsoDate): (Block | null)[] {
  const visits = lines.map(({ name, next: coming }): Words => [theirs(name), `: ${nextText(coming, day)}.`]);
  const orders = ahead.map(
    ({ orderNumber, tasks, because, promisedOn }): Words => [
      `Order ${orderNumber}: ${[...new Set(tasks)].map((task) => TASK_TEXT[task]).join(', ') || 'visit'}`,
      promisedOn === null ? ', day not set yet' : ` on ${weekdayText(promisedOn)}`,
      ...(because === null ? [] : ['. ', theirs(because)]),
    ],
  );
  return [
    visits.length === 0 ? null : list('dots', visits),
    orders.length === 0 ? null : paragraph('Work that is still to come:'),
    orders.length === 0 ? null : list('dots', orders),
  ];
}

function photographs({ photographs: all, morePhotographs }: VisitReportData): (Block | null)[] {
  if (all.length === 0) return [];
  return [
    { kind: 'photographs', photographs: all },
    morePhotographs === 0 ? null : paragraph(quiet(`${morePhotographs} more are kept; ask us for them.`)),
  ];
}
