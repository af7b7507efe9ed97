import { expect, test } from 'vitest';
import { mapHeight, mapProjection, scaleLength } from '../../src/papers/mapProjection.js';

const FIELD = { left: 0, right: 700, top: 0, bottom: 500 };

test('north is up, east is right, and a degree of latitude is 111.2 km', () => {
  const south = { latitude: 44, longitude: -92 };
  const north = { latitude: 45, longitude: -92 };
  const { place, pixelsPerMetre } = mapProjection([south, north], FIELD);
  // 6371.0088 km × π / 180 = 111.195 km
  expect((place(south).y - place(north).y) / pixelsPerMetre / 1000).toBeCloseTo(111.195, 3);
  expect(place({ latitude: 44, longitude: -91 }).x).toBeGreaterThan(place(south).x);
});

test('at 60° a degree of longitude is half as long', () => {
  const [a, b] = [
    { latitude: 60, longitude: 10 },
    { latitude: 60, longitude: 11 },
  ];
  const { place, pixelsPerMetre } = mapProjection([a, b], FIELD);
  expect((place(b).x - place(a).x) / pixelsPerMetre / 1000).toBeCloseTo(111.195 / 2, 3);
});

test('places on both sides of the date line stay neighbours', () => {
  const { place } = mapProjection(
    [
      { latitude: 52, longitude: 179.99 },
      { latitude: 52, longitude: -179.99 },
    ],
    FIELD,
  );
  const distance =
    place({ latitude: 52, longitude: -179.99 }).x - place({ latitude: 52, longitude: 179.99 }).x;
  expect(distance).toBeGreaterThan(100);
  expect(distance).toBeLessThan(700);
});

test('one place, or none, still has a map', () => {
  const one = { latitude: 44, longitude: -92 };
  expect(mapProjection([one], FIELD).place(one)).toEqual({ x: 350, y: 250 });
  expect(mapHeight([], 700)).toBeCloseTo(539, 9); // never higher than .77 of its width
});

test('the scale is a round length of 1, 2 or 5, in km, m or miles', () => {
  expect(scaleLength(130 / 2300, 130, 'metric')).toEqual({ metres: 2000, words: '2\u00A0km' });
  expect(scaleLength(130 / 600, 130, 'metric')).toEqual({ metres: 500, words: '500\u00A0m' });
  expect(scaleLength(130 / 2300, 130, 'us')).toEqual({ metres: 1609.344, words: '1\u00A0mi' });
  expect(scaleLength(130 / 600, 130, 'us')).toEqual({ metres: 0.2 * 1609.344, words: '0.2\u00A0mi' });
});
