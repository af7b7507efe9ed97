import { describe, expect, test } from 'vitest';
import { clientSummary } from '../../src/papers/clientSummary.js';
import { aboutTime, type ComingVisit, comingWords } from '../../src/papers/comingVisits.js';
import { dischargeLog } from '../../src/papers/dischargeLog.js';
import { lineStory } from '../../src/papers/lineStory.js';
import { groupsOf, type Paper, paragraph, plain } from '../../src/papers/paper.js';
import { paperHtml } from '../../src/papers/paperHtml.js';
import { paperPdf } from '../../src/papers/paperPdf.js';
import { runsText, stopped } from '../../src/papers/printed.js';
import { visitReport } from '../../src/papers/visitReport.js';
import {
  CLIENT_SUMMARY_SAMPLE,
  DISCHARGE_LOG_SAMPLE,
  LINE_STORY_SAMPLE,
  VISIT_REPORT_SAMPLE,
} from './clientPapersSample.js';
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
    'North drain footing drain38 % blocked (camera)4 % blocked (camera)3 passes, slugs of deposit',
    'plugged: deposit',
    'Found while there, USD 90, agreed by R. Oakley.',
    'not done (it was not wanted). Found while there, USD 45, declined by R. Oakley.',
    'test the pump: pit – not done (time ran out).',
    'order 2041 · printed 1 Jul 2026',
    'We come again by 20 Nov 2026: your footing drain fills up in about five months (reckoned 17 Jun 2026).',
    'Work that is still to come, state of 1 Jul 2026:',
    'Order 2077: test the pump on Tue 23 Jun 2026. Left over from 16 June.',
    'Orders 2080, 2081: add a cleanout, day not set yet.',
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
    'What we did',
    'What comes next',
    'For your safety',
  ]);
});

test('a year adds up its visits and plugs, house by house', () => {
  const said = words(clientSummary(CLIENT_SUMMARY_SAMPLE));
  for (const sentence of [
    '2 houses · 3 visits and 1 on which nothing was finished · 1 plug found',
    '2 Apr 2026–cleandone',
    'Of 1 visit nobody wrote down how much water was used.',
    'We come again (state of 1 Jul 2026) by 20 Nov 2026: your footing drain fills up in about five months.',
    '20 Jan 20261834inspect, jet, test the pumpdone',
    'Water used and led away: about 1 240 L; sludge: about 85 L.',
    'No visit in this year.',
  ])
    expect(said).toContain(sentence);
});

const VISIT: ComingVisit = {
  on: '2026-06-17',
  rule: 'care_terms',
  line: { kind: 'footing_drain', name: null },
  fillsInDays: null,
  cleans: 0,
};
const coming = (visits: ComingVisit[], day: string): string[] =>
  comingWords({ visits }, day).map((each) => plain(each).replaceAll('\u00A0', ' '));

test('a day that is past is not promised again', () => {
  expect(coming([VISIT], '2026-06-16')).toEqual(['by 17 Jun 2026: as agreed in your care terms']);
  expect(coming([VISIT], '2026-06-17')).toEqual([
    'as soon as a crew can, due since 17 Jun 2026: as agreed in your care terms',
  ]);
});

test('the reason of a day is in words of who lives there, for each rule that a line can have', () => {
  const why = (more: Partial<ComingVisit>) => coming([{ ...VISIT, ...more }], '2026-06-16')[0];
  expect(why({ rule: 'risk', fillsInDays: 61 })).toBe(
    'by 17 Jun 2026: your footing drain fills up in about two months',
  );
  expect(why({ rule: 'cost_least', fillsInDays: null })).toBe(
    'by 17 Jun 2026: your footing drain is easily cleaned until then',
  );
  expect(why({ rule: 'hardening', line: { kind: 'floor_drain', name: 'L2' } })).toBe(
    'by 17 Jun 2026: the soft deposit in your floor drain (L2) turns hard when it is left longer',
  );
  expect(why({ rule: 'first_interval', cleans: 2 })).toContain('we do not know your footing drain well yet');
  expect(why({ rule: 'first_interval', cleans: 6 })).not.toContain('do not know');
  expect(why({ rule: null })).toBe('by 17 Jun 2026');
});

test('times are told no finer than anybody can know them', () => {
  expect([10, 21, 45, 61, 365, 900].map(aboutTime)).toEqual([
    'less than two weeks',
    'about three weeks',
    'about six weeks',
    'about two months',
    'about 12 months',
    'about two years',
  ]);
});

