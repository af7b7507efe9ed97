import { describe, expect, test } from 'vitest';
import { dayStrip } from '../../src/papers/dayStrip.js';
import { crewLetter } from '../../src/papers/routesDay.js';
import { routesMap } from '../../src/papers/routesMap.js';
import { routesSheet } from '../../src/papers/routesSheet.js';
import { clipped, townsOf } from '../../src/papers/towns.js';
import { all, expectPicture, HARD_NAMES, labels, type Node } from './readSvg.js';
import { ROUTES_SAMPLE } from './routesSample.js';

const plain = (words: string): string => words.replaceAll('\u00A0', ' ').replaceAll(/[\u2068\u2069]/g, '');
const words = (svg: Node): string[] => labels(svg).map(plain);
const [HERON, OTTER, KINGFISHER] = ROUTES_SAMPLE.routes;
if (HERON === undefined || OTTER === undefined || KINGFISHER === undefined) throw new Error('three crews');

describe('the map of a day', () => {
  const svg = expectPicture(routesMap(ROUTES_SAMPLE));

  test('numbers every mapped stop by its crew’s letter, breaks left out', () => {
    const marks = words(svg).filter((each) => /^[A-Z]\d+$/.test(each));
    // C2 has no coordinates: it keeps its number, and the note names it.
    expect(marks).toEqual([
      'A1',
      'A2',
      'A3',
      'A4',
      'A5',
      'B1',
      'B2',
      'B3',
      'B4',
      'B5',
      'B6',
      'B7',
      'C1',
      'C3',
    ]);
    expect(words(svg).join(' ')).toContain(
      'Not on the map, no coordinates: C2 New house without coordinates.',
    );
  });

  test('names each depot once, points north, gives a scale and what stands behind it', () => {
    expect(words(svg).filter((each) => each === 'Alder Quay yard')).toHaveLength(1);
    for (const said of ['N', '2 km', '3 crews · 13 visits · 163.5 km']) expect(words(svg)).toContain(said);
  });

  test('a crew that is out on call besides its shift is one crew, with a row and a letter of its own', () => {
    const night = { ...HERON, onCall: true };
    const both = { ...ROUTES_SAMPLE, routes: [HERON, night] };
    expect(words(expectPicture(routesMap(both))).join(' ')).toMatch(/1 crew · .*, on call: \d+ visits?/);
    const rows = words(expectPicture(dayStrip(both)));
    expect(rows).toContain(`A ${HERON.crewName}`);
    expect(rows).toContain(`B ${HERON.crewName}, on call`);
  });

  test('the scale leaves a depot in the lower left corner its name', () => {
    const at = (north: number, east: number) => ({ latitude: 44.5 + north, longitude: -90.3 + east });
    const scaleX = (yard: { latitude: number; longitude: number }) => {
      const depot = { ...HERON.start, at: yard };
      const stops = [at(0, 0), at(0.1, 0.2), at(0, 0.2), at(0.1, 0)].map((each) => ({
        ...HERON.stops[0],
        at: each,
      }));
      const route = { ...HERON, start: depot, end: depot, stops: stops as typeof HERON.stops };
      const drawn = expectPicture(routesMap({ ...ROUTES_SAMPLE, routes: [route] }));
      const bar = all(drawn, 'path').find(({ attributes }) => String(attributes['d']).endsWith('v-4'));
      return Number(/^M([\d.]+)/.exec(String(bar?.attributes['d']))?.[1]);
    };
    const [usual, moved] = [scaleX(at(0.05, 0.1)), scaleX(at(0, 0))];
    expect(usual).toBeLessThan(60);
    expect(moved).toBeGreaterThan(usual + 300);
  });

  test('draws one line per crew, each with a dash of its own', () => {
    const dashes = all(svg, 'path')
      .filter(({ attributes }) => attributes['fill'] === 'none' && attributes['stroke-width'] === '1.8')
      .map(({ attributes }) => attributes['stroke-dasharray']);
    expect(dashes).toEqual([undefined, '8 4', '2 3']);
  });

  test('a crew alone needs no letter', () => {
    const alone = words(expectPicture(routesMap({ ...ROUTES_SAMPLE, routes: [HERON] })));
    expect(alone.filter((each) => /^[A-Z]?\d+$/.test(each))).toEqual(['1', '2', '3', '4', '5', '1']);
  });

  test('US papers measure in miles', () => {
    const us = words(expectPicture(routesMap({ ...ROUTES_SAMPLE, units: 'us' })));
    // 163.5 km / 1.609344 = 101.6 mi
    expect(us).toContain('3 crews · 13 visits · 101.6 mi');
  });
});

