import { describe, expect, test } from 'vitest';
import { calibrationChart } from '../../src/papers/calibrationChart.js';
import { capacityChart } from '../../src/papers/capacityChart.js';
import { cleanResultsChart } from '../../src/papers/cleanResultsChart.js';
import { columnsChart } from '../../src/papers/columnsChart.js';
import { costRiskChart } from '../../src/papers/costRiskChart.js';
import { distributionChart } from '../../src/papers/distributionChart.js';
import { pumpChart } from '../../src/papers/pumpChart.js';
import { returnWorkChart } from '../../src/papers/returnWorkChart.js';
import { rowsChart } from '../../src/papers/rowsChart.js';
import { survivalChart } from '../../src/papers/survivalChart.js';
import { workloadChart } from '../../src/papers/workloadChart.js';
import { yearAheadChart } from '../../src/papers/yearAheadChart.js';
import {
  CALIBRATION_SAMPLE,
  CAPACITY_SAMPLE,
  CLEAN_RESULTS_SAMPLE,
  COLUMNS_SAMPLE,
  COST_RISK_SAMPLE,
  DISTRIBUTION_SAMPLE,
  PUMP_SAMPLE,
  RETURN_WORK_SAMPLE,
  ROWS_SAMPLE,
  SURVIVAL_SAMPLE,
  WORKLOAD_SAMPLE,
  YEAR_AHEAD_SAMPLE,
} from './chartSamples.js';
import { alikeInGrey, lightness } from './greyLooks.js';
import { all, expectPicture, HARD_NAMES, labels, type Node } from './readSvg.js';

const plain = (words: string): string =>
  words.replaceAll(/[\u00A0\u202F]/g, ' ').replaceAll(/[\u2068\u2069]/g, '');
const words = (svg: Node): string[] => labels(svg).map(plain);
const spoken = (svg: Node): string[] => all(svg, 'title').map(({ text }) => plain(text));
const summary = (svg: Node): string => plain(all(svg, 'desc')[0]?.text ?? '');

