import { expect, test } from 'vitest';
import { systemSketch } from '../../src/papers/systemSketch.js';
import type { SystemSketch } from '../../src/papers/systemSketchData.js';
import { readXml } from './readSvg.js';

const point = (kind: string, place: string, atM: number | null, unconfirmed = false) => ({
  kind,
  place,
  atM,
  unconfirmed,
});

const SKETCH: SystemSketch = {
  name: 'Front pit',
  address: '7 Marsh Gate, Brindle',
  units: 'us',
  pit: {
    place: 'basement, north corner',
    depthMm: 900,
    diameterMm: 450,
    points: [point('pit', 'under the stair', null)],
  },
  lines: [
    {
      name: 'Discharge',
      kind: 'sump_discharge',
      material: 'pvc',
      boreMm: 38,
      lengthM: 18,
      drainsTo: { to: 'outlet', words: 'daylight' },
      isDischarge: true,
      unconfirmed: false,
      points: [point('outlet', 'below the hedge at the creek', 18), point('cleanout', 'by the meter', 2)],
    },
    {
      name: 'East footing',
      kind: 'footing_drain',
      material: 'corrugated_hdpe',
      boreMm: 100,
      lengthM: 30,
      drainsTo: { to: 'pit' },
      isDischarge: false,
      unconfirmed: false,
      points: [
        point('cleanout', 'round lid in the lawn <3 m from the corner>', 0),
        point('cleanout', 'somewhere', null),
      ],
    },
    {
      name: 'Stair drain',
      kind: 'floor_drain',
      material: 'unknown',
      boreMm: null,
      lengthM: null,
      drainsTo: { to: 'line', name: 'East footing' },
      isDischarge: false,
      unconfirmed: true,
      points: [point('floor_opening', 'at the foot of the stair', null, true)],
    },
  ],
};

test('a sketch names each line, its end, and each access point with how to find it', () => {
  const svg = systemSketch(SKETCH);
  const all = readXml(svg).text;
  for (const words of [
    'Front pit',
    'daylight',
    'joins',
    'below the hedge at the creek',
    'place along the line unknown',
  ])
    expect(all).toContain(words);
  // 18 m are 59 ft.
  expect(all).toMatch(/59(\.1)?.ft/);
  expect(svg).not.toContain('<3 m');
});

test('a gravity line and an empty system are drawn too', () => {
  expect(systemSketch({ ...SKETCH, pit: null, lines: SKETCH.lines.slice(0, 1) })).toContain(
    'By gravity'.slice(3),
  );
  expect(systemSketch({ ...SKETCH, pit: null, lines: [] })).toContain('No line of this system');
});