describe('towns', () => {
  /** Fourteen houses of one street, 11 km from the yard. */
  const street = Array.from({ length: 14 }, (_, i) => ({
    ...HERON.stops[0],
    at: {
      latitude: HERON.start.at.latitude + 0.1 + (i % 7) * 0.0002,
      longitude: HERON.start.at.longitude + Math.floor(i / 7) * 0.0004,
    },
  })) as typeof HERON.stops;
  const svg = expectPicture(routesMap({ ...ROUTES_SAMPLE, routes: [{ ...HERON, stops: street }] }));
  const ties = all(svg, 'line').filter(({ attributes }) => attributes['stroke-width'] === '0.8');
  const shift = ({ attributes: { x1, x2, y1, y2 } }: Node) =>
    Math.hypot(Number(x2) - Number(x1), Number(y2) - Number(y1));

  test('a street too dense for its numbers is enlarged, and there each stands at its dot', () => {
    expect(words(svg).filter((each) => each === 'map 1')).toHaveLength(2);
    expect(words(svg).filter((each) => /^\d+$/.test(each))).toHaveLength(14 + 1);
    expect(ties).toHaveLength(14);
    // Half a number's height at most; without the enlarged map the farthest went ten times as far.
    expect(Math.max(...ties.map(shift))).toBeLessThan(9.5);
  });

  test('stops far from each other need no second map', () => {
    expect(words(expectPicture(routesMap(ROUTES_SAMPLE)))).not.toContain('map 1');
  });

  test('groups are of places linked by less than a number’s width, and no wider than a third of the map', () => {
    const chain = (count: number, step: number) =>
      Array.from({ length: count }, (_, i) => ({ x: i * step, y: 5 }));
    expect(townsOf(chain(4, 29), 700)).toEqual([[0, 1, 2, 3]]);
    expect(townsOf(chain(4, 31), 700)).toEqual([]);
    expect(townsOf(chain(3, 5), 700)).toEqual([]);
    // 10 × 29 = 290 is more than .34 × 700.
    expect(townsOf(chain(11, 29), 700)).toEqual([]);
  });

  test('of a line only what passes through the box is drawn', () => {
    const box = { left: 0, right: 10, top: 0, bottom: 10 };
    expect(clipped({ x: -10, y: 5 }, { x: 20, y: 5 }, box)).toEqual([
      { x: 0, y: 5 },
      { x: 10, y: 5 },
    ]);
    expect(clipped({ x: 2, y: 2 }, { x: 2, y: 30 }, box)).toEqual([
      { x: 2, y: 2 },
      { x: 2, y: 10 },
    ]);
    expect(clipped({ x: -5, y: 12 }, { x: 20, y: 12 }, box)).toBeNull();
    expect(clipped({ x: -10, y: 5 }, { x: 0, y: 20 }, box)).toBeNull();
  });
});

describe('a day under way', () => {
  const at = 10.2 * 3600;
  const running = {
    ...ROUTES_SAMPLE,
    nowSeconds: at,
    routes: [
      {
        ...HERON,
        stops: HERON.stops.map((stop, i) => ({
          ...stop,
          progress: (['over', 'over', 'under_way'] as const)[i] ?? ('ahead' as const),
        })),
      },
      KINGFISHER,
    ],
  };
  const svg = expectPicture(routesSheet(running));

  test('has a line for now, at its hour', () => {
    expect(words(svg)).toContain('now 10:12');
    expect(words(expectPicture(routesSheet(ROUTES_SAMPLE))).join()).not.toContain('now ');
    const [now] = all(svg, 'line').filter(
      ({ attributes }) => attributes['stroke-width'] === '1.8' && attributes['x1'] === attributes['x2'],
    );
    const hour = (clock: string) =>
      Number(all(svg, 'text').find(({ text }) => plain(text) === clock)?.attributes['x']);
    // 12 minutes are a fifth of an hour.
    const expected = hour('10:00') + (hour('11:00') - hour('10:00')) / 5;
    expect(Number(now?.attributes['x1'])).toBeCloseTo(expected, 0);
    expectPicture(routesSheet({ ...running, nowSeconds: 3 * 3600 }));
  });

  test('what is over is grey, where a crew is is framed, in map and hours alike', () => {
    const boxes = all(svg, 'rect');
    const light = boxes.filter(
      ({ attributes }) => attributes['fill'] === '#d9dcdf' && attributes['height'] === '22',
    );
    const framed = boxes.filter(({ attributes }) => attributes['height'] === '28');
    // One light box is the legend's sample.
    expect([light.length, framed.length]).toEqual([2 + 1, 1]);
    const marks = all(svg, 'path').map(({ attributes }) => attributes);
    expect(marks.filter((each) => each['fill'] === '#d9dcdf' && each['stroke-width'] === '0.8')).toHaveLength(
      2,
    );
    expect(marks.filter((each) => each['stroke-width'] === '3.4')).toHaveLength(1);
    for (const said of ['over', 'there now', 'Grey: over. Thick outline: there now.'])
      expect(words(svg)).toContain(said);
  });

  test('a stop without coordinates stands in its strip with a mark', () => {
    const diamonds = (source: string) =>
      all(expectPicture(source), 'path').filter(({ attributes }) =>
        String(attributes['d']).endsWith('l4 4l-4 4l-4 -4Z'),
      );
    // C2 and the legend's sample.
    expect(diamonds(dayStrip(ROUTES_SAMPLE))).toHaveLength(2);
    expect(diamonds(dayStrip({ ...ROUTES_SAMPLE, routes: [HERON] }))).toHaveLength(0);
  });
});