test('a house whose systems are come to apart has a day for each, the earliest first', () => {
  const yard = { ...VISIT, on: '2026-12-01', rule: null, line: { kind: 'yard_drain', name: null } } as const;
  expect(coming([VISIT, yard], '2026-06-16')).toEqual([
    'by 17 Jun 2026: as agreed in your care terms',
    'to your yard drain by 1 Dec 2026',
  ]);
});

test('what was told after a visit stays; what is known since then bears its day', () => {
  const [first] = VISIT_REPORT_SAMPLE.next.told?.visits ?? [];
  if (first === undefined) throw new Error('the sample has a visit to come');
  const known = { reckonedOn: '2026-10-20', visits: [{ ...first, on: '2027-01-15' }], declined: [] };
  const next = { ...VISIT_REPORT_SAMPLE.next, known, seenAgain: ['2026-10-19'] };
  const said = words(visitReport({ ...VISIT_REPORT_SAMPLE, printedOn: '2026-11-26', next }));
  expect(said).toContain('printed 26 Nov 2026');
  expect(said).toContain('We come again by 20 Nov 2026');
  expect(said).toContain(
    'State of 26 Nov 2026: we were at your house again on 19 Oct 2026. We come again by 15 Jan 2027',
  );
  const unkept = words(
    visitReport({ ...VISIT_REPORT_SAMPLE, printedOn: '2026-11-26', next: { ...next, told: null } }),
  );
  expect(unkept).toContain('What was reckoned right after this visit is not on record.');
  expect(unkept).not.toContain('20 Nov 2026');
});

test('page one: emergency, found, done, next and safety stand before charts and the rest', async () => {
  const { pages } = readPdf(await paperPdf(visitReport(VISIT_REPORT_SAMPLE)));
  const first = (pages[0] ?? '').replaceAll(/\s/g, '');
  const order = ['phoneusatonce', 'Whatwefoundandleft', 'Whatwedid', 'Whatcomesnext', 'Foryoursafety'].map(
    (said) => first.indexOf(said),
  );
  expect(order.every((at, i) => at > (order[i - 1] ?? -1))).toBe(true);
}, 60_000);

test('a day told that has passed is not left standing alone', () => {
  const { next } = VISIT_REPORT_SAMPLE;
  const later = { ...VISIT_REPORT_SAMPLE, printedOn: '2026-11-26', next: { ...next, known: next.told } };
  const said = words(visitReport(later));
  expect(said).toContain('We come again by 20 Nov 2026');
  expect(said).toContain('State of 26 Nov 2026: We come again as soon as a crew can, due since 20 Nov 2026');
});

test.each(['us', 'metric'] as const)(
  'eight lines and a long name, %s: no page bears a line or two',
  async (units) => {
    const [line] = VISIT_REPORT_SAMPLE.lines;
    if (!line) throw new Error('the sample has lines');
    const many = {
      ...VISIT_REPORT_SAMPLE,
      units,
      moreCharts: 3,
      clientName: 'The Trustees of the Upper and Lower Wexley Reach Housing Foundation '.repeat(3),
      lines: Array.from({ length: 8 }, (_, i) => ({ ...line, name: `North drain ${i + 1}` })),
    };
    const { pages } = readPdf(await paperPdf(visitReport(many)));
    expect(pages[0]).toContain('For your safety');
    expect(pages.join(' ')).toContain('3 more are kept; ask us for them.');
    // A footer with title and number has some 40 letters.
    expect(Math.min(...pages.map((page) => page.length))).toBeGreaterThan(300);
  },
  60_000,
);

test('nothing ends in two stops, whoever ended it', () => {
  const twice = {
    ...VISIT_REPORT_SAMPLE,
    ahead: [{ orderNumbers: [1], tasks: [], because: 'Left over.', promisedOn: null }],
    declined: VISIT_REPORT_SAMPLE.declined.map((each) => ({ ...each, riskTold: 'It may flood.' })),
    declinedProposals: VISIT_REPORT_SAMPLE.declinedProposals.map((each) => ({
      ...each,
      because: 'Not before the garden is done anew.',
    })),
  };
  expect(words(visitReport(twice))).not.toMatch(/\.\s*\./);
  expect(runsText([463, 457, 458, 459, 465, 466])).toBe('457 to 459, 463, 465, 466');
  expect(stopped('done anew')).toBe('done anew.');
  expect(stopped('done anew. ')).toBe('done anew.');
  expect(stopped('will it flood?')).toBe('will it flood?');
});

