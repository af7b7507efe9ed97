import type { TaskKind } from '../domain/words.js';
import {
  type Block,
  heading,
  list,
  listed,
  type Paper,
  paragraph,
  quiet,
  section,
  strong,
  theirs,
  type Words,
} from './paper.js';
import {
  clockText,
  countText,
  distanceText,
  durationText,
  isolated,
  quantityText,
  weekdayText,
} from './printed.js';
import type { DayCaution, RouteSheetData, SheetStop } from './routeSheetData.js';
import { cautionWords, sheetStop, timesOf } from './routeSheetStop.js';
import { numbered, type RoutesDay } from './routesDay.js';
import { hasTowns, routesMap } from './routesMap.js';
import { TASK_TEXT } from './wording.js';

/** One crew's day on paper: overview, kit to tick off, a sketch map, each stop in full. */
export function routeSheet(data: RouteSheetData): Paper {
  const { businessName, officePhone, day, onCall, units, members, route } = data;
  const sources = sourcesOf(data);
  return {
    title: `Route sheet: ${isolated(route.crewName)}, ${weekdayText(day)}`,
    from: [
      ...(businessName === '' ? [] : [theirs(businessName)]),
      ...(officePhone === null ? [] : [`${businessName === '' ? '' : ' · '}office `, theirs(officePhone)]),
    ],
    heading: [theirs(route.crewName), `, ${weekdayText(day)}`],
    lead: [
      ...(onCall ? [['On call, out of the shift']] : []),
      ...(members.length === 0 ? [] : [listed(members)]),
      totals(data),
    ],
    blocks:
      route.stops.length === 0
        ? [{ kind: 'text', words: ['No stops on this day.'] }]
        : [
            ...section('Before you leave', warningsOf(data)),
            heading('The day'),
            overview(data),
            ...section('On board', data.kit.length === 0 ? null : ticksOf(data.kit)),
            ...cautionsOfDay(data, sources),
            heading('Sketch map'),
            sketchMap({ day, units, routes: [route] }),
            heading('Stop by stop'),
            ...numbered(route.stops).map(({ stop, number }) => sheetStop(stop, number, data, sources)),
            ...section(
              'Where the cautions come from',
              sources.length === 0 ? null : sourceList(sources),
              paragraph('Without a number: common practice.'),
            ),
          ],
    foot: [
      ['Follow local codes; licensed practice where required. Not safe: stop, and say so.'],
      [quiet('Personal data: do not leave this sheet at a site.')],
    ],
    day,
    units,
  };
}

/** With enlarged maps of towns under it it needs most of a page. */
const sketchMap = (day: RoutesDay): Block => ({
  kind: 'picture',
  svg: routesMap(day),
  ...(hasTowns(day) ? { size: 'tall' as const } : {}),
});

/** Each source once, in the order in which the cautions stand. */
function sourcesOf({ cautions: ofDay, route }: RouteSheetData): string[] {
  const cautions = [
    ...ofDay,
    ...route.stops.flatMap(({ visit }) => [
      ...(visit?.cautions ?? []),
      ...(visit?.tasks ?? []).flatMap((task) => task.cautions),
    ]),
  ];
  return [...new Set(cautions.flatMap(({ source }) => (source === null ? [] : [source])))];
}

/** Read before leaving: those of every stop first, then those of some, with the stops' numbers. */
function cautionsOfDay({ cautions, route }: RouteSheetData, sources: readonly string[]): Block[] {
  const visits = route.stops.filter(({ visit }) => visit !== null).length;
  const everywhere = cautions.filter(({ stops }) => stops.length === visits);
  const somewhere = cautions.filter(({ stops }) => stops.length < visits);
  const words = (caution: DayCaution): Words => [
    strong(`${caution.name}: `),
    ...cautionWords(caution, sources),
  ];
  return section(
    'Cautions of the day',
    everywhere.length === 0 ? null : paragraph(strong('At every stop')),
    everywhere.length === 0 ? null : list('cautions', everywhere.map(words)),
    somewhere.length === 0 ? null : paragraph(strong('At the stops named')),
    somewhere.length === 0
      ? null
      : list(
          'cautions',
          somewhere.map((caution) => [...words(caution), ` — ${stopsText(caution.stops)}`]),
        ),
  );
}

const stopsText = (stops: readonly number[]): string =>
  `${stops.length === 1 ? 'stop' : 'stops'} ${stops.join(', ')}`;

const warningsOf = ({ warnings }: RouteSheetData): Block | null =>
  warnings.length === 0
    ? null
    : list(
        'cautions',
        warnings.map((words) => [{ words, strong: true, theirs: true }]),
      );

const sourceList = (sources: readonly string[]): Block =>
  list(
    'numbers',
    sources.map((source) => [theirs(source)]),
  );

const ticksOf = (kit: readonly string[]): Block =>
  list(
    'ticks',
    kit.map((item) => [theirs(item)]),
  );

function totals({ units, route }: RouteSheetData): Words {
  const visits = route.stops.filter(({ kind }) => kind === 'visit');
  const litres = (of: 'waterLitres' | 'wasteLitres'): number =>
    visits.reduce((sum, { visit }) => sum + (visit?.[of] ?? 0), 0);
  const driving = route.stops.reduce((sum, stop) => sum + stop.travelSeconds, route.returnTravelSeconds);
  return [
    'Leave ',
    theirs(route.start.name),
    ` ${clockText(route.leaveSeconds, units)}, back at `,
    theirs(route.end.name),
    ` ${clockText(route.endSeconds, units)} · ` +
      `${countText(visits.length, 'visit')} · ${distanceText(route.travelMetres, units)}, driving ${durationText(driving)} · ` +
      `water about ${quantityText(litres('waterLitres'), 'volume', units)}, sludge about ${quantityText(litres('wasteLitres'), 'volume', units)}`,
  ];
}

function overview({ route, units }: RouteSheetData): Block {
  return {
    kind: 'table',
    columns: [
      { head: 'No.', figures: true },
      { head: 'Time', figures: true },
      { head: 'Length', figures: true },
      { head: 'Where' },
      { head: 'What' },
    ],
    rows: numbered(route.stops).map(({ stop, number }) => [
      [number === null ? '' : `${number}`],
      [timesOf(stop, units)],
      [durationText(stop.endSeconds - stop.startSeconds)],
      [stop.kind === 'break' ? 'break' : theirs(stop.siteName)],
      [workOf(stop)],
    ]),
  };
}

/** "inspect, jet ×3, test the pump": each kind once, in the order it first comes. */
function workOf({ kind, visit }: SheetStop): string {
  if (kind === 'refill') return 'fill the tank';
  if (kind === 'disposal') return 'empty the sludge';
  if (kind === 'visit' && visit === null) return 'tried, over';
  const times = new Map<TaskKind, number>();
  for (const task of visit?.tasks ?? []) times.set(task.kind, (times.get(task.kind) ?? 0) + 1);
  return [...times].map(([task, count]) => TASK_TEXT[task] + (count > 1 ? ` ×${count}` : '')).join(', ');
}