describe('the hours of a day', () => {
  const strip = dayStrip(ROUTES_SAMPLE);
  const svg = expectPicture(strip);

  test('says each crew’s driving, work, waiting and rest in words', () => {
    // driving 8 + 1 + 14 + 9 + 18 + 12 = 62 min; on site 75 + 45 + 60 + 15 + 95 = 290 min; leaves 7:05
    expect(plain(all(svg, 'desc')[0]?.text ?? '')).toContain(
      'Heron crew: leaves 7:05, back 13:47; driving 1 h 02, on site 4 h 50, waiting 20 min, break 30 min.',
    );
  });

  test('a minute is equally wide everywhere: 95 minutes on site against 45', () => {
    const boxes = all(expectPicture(dayStrip({ ...ROUTES_SAMPLE, routes: [HERON] })), 'rect')
      .filter(({ attributes }) => attributes['fill'] === '#33475b')
      .map(({ attributes }) => Number(attributes['width']));
    expect((boxes[3] ?? 0) / (boxes[1] ?? 1)).toBeCloseTo(95 / 45, 2);
  });

  test('waiting is drawn where there is some, and only there', () => {
    const waits = (source: string): number =>
      all(expectPicture(source), 'rect').filter(({ attributes }) => attributes['stroke-dasharray'] === '2 2')
        .length;
    // One is the legend's sample.
    expect(waits(dayStrip({ ...ROUTES_SAMPLE, routes: [HERON] }))).toBe(2);
    expect(waits(dayStrip({ ...ROUTES_SAMPLE, routes: [OTTER] }))).toBe(1);
  });

  test('US papers say am and pm', () => {
    expect(words(expectPicture(dayStrip({ ...ROUTES_SAMPLE, units: 'us' })))).toContain('7:00 am');
  });
});

describe('both on one sheet', () => {
  test('the same day gives the same bytes', () => {
    expect(routesSheet(structuredClone(ROUTES_SAMPLE))).toBe(routesSheet(ROUTES_SAMPLE));
    expect(words(expectPicture(routesSheet(ROUTES_SAMPLE)))).toContain('Hours of Tue 16 Jun 2026');
  });

  test('a crowded day gets a wider sheet, map and hours alike', () => {
    const crowd = Array.from({ length: 20 }, () => OTTER);
    const box = expectPicture(routesSheet({ ...ROUTES_SAMPLE, routes: crowd })).attributes['viewBox'];
    // 20 × 8 stops: 760 × √(160 / 70) = 1149
    expect(box?.split(' ')[2]).toBe('1149');
  });

  test('a day without crews, and a crew without stops, still have their sheet', () => {
    expect(words(expectPicture(routesSheet({ ...ROUTES_SAMPLE, routes: [] })))).toContain('no crew goes out');
    const idle = {
      ...KINGFISHER,
      stops: [],
      returnTravelSeconds: 0,
      travelMetres: 0,
      endSeconds: KINGFISHER.leaveSeconds,
    };
    expectPicture(routesSheet({ ...ROUTES_SAMPLE, routes: [idle] }));
  });

  test.each(HARD_NAMES)('names come through whole and harmless: %j', (name) => {
    const stops = HERON.stops.map((stop) => ({ ...stop, siteName: name }));
    const hard = { ...HERON, crewName: name, start: { ...HERON.start, name }, stops };
    expectPicture(routesSheet({ ...ROUTES_SAMPLE, routes: [hard, OTTER] }));
  });
});

test('the 27th crew is AA', () => {
  expect([0, 25, 26, 27, 52].map(crewLetter)).toEqual(['A', 'Z', 'AA', 'AB', 'BA']);
});