const DRAWN: Record<string, { full: () => string; empty: () => string; named: (name: string) => string }> = {
  calibration: {
    full: () => calibrationChart(structuredClone(CALIBRATION_SAMPLE)),
    empty: () => calibrationChart({ ...CALIBRATION_SAMPLE, classes: [] }),
    named: (name) =>
      calibrationChart({
        ...CALIBRATION_SAMPLE,
        event: name,
        classes: CALIBRATION_SAMPLE.classes.map((each) => ({ ...each, name })),
      }),
  },
  costRisk: {
    full: () => costRiskChart(structuredClone(COST_RISK_SAMPLE)),
    empty: () =>
      costRiskChart({ ...COST_RISK_SAMPLE, lineCount: 0, points: [], linesByRisk: 0, governing: [] }),
    named: (name) => costRiskChart({ ...COST_RISK_SAMPLE, currency: { code: name, minorDigits: 0 } }),
  },
  capacity: {
    full: () => capacityChart(structuredClone(CAPACITY_SAMPLE)),
    empty: () => capacityChart({ ...CAPACITY_SAMPLE, curves: [], marks: [], needed: null }),
    named: (name) =>
      capacityChart({
        ...CAPACITY_SAMPLE,
        lineName: name,
        basis: name,
        curves: CAPACITY_SAMPLE.curves.map((each) => ({ ...each, name })),
        marks: CAPACITY_SAMPLE.marks.map((each) => ({ ...each, name })),
      }),
  },
  pump: {
    full: () => pumpChart(structuredClone(PUMP_SAMPLE)),
    empty: () =>
      pumpChart({
        ...PUMP_SAMPLE,
        pump: [],
        clean: [],
        fouled: [],
        cleanPoint: null,
        fouledPoint: null,
        scouringLps: null,
        inflowLps: null,
      }),
    named: (name) => pumpChart({ ...PUMP_SAMPLE, pumpName: name, basis: name }),
  },
  distribution: {
    full: () => distributionChart(structuredClone(DISTRIBUTION_SAMPLE)),
    empty: () => distributionChart({ ...DISTRIBUTION_SAMPLE, bins: [], marks: [] }),
    named: (name) =>
      distributionChart({ ...DISTRIBUTION_SAMPLE, title: name, axis: name, marks: [{ name, at: 0.2 }] }),
  },
  survival: {
    full: () => survivalChart(structuredClone(SURVIVAL_SAMPLE)),
    empty: () => survivalChart({ ...SURVIVAL_SAMPLE, groups: [] }),
    named: (name) =>
      survivalChart({
        title: name,
        lines: 120,
        axis: name,
        groups: SURVIVAL_SAMPLE.groups.map((each) => ({ ...each, name })),
      }),
  },
  columns: {
    full: () => columnsChart(structuredClone(COLUMNS_SAMPLE)),
    empty: () => columnsChart({ ...COLUMNS_SAMPLE, columns: [] }),
    named: (name) =>
      columnsChart({
        ...COLUMNS_SAMPLE,
        axis: name,
        columns: COLUMNS_SAMPLE.columns.map((each) => ({ ...each, name })),
      }),
  },
  rows: {
    full: () => rowsChart(structuredClone(ROWS_SAMPLE)),
    empty: () => rowsChart({ ...ROWS_SAMPLE, rows: [] }),
    named: (name) =>
      rowsChart({ ...ROWS_SAMPLE, rows: ROWS_SAMPLE.rows.map((each) => ({ ...each, name, beyond: name })) }),
  },
  cleanResults: {
    full: () => cleanResultsChart(structuredClone(CLEAN_RESULTS_SAMPLE)),
    empty: () => cleanResultsChart({ ...CLEAN_RESULTS_SAMPLE, rows: [] }),
    named: (name) =>
      cleanResultsChart({
        ...CLEAN_RESULTS_SAMPLE,
        rows: CLEAN_RESULTS_SAMPLE.rows.map((each) => ({ ...each, crew: name, task: name })),
      }),
  },
  returnWork: {
    full: () => returnWorkChart(structuredClone(RETURN_WORK_SAMPLE)),
    empty: () => returnWorkChart({ ...RETURN_WORK_SAMPLE, rows: [] }),
    named: (name) =>
      returnWorkChart({
        ...RETURN_WORK_SAMPLE,
        rows: RETURN_WORK_SAMPLE.rows.map((each) => ({ ...each, crew: name, task: name })),
      }),
  },
  yearAhead: {
    full: () => yearAheadChart(structuredClone(YEAR_AHEAD_SAMPLE)),
    empty: () => yearAheadChart({ ...YEAR_AHEAD_SAMPLE, ways: [], differences: null }),
    named: (name) =>
      yearAheadChart({
        ...YEAR_AHEAD_SAMPLE,
        title: name,
        ways: YEAR_AHEAD_SAMPLE.ways.map((each) => ({ ...each, name })),
      }),
  },
  workload: {
    full: () => workloadChart(structuredClone(WORKLOAD_SAMPLE)),
    empty: () => workloadChart({ weeks: [] }),
    named: () => workloadChart(WORKLOAD_SAMPLE),
  },
};

describe.each(Object.entries(DRAWN))('every chart, here %s', (_, { full, empty, named }) => {
  test('is a picture with role, title, words, and nothing outside its box; the same bytes each time', () => {
    expectPicture(full());
    expect(full()).toBe(full());
  });

  test('loses nothing in a grey print: what colour tells apart, lightness, dash, thickness or shape do too', () => {
    expect(alikeInGrey(full())).toEqual([]);
  });

  test('draws itself without any data', () => {
    expectPicture(empty());
  });

  test.each(HARD_NAMES)('takes the name %j', (name) => {
    expect(all(expectPicture(named(name)), 'script')).toEqual([]);
  });
});

test('the eye for grey prints sees what only hue tells apart', () => {
  // lightness 53.2 of full red and 32.3 of full blue: Lindbloom's calculator gives L* 53.24 and 32.30
  expect(lightness('#ff0000')).toBeCloseTo(53.24, 1);
  expect(lightness('#0000ff')).toBeCloseTo(32.3, 1);
  const two = (a: string, b: string) => `<svg><rect fill="${a}"/><rect fill="${b}"/></svg>`;
  expect(alikeInGrey(two('#b00000', '#006400'))).toHaveLength(1);
  expect(alikeInGrey(two('#ff0000', '#0000ff'))).toEqual([]);
  expect(
    alikeInGrey('<svg><line stroke="#b00000"/><line stroke="#006400" stroke-dasharray="4 2"/></svg>'),
  ).toEqual([]);
});

