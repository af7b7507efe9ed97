import { describe, expect, test } from 'vitest';
import { paperHtml } from '../../src/papers/paperHtml.js';
import { routeSheet } from '../../src/papers/routeSheet.js';
import type { RouteSheetData } from '../../src/papers/routeSheetData.js';
import { all, HARD_NAMES, type Node, readXml } from './readSvg.js';
import { ROUTE_SHEET_SAMPLE } from './routeSheetSample.js';

const sheetHtml = (data: RouteSheetData): string => paperHtml(routeSheet(data));
const DOCTYPE = '<!DOCTYPE html>\n';
const plain = (words: string): string =>
  words.replaceAll(/[\u00A0\u202F]/g, ' ').replaceAll(/[\u2068\u2069]/g, '');

/** Our HTML is also well-formed XML, so the strict reader reads it. */
function page(source: string): Node {
  expect(source.startsWith(DOCTYPE)).toBe(true);
  expect(source).not.toMatch(/<script|href=|src=|url\(/);
  return readXml(source.slice(DOCTYPE.length).trimEnd());
}
const classed = (node: Node, name: string, of: string): Node[] =>
  all(node, name).filter(({ attributes }) => attributes['class'] === of);

describe('the sheet of one crew and day', () => {
  const html = page(sheetHtml(ROUTE_SHEET_SAMPLE));
  const body = plain(all(html, 'body')[0]?.text ?? '');

  test('opens with crew, day, people, times and totals', () => {
    expect(plain(all(html, 'h1')[0]?.text ?? '')).toBe('Heron crew, Tue 16 Jun 2026');
    expect(body).toContain('Ib Falk, Noor Abela');
    // Four visits of 900 L and 60 L each.
    expect(body).toContain(
      'Leave Alder Quay yard 7:05, back at Alder Quay yard 13:47 · 4 visits · 51.5 km, driving 1 h 02 · ' +
        'water about 3 600 L, sludge about 240 L',
    );
  });

  test('lists the day in order, breaks without a number', () => {
    const rows = all(all(html, 'tbody')[0] ?? html, 'tr').map((row) =>
      row.children.map(({ text }) => plain(text)),
    );
    expect(rows.map(([number]) => number)).toEqual(['1', '2', '3', '', '4', '5']);
    expect(rows[0]).toEqual(['1', '7:13–8:28', '1 h 15', '14 Heron Lane', 'inspect, jet ×2, test the pump']);
    expect(rows[3]?.slice(3)).toEqual(['break', '']);
    expect(rows[4]?.slice(3)).toEqual(['Standpipe, Quay Road', 'fill the tank']);
  });

  test('each visit carries access, contacts, promise, tasks in order with plan and cautions', () => {
    const visits = classed(html, 'article', 'box');
    expect(visits).toHaveLength(4);
    const first = plain(visits[0]?.text ?? '');
    for (const said of [
      'order 2041',
      'Promised to come between 7:00 and 9:00.',
      'Contact: Renske Oakley, occupant, 555 0142',
      'Contact: Júlia Szőnyi, keyholder, no phone, speaks Hungarian',
      'Side gate left of the garage',
      'At most 80 bar at the nozzle',
      'Nobody at an open end while a jet runs. [1]',
      'Second pump in the pit first.',
    ]) {
      expect(first).toContain(said);
    }
    // Two lines are jetted: one box each, for the office is asked which does not carry.
    expect(
      first.match(/Flow proven, [^:]+:/g)?.map((label) => label.replaceAll(/[\u2068\u2069]/g, '')),
    ).toEqual(['Flow proven, north footing drain:', 'Flow proven, sump discharge:']);
    const tasks = all(classed(visits[0] ?? html, 'ol', 'numbers')[0] ?? html, 'b').map(({ text }) => text);
    expect(tasks).toEqual(['inspect', 'jet', 'jet', 'test the pump']);
  });

  test('what was noted of the site, and what to find out, stand at the stop', () => {
    const [first] = classed(html, 'article', 'box');
    const words = plain(first?.text ?? '');
    expect(words).toContain('Key of the side gate under the third pot (8 Dec 2025, Noor Abela)');
    expect(words).toContain('Find out: sump discharge: where does it end?');
    expect(words).toContain('cleanout of north footing drain, 12 m from upstream: behind the hedge');
    expect(words).toContain('Júlia Szőnyi, keyholder, no phone, speaks Hungarian');
  });

  test('a wait before the visit is told', () => {
    expect(body).toContain('drive 14 min, wait 20 min');
  });

  test('kit to tick off, a sketch map, a sketch of the system at each visit, and the last word', () => {
    expect(classed(html, 'ul', 'ticks')[0]?.children).toHaveLength(6);
    expect(all(html, 'svg')).toHaveLength(1 + 4);
    expect(classed(html, 'div', 'picture small')).toHaveLength(4);
    expect(body).toContain(
      'Where the cautions come fromsite safety sheet 3Without a number: common practice.',
    );
    expect(body).toContain('Follow local codes; licensed practice where required.');
  });

  test('headings step down one by one and tables name their columns', () => {
    expect(all(html, 'h1')).toHaveLength(1);
    expect(all(html, 'th').every(({ attributes }) => attributes['scope'] === 'col')).toBe(true);
    expect(html.attributes['lang']).toBe('en');
  });

  test('no page size is named, so A4 and Letter both take it', () => {
    expect(all(html, 'style')[0]?.text).toMatch(/@page \{ margin/);
    expect(all(html, 'style')[0]?.text).not.toMatch(/[^-]size:/);
  });
});

test('the same day gives the same bytes', () => {
  expect(sheetHtml(structuredClone(ROUTE_SHEET_SAMPLE))).toBe(sheetHtml(ROUTE_SHEET_SAMPLE));
});

test('US papers: miles, gallons, am and pm', () => {
  const body = plain(page(sheetHtml({ ...ROUTE_SHEET_SAMPLE, units: 'us' })).text);
  // 51.46 km / 1.609344 = 32.0 mi; 3600 L / 3.785411784 = 951 gal
  expect(body).toContain('32 mi');
  expect(body).toContain('water about 951 gal');
  expect(body).toContain('7:13 am–8:28 am');
});

test('a day without stops says so and has no empty tables', () => {
  const { route } = ROUTE_SHEET_SAMPLE;
  const html = page(sheetHtml({ ...ROUTE_SHEET_SAMPLE, route: { ...route, stops: [] } }));
  expect(html.text).toContain('No stops on this day.');
  expect(all(html, 'table')).toEqual([]);
});

test('a stop longer than a page may break, others stay in one piece', () => {
  const { route } = ROUTE_SHEET_SAMPLE;
  const notes = Array.from({ length: 40 }, (_, i) => `note ${i}`);
  const stops = route.stops.map((stop, i) =>
    i === 0 && stop.visit !== null ? { ...stop, visit: { ...stop.visit, accessNotes: notes } } : stop,
  );
  const html = page(sheetHtml({ ...ROUTE_SHEET_SAMPLE, route: { ...route, stops } }));
  expect(classed(html, 'article', 'box long')).toHaveLength(1);
  expect(classed(html, 'article', 'box')).toHaveLength(3);
});

test.each(HARD_NAMES)('anyone’s words come through whole and harmless: %j', (name) => {
  const caution = { text: name, source: name };
  const { route } = ROUTE_SHEET_SAMPLE;
  const stops = route.stops.map((stop) => ({
    ...stop,
    siteName: name,
    note: name,
    visit: stop.visit && {
      ...stop.visit,
      orderNumber: name,
      address: name,
      because: name,
      accessNotes: [name],
      notes: [{ text: name, day: '2026-06-01', author: name }],
      sketches: stop.visit.sketches.map((sketch) => ({ ...sketch, name, address: name })),
      contacts: [{ name, role: name, phone: name, language: name }],
      tasks: stop.visit.tasks.map((task) => ({ ...task, target: name, plan: [name], cautions: [caution] })),
      cautions: [caution],
      kit: [name],
    },
  }));
  const html = page(
    sheetHtml({
      ...ROUTE_SHEET_SAMPLE,
      businessName: name,
      officePhone: name,
      members: [name],
      kit: [name],
      cautions: [{ ...caution, name, stops: [1] }],
      route: { ...route, crewName: name, stops },
    }),
  );
  // biome-ignore lint/suspicious/noControlCharactersInRegex: what may not stand in XML
  const legal = name.replace(/[\u0000\u0007]|\uD800$/g, '\uFFFD');
  expect(all(html, 'h1')[0]?.children[0]?.text).toBe(legal);
  expect(all(html, 'h3')[0]?.text).toBe(legal);
});
