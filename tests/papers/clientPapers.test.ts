import { describe, expect, test } from 'vitest';
import { clientSummary } from '../../src/papers/clientSummary.js';
import { nextText } from '../../src/papers/clientWords.js';
import { dischargeLog } from '../../src/papers/dischargeLog.js';
import type { Paper } from '../../src/papers/paper.js';
import { paperHtml } from '../../src/papers/paperHtml.js';
import { paperPdf } from '../../src/papers/paperPdf.js';
import { visitReport } from '../../src/papers/visitReport.js';
import { CLIENT_SUMMARY_SAMPLE, DISCHARGE_LOG_SAMPLE, VISIT_REPORT_SAMPLE } from './clientPapersSample.js';
import { readPdf } from './readPdf.js';
import { HARD_NAMES, readXml } from './readSvg.js';

const words = (paper: Paper): string =>
  readXml(paperHtml(paper).replace('<!DOCTYPE html>\n', '').trimEnd()).text.replaceAll(
    /[\u00A0\u202F]/g,
    ' ',
  );

test('a report says what was found, what was done, what comes and what was declined', () => {
  const said = words(visitReport(VISIT_REPORT_SAMPLE));
  for (const sentence of [
    'Fri 12 Jun 2026, Heron crew: not done (the gate was closed): we phone to agree how the gate is opened.',
    'North drain footing drain38 % blocked (camera)4 % blocked (camera)3 passes, slugs of deposit came back',
    'plugged: deposit',
    'Found while there, USD 90, agreed by R. Oakley.',
    'not done (it was not wanted). Found while there, USD 45, declined by R. Oakley.',
    'test the pump: pit – not done (time ran out).',
    'North drain: by 20 Nov 2026: soft deposit must go before it turns hard.',
    'Discharge: set in the night after the visit.',
    'Order 2077: test the pump on Tue 23 Jun 2026. Left over from 16 June.',
    'Order 2080: add a cleanout, day not set yet',
    'R. Oakley put off “dig and replace” for Discharge until 1 Apr 2027. The risk that was told: about one chance',
    'no cleaner, bleach or acid',
  ])
    expect(said).toContain(sentence);
});

test('a report with nothing but a try has no empty headings', () => {
  const bare = {
    ...VISIT_REPORT_SAMPLE,
    lines: [],
    tasks: [],
    water: [],
    ahead: [],
    declined: [],
    declinedProposals: [],
    because: [],
  };
  const { blocks } = visitReport(bare);
  expect(blocks.flatMap((block) => (block.kind === 'heading' ? [block.words] : []))).toEqual([
    'In short',
    'For your safety',
  ]);
});

test('a year adds up its visits and plugs, house by house', () => {
  const said = words(clientSummary(CLIENT_SUMMARY_SAMPLE));
  for (const sentence of [
    '2 houses · 3 visits · 1 plug found',
    '20 Jan 20261834inspect, jet, test the pumpdone',
    'Water used and led away: about 1 240 L; sludge: about 85 L.',
    'No visit under an order in this year.',
  ])
    expect(said).toContain(sentence);
});

test('a day that is past is not promised again', () => {
  const next = { on: '2026-06-17', rule: 'care_terms' } as const;
  expect(nextText(next, '2026-06-16').replaceAll('\u00A0', ' ')).toBe(
    'by 17 Jun 2026: as agreed in your care terms',
  );
  expect(nextText(next, '2026-06-17').replaceAll('\u00A0', ' ')).toBe(
    'due since 17 Jun 2026, as soon as a crew can: as agreed in your care terms',
  );
});

test('a log sums by receiver and names what has no reference or no figure', () => {
  const said = words(dischargeLog(DISCHARGE_LOG_SAMPLE));
  for (const sentence of [
    '4 entries',
    'caught and taken away1640 L45 L',
    'open water1–45 Lwater of 1 not written down',
    '1 entry marked none',
    'storm drain: inlet at Quay Side 34P-12380 L',
  ])
    expect(said).toContain(sentence);
});

test('a log of caught water has no column of references, since none is asked for', () => {
  const entries = DISCHARGE_LOG_SAMPLE.entries.filter(
    ({ receiver, reference }) => receiver === 'caught' && reference === null,
  );
  expect(entries.length).toBeGreaterThan(0);
  expect(words(dischargeLog({ ...DISCHARGE_LOG_SAMPLE, entries }))).not.toContain('Reference');
  expect(words(dischargeLog(DISCHARGE_LOG_SAMPLE))).toContain('Reference');
});

describe.each([
  ['report', visitReport(VISIT_REPORT_SAMPLE), 3],
  ['year', clientSummary(CLIENT_SUMMARY_SAMPLE), 2],
  ['log', dischargeLog(DISCHARGE_LOG_SAMPLE), 1],
] as const)('the %s', (_name, paper, most) => {
  test('as PDF has few pages and the words of the page', async () => {
    const { pages } = readPdf(await paperPdf(paper));
    expect(pages.length).toBeLessThanOrEqual(most);
    const drawn = pages.join(' ').replaceAll(/\s/g, '');
    for (const block of paper.blocks)
      if (block.kind === 'heading') expect(drawn).toContain(block.words.replaceAll(/\s/g, ''));
  }, 60_000);
});

test.each(HARD_NAMES)(
  'anyone’s words come through harmless: %j',
  async (name) => {
    const year = {
      ...CLIENT_SUMMARY_SAMPLE,
      clientName: name,
      businessName: name,
      houses: CLIENT_SUMMARY_SAMPLE.houses.map((house) => ({ ...house, address: name })),
    };
    // biome-ignore lint/suspicious/noControlCharactersInRegex: what may not stand in XML
    expect(words(clientSummary(year))).toContain(name.replace(/[\u0000\u0007]|\uD800$/g, '\uFFFD'));
    expect((await paperPdf(clientSummary(year))).subarray(0, 5).toString()).toBe('%PDF-');
  },
  60_000,
);

test('a year of a log, 400 entries with long names, keeps each', async () => {
  const [entry] = DISCHARGE_LOG_SAMPLE.entries;
  if (!entry) throw new Error('the sample has entries');
  const entries = Array.from({ length: 400 }, (_, i) => ({
    ...entry,
    orderNumber: 3000 + i,
    address: `Sankt-Margarethen-Straße ${i}, zweiter Hof links`,
  }));
  const { pages } = readPdf(await paperPdf(dischargeLog({ ...DISCHARGE_LOG_SAMPLE, entries })));
  const drawn = pages.join(' ').replaceAll(/\s/g, '');
  expect(entries.filter(({ orderNumber }) => !drawn.includes(`order${orderNumber}`))).toEqual([]);
  expect(pages.length).toBeLessThan(40);
}, 120_000);