describe('calibration', () => {
  const svg = expectPicture(calibrationChart(CALIBRATION_SAMPLE));

  test('says which class is off and in which direction, with the counts', () => {
    // 121 / 860 = 14.1 % against 10 % ± 1.96 √(.1 × .9 / 860) = 8.0 to 12.0 %
    expect(summary(svg)).toBe(
      '6 readings and more: more often than forecast. look at the outlet: less than forecast.',
    );
    expect(spoken(svg)).toContain(
      '6 readings and more: forecast 10 %, found 14.1 % (121 of 860), more often than forecast',
    );
    expect(words(svg)).toContain('2 557 ended forecasts in 7 history classes · as of 15 Jun 2026');
  });

  test('the verdict of each class stands in words, too few to judge among them, and what is off beneath', () => {
    expect(words(svg)).toContain('121 of 860, more than forecast');
    expect(words(svg)).toContain('118 of 1 240, as forecast');
    // 4 of 12 at 10 % lie outside any band, but twelve say nothing.
    expect(words(svg)).toContain('4 of 12, too few to judge');
    expect(words(svg).join(' ')).toContain('14.1 % where 10 % was forecast; dates come out late');
  });

  test('below it each method and crew, found over forecast, with its verdict', () => {
    expect(words(svg)).toContain('Found over forecast, by method and crew');
    expect(spoken(svg)).toContain('look at the outlet: −11 % in the mean of 40 readings, less than forecast');
    expect(words(svg)).toContain('55 readings, as forecast');
    expect(words(svg)).toContain('crew Curlew');
  });

  test('where nothing is off it says what is not judged yet', () => {
    const quiet = CALIBRATION_SAMPLE.classes.filter(({ verdict }) => verdict === 'within');
    const few = CALIBRATION_SAMPLE.classes.filter(({ verdict }) => verdict === 'too_few');
    const said = (classes: typeof quiet): string =>
      words(expectPicture(calibrationChart({ ...CALIBRATION_SAMPLE, classes, findings: [] }))).join(' ');
    expect(said(quiet)).toContain('Nothing is found to be off: nothing needs to be done.');
    expect(said(few)).toContain('Too few forecasts have come to an end to judge any class');
    expect(said([...quiet, ...few])).toContain('cannot be judged yet');
  });

  test('a class without forecasts is named, and neither praised nor blamed', () => {
    expect(spoken(svg).find((each) => each.startsWith('reopened'))).toMatch(/nothing to compare$/);
  });
});

describe('cost against risk', () => {
  test('names the cheapest rule with its money', () => {
    const svg = expectPicture(costRiskChart(COST_RISK_SAMPLE));
    expect(summary(svg)).toBe(
      'Cheapest by one rule alone: least cost at USD 543 a line and year with 2.4 % plugs. As set today, with all rules: USD 471 and 0.7 % plugs.',
    );
    expect(words(svg).join(' ')).toContain(
      'The dates of 110 of 4 010 lines move with the risk; set by: before it hardens 3 900, yearly risk 110. Risks as set: 3 %, 10 %.',
    );
    expect(spoken(svg)).toContain('all rules, 20 %: USD 465 and 0.9 % plugs a line and year, 4 visits');
    expect(words(svg)).toContain('3 %');
    expect(words(svg).some((each) => /^least cost, \d/.test(each))).toBe(true);
  });

  test('a currency without minor units is not divided', () => {
    const yen = costRiskChart({ ...COST_RISK_SAMPLE, currency: { code: 'JPY', minorDigits: 0 } });
    expect(summary(expectPicture(yen))).toContain('JPY 54 300');
  });

  test('a rule under which nothing ever plugs stands at the left edge', () => {
    const [first] = COST_RISK_SAMPLE.points;
    if (first === undefined) throw new Error('points');
    const svg = expectPicture(
      costRiskChart({ ...COST_RISK_SAMPLE, points: [{ ...first, plugsPerLineYear: 0 }] }),
    );
    expect(all(svg, 'circle')[0]?.attributes['cx']).toBe('110');
  });
});

