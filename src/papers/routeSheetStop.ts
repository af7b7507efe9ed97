import type { UnitSystem } from '../domain/units/quantity.js';
import { element, join, type Markup, NOTHING, text } from './markup.js';
import { clockText, durationText, quantityText, withUnit } from './printed.js';
import type { SheetCaution, SheetContact, SheetStop, SheetTask, SheetVisit } from './routeSheetData.js';
import { TASK_TEXT } from './wording.js';

/** Beyond so many lines a stop may run over a page; shorter ones stay in one piece. */
const LONG_LINES = 38;

/** "9:15–10:00", the work itself. */
export function timesOf({ startSeconds, endSeconds }: SheetStop, units: UnitSystem): string {
  return `${clockText(startSeconds, units)}–${clockText(endSeconds, units)}`;
}

/** One stop in full; a break or a tank stop in a line. */
export function sheetStop(stop: SheetStop, number: number | null, units: UnitSystem): Markup {
  const { visit } = stop;
  if (visit === null) return between(stop, number, units);
  return element(
    'article',
    { class: linesOf(visit) > LONG_LINES ? 'stop long' : 'stop' },
    element(
      'div',
      { class: 'head' },
      element('span', { class: 'number' }, text(`${number ?? ''}`)),
      element('h3', {}, bdi(stop.siteName)),
      element('span', { class: 'times' }, text(timesOf(stop, units))),
    ),
    element(
      'div',
      { class: 'body' },
      element('p', {}, bdi(visit.address), text(` · order ${visit.orderNumber} · `), drivingAndWaiting(stop)),
      promise(visit, units),
      element('p', {}, bdi(visit.because)),
      ...visit.contacts.map(contact),
      bullets('Access', visit.accessNotes),
      cautionList(visit.cautions),
      element('ol', { class: 'tasks' }, ...visit.tasks.map(task)),
      needs(visit, units),
      writeIn(),
    ),
  );
}

function linesOf({ accessNotes, contacts, cautions, tasks }: SheetVisit): number {
  const ofTasks = tasks.reduce((sum, { plan, cautions: own }) => sum + 1 + plan.length + own.length, 0);
  return 8 + accessNotes.length + contacts.length + cautions.length + ofTasks;
}

function between(stop: SheetStop, number: number | null, units: UnitSystem): Markup {
  const what = { visit: 'visit', break: 'Break', refill: 'Fill the tank', disposal: 'Empty the sludge' }[
    stop.kind
  ];
  return element(
    'p',
    { class: 'between' },
    number === null ? NOTHING : join([element('b', {}, text(`${number}`)), text(' ')]),
    text(`${what} ${timesOf(stop, units)} `),
    stop.siteName === '' ? NOTHING : bdi(stop.siteName),
    stop.note === null ? NOTHING : join([text(' · '), bdi(stop.note)]),
  );
}

function drivingAndWaiting({ travelSeconds, arrivalSeconds, startSeconds }: SheetStop): Markup {
  const wait = startSeconds - arrivalSeconds;
  return text(`drive ${durationText(travelSeconds)}${wait < 60 ? '' : `, wait ${durationText(wait)}`}`);
}

function promise({ promised }: SheetVisit, units: UnitSystem): Markup {
  if (promised === null) return NOTHING;
  const from = clockText(promised.fromSeconds, units);
  const to = clockText(promised.toSeconds, units);
  return element('p', {}, element('b', {}, text(`Promised to come between ${from} and ${to}.`)));
}

function contact({ name, role, phone, language }: SheetContact): Markup {
  const facts = [role, phone ?? 'no phone', ...(language === null ? [] : [`speaks ${language}`])];
  return element(
    'p',
    {},
    text('Contact: '),
    bdi(name),
    ...facts.map((fact) => join([text(', '), bdi(fact)])),
  );
}

function bullets(title: string, lines: readonly string[]): Markup {
  if (lines.length === 0) return NOTHING;
  return join([
    element('p', {}, element('b', {}, text(`${title}:`))),
    element('ul', {}, ...lines.map((line) => element('li', {}, bdi(line)))),
  ]);
}

function cautionList(cautions: readonly SheetCaution[]): Markup {
  if (cautions.length === 0) return NOTHING;
  const one = ({ text: words, source }: SheetCaution): Markup =>
    element(
      'li',
      { class: 'caution' },
      bdi(words),
      element('span', { class: 'quiet' }, text(source === null ? ' (common practice)' : ` (${source})`)),
    );
  return element('ul', { class: 'cautions' }, ...cautions.map(one));
}

function task({ kind, target, minutes, plan, cautions }: SheetTask): Markup {
  return element(
    'li',
    {},
    element('b', {}, text(TASK_TEXT[kind])),
    text(': '),
    bdi(target),
    text(`, ${withUnit(minutes, 'min')}`),
    ...plan.map((line, i) => join([text(i === 0 ? ' — ' : ' · '), bdi(line)])),
    cautionList(cautions),
  );
}

function needs({ kit, waterLitres, wasteLitres }: SheetVisit, units: UnitSystem): Markup {
  const facts = [
    ...(kit.length === 0 ? [] : [`Kit: ${kit.join(', ')}`]),
    ...(waterLitres === 0 ? [] : [`water about ${quantityText(waterLitres, 'volume', units)}`]),
    ...(wasteLitres === 0 ? [] : [`sludge about ${quantityText(wasteLitres, 'volume', units)}`]),
  ];
  return facts.length === 0 ? NOTHING : element('p', {}, bdi(facts.join(' · ')));
}

/** What "done" needs, to be written by hand where no app works. */
function writeIn(): Markup {
  const blank = element('span', { class: 'blank' });
  const wide = element('span', { class: 'blank wide' });
  const tick = element('span', { class: 'box' });
  const answer = (words: string): Markup => join([tick, text(`${words} `)]);
  return element(
    'div',
    { class: 'write' },
    element('span', {}, text('Arrived '), blank),
    element('span', {}, text('Left '), blank),
    element('span', {}, answer('pump restored')),
    element('span', {}, text('Flow proven: '), answer('yes'), answer('no'), answer('not possible')),
    element('span', {}, text('Water went to '), wide),
  );
}

function bdi(words: string): Markup {
  return element('bdi', {}, text(words));
}