test('a reading that was corrected or taken back after the visit says so', () => {
  const [line] = VISIT_REPORT_SAMPLE.lines;
  if (!line?.before) throw new Error('the sample has a reading');
  const { before } = line;
  const corrected = {
    ...line,
    before: { ...before, correctedOn: '2026-08-03' },
    after: { ...before, isTakenBack: true },
  };
  const said = words(visitReport({ ...VISIT_REPORT_SAMPLE, lines: [corrected] }));
  expect(said).toContain('38 % blocked (camera), corrected 3 Aug 2026');
  expect(said).toContain('taken back since: a slip');
});

test('a line’s chart ends at its visit, and a clean nobody measured breaks its curve', () => {
  const drawn = lineStory(LINE_STORY_SAMPLE);
  expect(drawn).toContain('up to the visit of 16');
  // Two stretches: from what the first clean left to the second visit, and on to this one.
  expect(drawn.match(/stroke-width="1.6"/g)).toHaveLength(2);
  const findings = LINE_STORY_SAMPLE.findings.filter(({ isAfterClean }) => !isAfterClean);
  expect(lineStory({ ...LINE_STORY_SAMPLE, findings })).not.toContain('stroke-width="1.6"');
});

test('the last page bears more than a line or two', () => {
  const groups = groupsOf([
    { kind: 'heading', words: 'Long before' },
    ...Array.from({ length: 20 }, (_, i) => paragraph(`${i}`)),
    { kind: 'heading', words: 'Last' },
    paragraph('one line'),
  ]);
  // Heading 2 and line 1, and 7 lines before them: ten.
  expect(groups.at(-1)).toHaveLength(9);
});

test('a log sums by receiver and names what has no reference or no figure', () => {
  const said = words(dischargeLog(DISCHARGE_LOG_SAMPLE));
  for (const sentence of [
    '4 entries',
    'Business: Alder Quay Drainworks',
    'Address: 1 Harbour Yard, Alder Quay',
    'Licence or registration: WR-D-0417',
    'caught and taken away1about 640 Labout 45 L',
    'open water1–about 45 Lwater of 1 not written down',
    'MISSING in 1 entry of 4: where caught water was taken.',
    'MISSING in 1 entry of 4: permit or ticket of who took caught water.',
    'MISSING in 1 entry of 4: reference in writing that the receiver asks for (each is kept as an incident).',
    'caught and taken away: MISSING where to, MISSING referenceabout 640 L',
    'storm drain: inlet at Quay Side 34, P-12about 380 L',
    'about 45 L to Quay works',
  ])
    expect(said).toContain(sentence);
});

test('what the owner has not set is printed as missing, with where to set it', () => {
  const unset = { ...DISCHARGE_LOG_SAMPLE, businessName: '', businessAddress: null, licence: null };
  const said = words(dischargeLog(unset));
  for (const setting of ['businessName', 'businessAddress', 'licence'])
    expect(said).toContain(`MISSING: set it at PATCH /v1/settings, papers.${setting}`);
});

test('a complete entry lacks nothing; sludge at the depot names which; estimates have two figures', () => {
  const [entry] = DISCHARGE_LOG_SAMPLE.entries;
  if (!entry) throw new Error('the sample has entries');
  const whole = {
    ...entry,
    place: 'Fulling Lane works',
    reference: 'WP-7',
    sludgeTo: 'depot',
    waterLitres: 325,
  };
  const said = words(dischargeLog({ ...DISCHARGE_LOG_SAMPLE, units: 'us', entries: [whole] }));
  expect(said).not.toContain('MISSING');
  expect(said).toContain('to depot Harbour yard');
  // 325 L / 3.785412 = 85.86 gal; 45 L = 11.89 gal.
  expect(said).toContain('about 86 gal');
  expect(said).toContain('about 12 gal');
  const lost = words(dischargeLog({ ...DISCHARGE_LOG_SAMPLE, entries: [{ ...whole, sludgeTo: null }] }));
  expect(lost).toContain('MISSING in 1 entry of 1: where sludge was taken.');
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