describe('capacity', () => {
  test('each mark says depth and what is left, in the units asked for', () => {
    // 22 mm / 25.4 = 0.87 in; (1 − 22 / 101.6)^1.6 = 68 %
    const metric = expectPicture(capacityChart(CAPACITY_SAMPLE));
    expect(spoken(metric)).toContain('last reading: 22 mm deep, 68 % of the capacity left');
    const us = expectPicture(capacityChart({ ...CAPACITY_SAMPLE, units: 'us' }));
    expect(spoken(us)).toContain('last reading: 0.87 in deep, 68 % of the capacity left');
    expect(words(us)).toContain('depth of deposit, in (right edge: the whole bore)');
  });
});

describe('pump and discharge', () => {
  test('tells both working points; the fouled one moves less', () => {
    const text = summary(expectPicture(pumpChart(PUMP_SAMPLE)));
    const [clean, fouled] = [...text.matchAll(/([\d.]+) L\/min/g)].map(([, flow]) => Number(flow));
    expect(clean).toBeGreaterThan(fouled ?? Infinity);
    expect(text).toContain('Inflow 21 L/min.');
  });

  test('US papers use gpm and feet', () => {
    const us = words(expectPicture(pumpChart({ ...PUMP_SAMPLE, units: 'us' })));
    expect(us).toContain('flow, gpm');
    expect(us).toContain('head, ft');
  });

  test('a pump that cannot lift the water out is said so', () => {
    expect(summary(expectPicture(pumpChart({ ...PUMP_SAMPLE, fouledPoint: null })))).toContain(
      'Fouled: the pump does not lift the water out.',
    );
  });

  test('a steep line ends at the top of the field instead of leaving it', () => {
    const steep = PUMP_SAMPLE.fouled.map((point) => ({ ...point, headM: point.headM * 9 }));
    const svg = expectPicture(pumpChart({ ...PUMP_SAMPLE, fouled: steep }));
    const ys = all(svg, 'path').flatMap(({ attributes }) =>
      [...(attributes['d'] ?? '').matchAll(/[ML][\d.]+,([\d.-]+)/g)].map(([, y]) => Number(y)),
    );
    const top = Math.min(...all(svg, 'line').map(({ attributes }) => Number(attributes['y1'])));
    expect(ys.length).toBeGreaterThan(30);
    expect(Math.min(...ys)).toBeGreaterThanOrEqual(top - 0.01);
  });
});

describe('distribution', () => {
  test('the area of a bar follows its count', () => {
    const svg = expectPicture(distributionChart(DISTRIBUTION_SAMPLE));
    const heights = all(svg, 'rect')
      .slice(1)
      .map(({ attributes }) => Number(attributes['height']));
    expect((heights[3] ?? 0) / (heights[2] ?? 1)).toBeCloseTo(410 / 240, 2);
    expect(words(svg)).toContain('1 853 lines · as of 1 Jun 2026');
    expect(summary(svg)).toBe(
      'Most lines, 410 of 1 853, lie between 30 % and 40 %. median: 43 %. a tenth is above: 79 %.',
    );
  });
});

describe('survival', () => {
  const svg = expectPicture(survivalChart(SURVIVAL_SAMPLE));

  test('falls in steps, never between events', () => {
    const path =
      all(svg, 'path').find(({ attributes }) => attributes['fill'] === 'none')?.attributes['d'] ?? '';
    const points = [...path.matchAll(/[ML]([\d.]+),([\d.]+)/g)].map(
      ([, x, y]) => [Number(x), Number(y)] as const,
    );
    for (const [i, [x, y]] of points.entries()) {
      const [lastX, lastY] = points[i - 1] ?? [x, y];
      expect(x === lastX || y === lastY).toBe(true);
    }
    expect(points.length).toBeGreaterThan(20);
  });

  test('a tick for each line that left the watch, and the halves in words', () => {
    const ticks = all(svg, 'line').filter(({ attributes }) => attributes['stroke-width'] === '1.4');
    // Six and five, of which days 180 and 181 are one on paper, and the legend's own.
    expect(ticks).toHaveLength(11);
    // The eighth event, day 222: 1 − 8 × .07 = .44, the first at or under a half.
    expect(summary(svg)).toContain('sump discharge: 10 events in 140, half of them by day 222.');
    expect(summary(svg)).toContain('footing drain: 6 events in 96, 58 % still free after 365 days.');
  });
});

