import type { TaskKind } from '../domain/words.js';
import { element, join, type Markup, NOTHING, tag, text } from './markup.js';
import {
  clockText,
  countText,
  distanceText,
  durationText,
  isolated,
  quantityText,
  weekdayText,
} from './printed.js';
import type { RouteSheetData, SheetStop } from './routeSheetData.js';
import { sheetStop, timesOf } from './routeSheetStop.js';
import { ROUTE_SHEET_STYLE } from './routeSheetStyle.js';
import { numbered } from './routesDay.js';
import { routesMap } from './routesMap.js';
import { TASK_TEXT } from './wording.js';

/** One crew's day as a page to print: overview, kit to tick off, each stop in full, a sketch map. */
export function routeSheet(data: RouteSheetData): string {
  const title = `${isolated(data.route.crewName)}, ${weekdayText(data.day)}`;
  const page = element(
    'html',
    { lang: 'en' },
    element(
      'head',
      {},
      tag('meta', { charset: 'utf-8' }),
      tag('meta', { name: 'viewport', content: 'width=device-width, initial-scale=1' }),
      element('title', {}, text(`Route sheet: ${title}`)),
      element('style', {}, ROUTE_SHEET_STYLE as Markup),
    ),
    element(
      'body',
      {},
      head(data),
      data.route.stops.length === 0
        ? element('p', {}, text('No stops on this day.'))
        : join([overview(data), kitList(data), sketch(data)]),
      foot(data),
      stops(data),
    ),
  );
  return `<!DOCTYPE html>\n${page}\n`;
}

function head({ businessName, officePhone, day, units, members, route }: RouteSheetData): Markup {
  const visits = route.stops.filter(({ kind }) => kind === 'visit');
  const litres = (of: 'waterLitres' | 'wasteLitres'): number =>
    visits.reduce((sum, { visit }) => sum + (visit?.[of] ?? 0), 0);
  const driving = route.stops.reduce((sum, stop) => sum + stop.travelSeconds, route.returnTravelSeconds);
  return element(
    'header',
    {},
    element(
      'p',
      { class: 'quiet' },
      anyones(businessName),
      officePhone === null ? NOTHING : text(` · office ${officePhone}`),
    ),
    element('h1', {}, anyones(route.crewName), text(`, ${weekdayText(day)}`)),
    members.length === 0 ? NOTHING : element('p', {}, listed(members)),
    element(
      'p',
      {},
      text(
        `Leave ${isolated(route.start.name)} ${clockText(route.leaveSeconds, units)}, back at ${isolated(route.end.name)} ${clockText(route.endSeconds, units)} · ` +
          `${countText(visits.length, 'visit')} · ${distanceText(route.travelMetres, units)}, driving ${durationText(driving)} · ` +
          `water about ${quantityText(litres('waterLitres'), 'volume', units)}, sludge about ${quantityText(litres('wasteLitres'), 'volume', units)}`,
      ),
    ),
  );
}

function overview({ route, units }: RouteSheetData): Markup {
  const row = (stop: SheetStop, number: number | null): Markup => {
    const minutes = durationText(stop.endSeconds - stop.startSeconds);
    return element(
      'tr',
      {},
      element('td', { class: 'num' }, text(number === null ? '' : `${number}`)),
      element('td', { class: 'num' }, text(timesOf(stop, units))),
      element('td', { class: 'num' }, text(minutes)),
      element('td', {}, stop.kind === 'break' ? text('break') : anyones(stop.siteName)),
      element('td', {}, text(workOf(stop))),
    );
  };
  const heads = ['No.', 'Time', 'Length', 'Where', 'What'];
  return element(
    'section',
    {},
    element('h2', {}, text('The day')),
    element(
      'table',
      {},
      element(
        'thead',
        {},
        element('tr', {}, ...heads.map((words) => element('th', { scope: 'col' }, text(words)))),
      ),
      element('tbody', {}, ...numbered(route.stops).map(({ stop, number }) => row(stop, number))),
    ),
  );
}

/** "inspect, jet ×3, test the pump": each kind once, in the order it first comes. */
function workOf({ kind, visit }: SheetStop): string {
  if (kind === 'refill') return 'fill the tank';
  if (kind === 'disposal') return 'empty the sludge';
  const times = new Map<TaskKind, number>();
  for (const task of visit?.tasks ?? []) times.set(task.kind, (times.get(task.kind) ?? 0) + 1);
  return [...times].map(([task, count]) => TASK_TEXT[task] + (count > 1 ? ` ×${count}` : '')).join(', ');
}

function kitList({ kit }: RouteSheetData): Markup {
  if (kit.length === 0) return NOTHING;
  return element(
    'section',
    {},
    element('h2', {}, text('On board before you leave')),
    element('ul', { class: 'kit' }, ...kit.map((item) => element('li', {}, TICK_BOX, anyones(item)))),
  );
}

const TICK_BOX = element('span', { class: 'box' });

function stops({ route, units }: RouteSheetData): Markup {
  if (route.stops.length === 0) return NOTHING;
  const all = numbered(route.stops).map(({ stop, number }) => sheetStop(stop, number, units));
  return element('section', {}, element('h2', {}, text('Stop by stop')), ...all);
}

function sketch({ day, units, route }: RouteSheetData): Markup {
  return element(
    'section',
    { class: 'map' },
    element('h2', {}, text('Sketch map')),
    routesMap({ day, units, routes: [route] }) as Markup,
  );
}

function foot({ businessName }: RouteSheetData): Markup {
  return element(
    'footer',
    {},
    element(
      'p',
      {},
      text('Follow local codes; licensed practice where required. Not safe: stop, and say so.'),
    ),
    element(
      'p',
      { class: 'quiet' },
      anyones(businessName),
      text(' · personal data: do not leave this sheet at a site'),
    ),
  );
}

/** Words from outside, kept from turning the direction of the words around them. */
function anyones(words: string): Markup {
  return element('bdi', {}, text(words));
}

function listed(names: readonly string[]): Markup {
  return join(names.map((name, i) => join([i === 0 ? NOTHING : text(', '), anyones(name)])));
}
