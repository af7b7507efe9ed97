import type { UnitSystem } from '../domain/units/quantity.js';
import type { TaskKind } from '../domain/words.js';
import { cleans } from '../domain/work/cleaningTasks.js';
import { type Block, list, listed, paragraph, quiet, strong, theirs, type Words } from './paper.js';
import { clockText, dayText, durationText, isolated, quantityText, withUnit } from './printed.js';
import type {
  DayCaution,
  RouteSheetData,
  SheetCaution,
  SheetContact,
  SheetNote,
  SheetStop,
  SheetTask,
  SheetVisit,
} from './routeSheetData.js';
import { systemSketch } from './systemSketch.js';
import { TASK_TEXT } from './wording.js';

/** "9:15–10:00", the work itself. */
export function timesOf({ startSeconds, endSeconds }: SheetStop, units: UnitSystem): string {
  return `${clockText(startSeconds, units)}–${clockText(endSeconds, units)}`;
}

/**
 * One stop in full; a break or a tank stop in a line.
 *
 * @param sheet   Its units, the day's cautions, and its route: whether a caution is every stop's.
 * @param sources Of cautions, as the sheet numbers them from 1.
 */
export function sheetStop(
  stop: SheetStop,
  number: number | null,
  sheet: Pick<RouteSheetData, 'units' | 'cautions' | 'route'>,
  sources: readonly string[],
): Block {
  const { visit } = stop;
  const { units, cautions, route } = sheet;
  const visits = route.stops.filter((each) => each.visit !== null).length;
  if (visit === null) return between(stop, number, units);
  return {
    kind: 'box',
    number: `${number ?? ''}`,
    head: [theirs(stop.siteName)],
    aside: timesOf(stop, units),
    blocks: [
      paragraph(
        theirs(visit.address),
        ' · order ',
        theirs(visit.orderNumber),
        ` · ${drivingAndWaiting(stop)}`,
      ),
      ...hindered(visit),
      ...locateTicket(visit, units),
      ...promise(visit, units),
      ...(visit.because === '' ? [] : [paragraph(theirs(visit.because))]),
      ...visit.contacts.map(contact),
      ...access(visit.accessNotes),
      ...notes(visit.notes),
      ...visit.sketches.map(
        (sketch): Block => ({ kind: 'picture', svg: systemSketch(sketch), size: 'small' }),
      ),
      ...ofDay(cautions, number, visits),
      ...cautionList(visit.cautions, sources),
      { kind: 'list', marks: 'numbers', items: visit.tasks.map((each) => task(each, sources)) },
      ...needs(visit, units),
      ...(visit.waterPlan === null ? [] : [paragraph(theirs(visit.waterPlan))]),
      ...(visit.question === null ? [] : [paragraph(strong('Find out: '), theirs(visit.question))]),
      writeIn(visit.tasks),
    ],
  };
}

function between(stop: SheetStop, number: number | null, units: UnitSystem): Block {
  const what = { visit: 'Visit', break: 'Break', refill: 'Fill the tank', disposal: 'Empty the sludge' }[
    stop.kind
  ];
  return {
    kind: 'between',
    words: [
      ...(number === null ? [] : [strong(`${number}`), ' ']),
      `${what} ${timesOf(stop, units)} `,
      ...(stop.siteName === '' ? [] : [theirs(stop.siteName)]),
      ...(stop.note === null ? [] : [' · ', theirs(stop.note)]),
    ],
  };
}

function drivingAndWaiting({ travelSeconds, arrivalSeconds, startSeconds }: SheetStop): string {
  const wait = startSeconds - arrivalSeconds;
  return `drive ${durationText(travelSeconds)}${wait < 60 ? '' : `, wait ${durationText(wait)}`}`;
}

const hindered = ({ hindrances }: SheetVisit): Block[] =>
  hindrances.length === 0
    ? []
    : [paragraph(strong('Cannot be done as planned: '), ...listed(hindrances, '; '), '. Ask the office.')];

function locateTicket({ ticket }: SheetVisit, units: UnitSystem): Block[] {
  if (ticket === null) return [];
  const { number, digFrom, lastDay, beginBy, byHand, utilities, open } = ticket;
  return [
    paragraph(
      strong('Locate ticket'),
      ...(number === null ? [] : [' ', theirs(number)]),
      `: dig from ${clockText(digFrom.seconds, units)} on ${dayText(digFrom.day)}` +
        (beginBy === null ? '' : `, begin by ${dayText(beginBy)}`) +
        (lastDay === null ? ', its end is not known' : `, last day ${dayText(lastDay)}`) +
        `. By hand within ${byHand} of a mark. `,
      ...listed(utilities, '; '),
      '.',
    ),
    ...(open === null ? [] : [paragraph(strong('No digging yet: '), theirs(open), '.')]),
  ];
}