describe('workload', () => {
  test('each week in words, and the weeks with more work than hours by name', () => {
    const svg = expectPicture(workloadChart(WORKLOAD_SAMPLE));
    // 62 visits × 1.35 h = 84 h
    expect(spoken(svg)).toContain(
      'Week of 15 Jun 2026: 62 visits, 84 h (80 %: 80 to 90), placed 62 visits, 84 h; crews have 132 h',
    );
    expect(summary(svg)).toBe(
      'More work than hours in the weeks of 6 Jul 2026, 27 Jul 2026, 3 Aug 2026, 31 Aug 2026.',
    );
  });

  test('a year of weeks keeps its names apart', () => {
    const [week] = WORKLOAD_SAMPLE.weeks;
    if (week === undefined) throw new Error('weeks');
    const svg = expectPicture(workloadChart({ weeks: Array.from({ length: 52 }, () => week) }));
    const xs = all(svg, 'text')
      .filter(({ text }) => text === '15 Jun')
      .map(({ attributes }) => Number(attributes['x']));
    expect(xs.length).toBeLessThan(20);
    for (const [i, x] of xs.entries()) if (i > 0) expect(x - (xs[i - 1] ?? 0)).toBeGreaterThan(45);
  });
});

test('curves that stay near the top are drawn close up, each with its name at its end', () => {
  const [sump, footing] = SURVIVAL_SAMPLE.groups;
  if (sump === undefined || footing === undefined) throw new Error('groups');
  const rare = [{ days: 120, survival: 0.99, low: 0.97, high: 1 }];
  const groups = [
    { ...sump, steps: rare, events: 1, untilDays: 300 },
    { ...footing, steps: [], events: 0 },
  ];
  const svg = expectPicture(survivalChart({ ...SURVIVAL_SAMPLE, groups }));
  // Down to .97: the next twentieth below is 95 %.
  expect(words(svg)).toContain('95 %');
  expect(words(svg)).not.toContain('80 %');
  expect(words(svg).join(' ')).toContain('The axis begins at 95 %');
  const name = all(svg, 'text').find(
    ({ text, attributes }) => text.includes('sump discharge') && attributes['font-weight'] === 'bold',
  );
  const [end] = all(svg, 'path')
    .filter(({ attributes }) => attributes['fill'] === 'none')
    .map(
      ({ attributes }) =>
        /([\d.]+),([\d.]+)$/
          .exec(attributes['d'] ?? '')
          ?.slice(1)
          .map(Number) ?? [],
    );
  expect(Math.abs(Number(name?.attributes['x']) - (end?.[0] ?? 0))).toBeLessThan(10);
  expect(Math.abs(Number(name?.attributes['y']) - (end?.[1] ?? 0))).toBeLessThan(10);
});

describe('columns and rows', () => {
  test('numbers at the ends of bars, and a bar that is seen however short it is', () => {
    const svg = expectPicture(
      rowsChart({
        ...ROWS_SAMPLE,
        set: 'beside',
        numbers: 'at_ends',
        rows: [{ name: 'few', values: [580, 1] }],
      }),
    );
    expect(words(svg)).toEqual(expect.arrayContaining(['580', '1']));
    const widths = all(svg, 'rect').map(({ attributes }) => Number(attributes['width']));
    expect(Math.min(...widths)).toBeGreaterThanOrEqual(1.5);
  });

  test('parts stand on one another, each as high as its share', () => {
    const svg = expectPicture(columnsChart(COLUMNS_SAMPLE));
    expect(spoken(svg)).toContain('Sep 2026: agreed before 12, agreed on site 4');
    const heights = all(svg, 'rect')
      .map(({ attributes }) => Number(attributes['height']))
      .slice(1);
    expect((heights[0] ?? 0) / (heights[1] ?? 1)).toBeCloseTo(3, 1);
  });

  test('rows beyond thirty are left to the figures, and the picture says how many', () => {
    const [row] = ROWS_SAMPLE.rows;
    if (row === undefined) throw new Error('rows');
    const svg = expectPicture(rowsChart({ ...ROWS_SAMPLE, rows: Array.from({ length: 45 }, () => row) }));
    expect(words(svg)).toContain('15 more rows stand in the figures as JSON and CSV.');
  });

  test('a part of nothing draws nothing', () => {
    const svg = expectPicture(rowsChart({ ...ROWS_SAMPLE, rows: [{ name: 'none', values: [0, 0] }] }));
    expect(words(svg)).toContain('nothing to show');
  });
});

