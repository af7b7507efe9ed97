import { describe, expect, test } from 'vitest';
import { METHODS } from '../../src/domain/words.js';
import { trendChart } from '../../src/papers/trendChart.js';
import { all, expectPicture, HARD_NAMES, labels, type Node } from './readSvg.js';
import { TREND_SAMPLE } from './trendSample.js';

const EMPTY = { ...TREND_SAMPLE, readings: [], cleans: [], past: [], future: [], due: null };
const plain = (words: string): string => words.replaceAll('\u00A0', ' ');
const words = (svg: Node): string => plain(labels(svg).join('\n'));
const titles = (svg: Node): string[] => all(svg, 'title').map(({ text }) => plain(text));

describe('the trend of a line', () => {
  const svg = expectPicture(trendChart(TREND_SAMPLE));

  test('says whose it is and how much stands behind it', () => {
    expect(words(svg)).toContain('north footing drain');
    expect(words(svg)).toContain(
      'footing drain · 102 mm · corrugated HDPE · 13 readings (1 doubtful) · 4 cleans',
    );
  });

  test('names the due date with its rule, today, and both limits', () => {
    for (const said of [
      'due 4 Aug 2026: yearly risk',
      'today, 15 Jun 2026',
      'act at 45 %',
      'plug limit 90 %',
    ]) {
      expect(words(svg)).toContain(said);
    }
  });

  test('every reading says its day, value, error, method and phase to who points at it or listens', () => {
    expect(titles(svg)).toContain('6 May 2024: 58 % ± 8 %, camera, before a clean');
    expect(titles(svg)).toContain('1 Sep 2025: at most 30 % ± 12 %, poured flow, no clean');
    expect(titles(svg)).toContain('20 Jan 2025: plugged (ice), by word, no clean');
    expect(titles(svg)).toContain('10 Mar 2025: 86 % ± 15 %, by word, no clean, doubtful');
    expect(titles(svg)).toHaveLength(1 + TREND_SAMPLE.readings.length);
  });

  test('a reading that a person confirmed says so and is doubtful no more', () => {
    const readings = TREND_SAMPLE.readings.map((reading) =>
      reading.weight < 0.5 ? { ...reading, weight: 1, confirmed: true } : reading,
    );
    const judged = expectPicture(trendChart({ ...TREND_SAMPLE, readings }));
    expect(words(judged)).toContain('13 readings (1 confirmed by a person)');
    expect(titles(judged)).toContain('10 Mar 2025: 86 % ± 15 %, by word, no clean, confirmed by a person');
    expect(words(judged)).not.toContain('doubtful');
  });

  test('100 % stands above 0 %, and a fuller reading higher than an emptier one', () => {
    const yOf = (said: string): number =>
      Number(all(svg, 'text').find(({ text }) => plain(text) === said)?.attributes['y']);
    expect(yOf('100 %')).toBeLessThan(yOf('0 %'));
    expect(yOf('60 %') - yOf('40 %')).toBeCloseTo(yOf('80 %') - yOf('60 %'), 1);
  });

  test('the summary tells belief, due date and limits in words', () => {
    expect(plain(all(svg, 'desc')[0]?.text ?? '')).toBe(
      'On 15 Jun 2026 believed 36 % blocked, 80 % band 26 % to 46 %. Due 4 Aug 2026: yearly risk. ' +
        'Action limit 45 %, plug limit 90 %. Today is 15 Jun 2026.',
    );
  });
});

test('the same data give the same bytes', () => {
  expect(trendChart(structuredClone(TREND_SAMPLE))).toBe(trendChart(TREND_SAMPLE));
});

test('a line nobody looked at still has its picture', () => {
  expect(words(expectPicture(trendChart(EMPTY)))).toContain('no reading yet');
});

test('US papers give the bore in inches', () => {
  expect(words(expectPicture(trendChart({ ...TREND_SAMPLE, units: 'us' })))).toContain('4 in');
  expect(words(expectPicture(trendChart({ ...TREND_SAMPLE, boreMm: null })))).toContain('bore unknown');
});

test.each(HARD_NAMES)('names come through whole and harmless: %j', (name) => {
  const svg = expectPicture(trendChart({ ...TREND_SAMPLE, siteName: name, lineName: name }));
  expect(all(svg, 'script')).toEqual([]);
});

test('every method has a shape of its own', () => {
  const shapes = METHODS.map((method) => {
    const one = { ...TREND_SAMPLE.readings[1], method } as (typeof TREND_SAMPLE.readings)[number];
    const svg = expectPicture(trendChart({ ...EMPTY, readings: [one] }));
    const mark = all(svg, 'path').find(({ attributes }) => attributes['fill'] === '#1c1f22');
    return `${mark?.attributes['d']} ${/rotate\(.*/.exec(mark?.attributes['transform'] ?? '')?.[0] ?? ''}`;
  });
  expect(new Set(shapes).size).toBe(METHODS.length);
});

test('a due date before today and one beyond the forecast both stay inside the picture', () => {
  expectPicture(trendChart({ ...TREND_SAMPLE, due: { on: '2026-01-02', rule: 'over_limit' } }));
  expectPicture(trendChart({ ...TREND_SAMPLE, due: { on: '2028-01-02', rule: 'max_interval' } }));
});

test('words of a late due day that reach back over today stand above its line', () => {
  const due = { on: TREND_SAMPLE.future.at(-1)?.on ?? '', rule: 'first_interval' as const };
  const svg = expectPicture(trendChart({ ...TREND_SAMPLE, due }));
  const texts = all(svg, 'text');
  const yOf = (start: string) =>
    Number(texts.find(({ text }) => plain(text).startsWith(start))?.attributes['y']);
  expect(yOf('due ')).toBeLessThan(yOf('today, '));
  const usual = all(expectPicture(trendChart(TREND_SAMPLE)), 'text');
  const before = (start: string) =>
    Number(usual.find(({ text }) => plain(text).startsWith(start))?.attributes['y']);
  expect(before('due ')).toBeGreaterThan(before('today, '));
});

test('limits that nearly meet keep their names apart', () => {
  const svg = expectPicture(trendChart({ ...TREND_SAMPLE, limits: { action: 0.89, plug: 0.9 } }));
  const ys = all(svg, 'text')
    .filter(({ text }) => /^(act at|plug limit)/.test(text))
    .map(({ attributes }) => Number(attributes['y']));
  expect(Math.abs((ys[0] ?? 0) - (ys[1] ?? 0))).toBeGreaterThanOrEqual(15);
});

test('a forecast that is no number is refused, not drawn', () => {
  const future = [{ on: '2026-06-15', q10: 0.1, q50: Number.NaN, q90: 0.3 }];
  expect(() => trendChart({ ...TREND_SAMPLE, future })).toThrow(RangeError);
});