function promise({ promised }: SheetVisit, units: UnitSystem): Block[] {
  if (promised === null) return [];
  const clock = (seconds: number | null) => (seconds === null ? null : clockText(seconds, units));
  const [from, to] = [clock(promised.fromSeconds), clock(promised.toSeconds)];
  if (from === null && to === null) return [paragraph(strong('Promised for this day.'))];
  const window =
    from !== null && to !== null
      ? `between ${from} and ${to}`
      : from !== null
        ? `from ${from}`
        : `before ${to}`;
  return [paragraph(strong(`Promised to come ${window}.`))];
}

function contact({ name, role, phone, language }: SheetContact): Block {
  const facts = [role, phone ?? 'no phone', ...(language === null ? [] : [`speaks ${language}`])];
  return paragraph('Contact: ', theirs(name), ...facts.flatMap((fact) => [', ', theirs(fact)]));
}

function access(notes: readonly string[]): Block[] {
  if (notes.length === 0) return [];
  return [
    paragraph(strong('Access:')),
    list(
      'dots',
      notes.map((note) => [theirs(note)]),
    ),
  ];
}

function notes(noted: readonly SheetNote[]): Block[] {
  if (noted.length === 0) return [];
  return [
    paragraph(strong('Noted there:')),
    list(
      'dots',
      noted.map(({ text, day, author }) => [
        theirs(text),
        quiet(` (${dayText(day)}, `),
        { words: author, quiet: true, theirs: true },
        quiet(')'),
      ]),
    ),
  ];
}

/** Which of the day's cautions are this stop's: by name, since all read them on the first page. */
function ofDay(cautions: readonly DayCaution[], number: number | null, visits: number): Block[] {
  const own = cautions.filter(({ stops }) => number !== null && stops.includes(number));
  if (own.length === 0) return [];
  const named = own.filter(({ stops }) => stops.length < visits).map(({ name }) => name);
  const everywhere = named.length < own.length ? ['those of every stop'] : [];
  return [paragraph(strong('⚠ Cautions of the day: '), [...everywhere, ...named].join(', '), '.')];
}

function cautionList(cautions: readonly SheetCaution[], sources: readonly string[]): Block[] {
  return cautions.length === 0
    ? []
    : [
        list(
          'cautions',
          cautions.map((each) => cautionWords(each, sources)),
        ),
      ];
}

/** A caution and where it comes from; without a number it is common practice, as the sheet's end says. */
export const cautionWords = ({ text, source }: SheetCaution, sources: readonly string[]): Words => [
  theirs(text),
  ...(source === null ? [] : [quiet(` [${sources.indexOf(source) + 1}]`)]),
];

function task({ kind, target, minutes, plan, cautions }: SheetTask, sources: readonly string[]) {
  return {
    words: [
      strong(TASK_TEXT[kind]),
      ': ',
      theirs(target),
      `, ${withUnit(minutes, 'min')}`,
      ...plan.flatMap((line, i) => [i === 0 ? ' — ' : ' · ', theirs(line)]),
    ],
    under: cautionList(cautions, sources),
  };
}

function needs({ kit, waterLitres, wasteLitres }: SheetVisit, units: UnitSystem): Block[] {
  const facts = [
    ...(kit.length === 0 ? [] : [`Kit: ${kit.join(', ')}`]),
    ...(waterLitres === 0 ? [] : [`water about ${quantityText(waterLitres, 'volume', units)}`]),
    ...(wasteLitres === 0 ? [] : [`sludge about ${quantityText(wasteLitres, 'volume', units)}`]),
  ];
  return facts.length === 0 ? [] : [paragraph(theirs(facts.join(' · ')))];
}

/**
 * What "done" needs, to be written by hand where no app works: whether flow was proven for each line that was cleaned,
 * since the office is asked which line does not carry.
 */
function writeIn(tasks: readonly SheetTask[]): Block {
  const cleaned = [...new Set(tasks.flatMap(({ kind, target }) => (provesFlow(kind) ? [target] : [])))];
  const flow =
    cleaned.length < 2 ? ['Flow proven:'] : cleaned.map((target) => `Flow proven, ${isolated(target)}:`);
  return {
    kind: 'fields',
    fields: [
      { label: 'Arrived', blank: 'short' },
      { label: 'Left', blank: 'short' },
      { label: '', answers: ['pump restored'] },
      ...flow.map((label) => ({ label, answers: ['yes', 'no', 'not possible'] })),
      { label: 'Water went to', blank: 'long' },
    ],
  };
}

/** A pit is cleaned too, but carries nothing. */
const provesFlow = (kind: TaskKind): boolean => kind !== 'clear_pit' && cleans(kind);