describe('clean results', () => {
  test('before, after and what came back, in words; what was not measured has no mark', () => {
    const svg = expectPicture(cleanResultsChart(CLEAN_RESULTS_SAMPLE));
    expect(spoken(svg)[1]).toContain('Heron, jet: 40 cleans, before 35 %, after 6 %.');
    expect(words(svg)).toContain('not read again');
    // One circle a row that was measured before, and the legend's.
    expect(all(svg, 'circle')).toHaveLength(3);
  });

  test('crews stand under their task, those that leave least first; what few readings say is marked', () => {
    const [heron] = CLEAN_RESULTS_SAMPLE.rows;
    if (heron === undefined) throw new Error('rows');
    const rows = [
      { ...heron, crew: 'Dunlin', cleans: 90, after: 0.09, measuredAfter: 50 },
      { ...heron, crew: 'Curlew', task: 'flush with the hose', cleans: 60 },
      { ...heron, crew: 'Plover', cleans: 30, after: 0.02, measuredAfter: 4, regrown: 2 },
      heron,
    ];
    const svg = expectPicture(cleanResultsChart({ ...CLEAN_RESULTS_SAMPLE, rows }));
    const names = words(svg).filter((each) => /^(jet|flush with the hose)$|\(\d+\)$/.test(each));
    // 90 + 30 + 40 = 160 cleans by jet, 60 by hose; .02 of four readings is no better than .06 of twenty.
    expect(names.filter((each) => !each.includes('month') && !each.includes('few'))).toEqual([
      'jet',
      'Heron (40)',
      'Dunlin (90)',
      'Plover (30)',
      'flush with the hose',
      'Curlew (60)',
    ]);
    expect(words(svg)).toContain('too few to tell (2)');
    expect(words(svg)).not.toContain('+0 % a month (1)');
  });
});

describe('work that came back', () => {
  test('shares with their intervals under each task; crews to which nothing came back are one row', () => {
    const svg = expectPicture(returnWorkChart(RETURN_WORK_SAMPLE));
    const said = spoken(svg).filter((each) => each.includes(' of '));
    // Wilson: 1 of 29 lies between .6 and 17.2 %, 0 of 20 under 16.1 % (Newcombe 1998, table I).
    expect(said).toEqual([
      'Plover, jet: 1 of 29: 1 % to 17 %, warranty.',
      '2 other crews, jet: 0 of 20: 0 % to 16 %.',
      'all crews, inspect: 0 of 11: 0 % to 26 %.',
    ]);
  });
});

describe('the year ahead', () => {
  test('both ways in words, with the weeks that hold more work than hours', () => {
    const svg = expectPicture(yearAheadChart(YEAR_AHEAD_SAMPLE));
    expect(summary(svg)).toContain(
      'as it is: 24 visits and 40 crew-hours in 4 weeks, 0.5 plugs, more work than hours in 0 weeks, 2 visits waiting at the end.',
    );
    expect(summary(svg)).toContain('otherwise: 24 visits');
    expect(words(svg)).toContain('the same otherwise');
    expect(words(svg)).toContain(
      'as it is: 0.5 in all (80 %: 0 to 2); otherwise: 0.5 in all (80 %: 0 to 2); difference +0.4 (−1 to +1.8), cannot be told at 8 runs',
    );
    expect(words(svg).join(' ')).toContain('as it is: 42 % of the hours there are is used over all weeks.');
    expect(words(svg).join(' ')).toContain('waiting in the mean week, difference +6.2 (+5.1 to +7.3)');
  });

  test('water in gallons on US papers, to three figures', () => {
    const litres = { q10: 100_000, q50: 123_456, q90: 200_000 };
    const [way] = YEAR_AHEAD_SAMPLE.ways;
    if (way === undefined) throw new Error('no sample');
    const ways = [{ ...way, totals: { ...way.totals, waterL: litres } }];
    const one = { ...YEAR_AHEAD_SAMPLE, ways, differences: null };
    const us = words(expectPicture(yearAheadChart({ ...one, units: 'us' })));
    // 123 456 / 3.785412 = 32 613.6; 100 000 and 200 000: 26 417 and 52 834
    expect(us).toContain('as it is: 32 600 in all (80 %: 26 400 to 52 800)');
    expect(us).toContain('gallons');
    const metric = words(expectPicture(yearAheadChart(one)));
    expect(metric).toContain('as it is: 123 000 in all (80 %: 100 000 to 200 000)');
    expect(metric).toContain('litres');
  });
});
