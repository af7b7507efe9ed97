import { expect, test } from 'vitest';
import type { Block, Paper, Words } from '../../src/papers/paper.js';
import { paperPdf } from '../../src/papers/paperPdf.js';
import { routeSheet } from '../../src/papers/routeSheet.js';
import type { RouteSheetData } from '../../src/papers/routeSheetData.js';
import { dayCautions } from '../../src/papers/sheetCautions.js';
import { readPdf } from './readPdf.js';
import { HARD_NAMES } from './readSvg.js';
import { ROUTE_SHEET_SAMPLE } from './routeSheetSample.js';

const LONG = 60_000;
const read = async (data: RouteSheetData) => readPdf(await paperPdf(routeSheet(data)));
const { route } = ROUTE_SHEET_SAMPLE;

test(
  'the sheet of a day: A4, few pages, numbered, with the words of the page in HTML',
  async () => {
    const { pages, size, madeAt } = await read(ROUTE_SHEET_SAMPLE);
    const words = pages.join(' ');
    // 210 × 297 mm
    expect(size.map(Math.round)).toEqual([595, 842]);
    expect(pages.length).toBeGreaterThanOrEqual(2);
    expect(pages.length).toBeLessThanOrEqual(5);
    expect(pages[1]).toContain(`2 / ${pages.length}`);
    for (const said of [
      'Heron crew, Tue 16 Jun 2026',
      'Side gate left of the garage',
      'Júlia Szőnyi',
      'Nobody at an open end while a jet runs.',
      'Flow proven,',
      'Follow local codes',
      // A label of the sketch map.
      'Straight lines between stops',
    ])
      expect(words.replaceAll(' ', '')).toContain(said.replaceAll(' ', ''));
    expect(madeAt).toBe('20260616000000Z');
  },
  LONG,
);

test(
  'US papers are Letter; the same day gives the same bytes',
  async () => {
    const us = { ...ROUTE_SHEET_SAMPLE, units: 'us' as const };
    const [first, again] = [await paperPdf(routeSheet(us)), await paperPdf(routeSheet(structuredClone(us)))];
    expect(readPdf(first).size).toEqual([612, 792]);
    expect(first.equals(again)).toBe(true);
  },
  LONG,
);

test(
  'a day without stops is one page',
  async () => {
    const { pages } = await read({ ...ROUTE_SHEET_SAMPLE, route: { ...route, stops: [] } });
    expect(pages).toHaveLength(1);
    expect(pages[0]).toContain('No stops on this day.');
  },
  LONG,
);

/** Every run of words of a paper. */
function allWords(blocks: readonly Block[]): string[] {
  const of = (words: Words) => words.map((run) => (typeof run === 'string' ? run : run.words));
  return blocks.flatMap((block): string[] => {
    if (block.kind === 'heading') return [block.words];
    if (block.kind === 'text' || block.kind === 'between') return of(block.words);
    if (block.kind === 'list')
      return block.items.flatMap(({ words, under = [] }) => [...of(words), ...allWords(under)]);
    if (block.kind === 'table') return block.rows.flat().flatMap(of);
    return block.kind === 'box' ? [...of(block.head), block.aside, ...allWords(block.blocks)] : [];
  });
}

test.each([0, 3, 6, 9, 12, 15, 18, 21, 24, 27, 30, 45])(
  'stops of any height, anywhere on a page, stand whole: %i notes',
  async (count) => {
    const tasks = ['inspect', 'jet', 'clear_pit', 'jet', 'test_pump'] as const;
    const visit = { number: 1, tasks, facts: { enterablePit: true } };
    const [{ ofVisit, ofTasks } = { ofVisit: [], ofTasks: [] }] = dayCautions([visit]).ofVisits;
    const stops = route.stops.map((stop, i) => ({
      ...stop,
      visit: stop.visit && {
        ...stop.visit,
        accessNotes: Array.from({ length: count }, (_, k) => `note ${k} of stop ${i}`),
        cautions: ofVisit,
        tasks: tasks.map((kind, k) => ({
          kind,
          target: `line ${k}`,
          minutes: 10,
          plan: ['PVC, 100 mm, 30 m long'],
          cautions: ofTasks[k] ?? [],
        })),
      },
    }));
    // Moves what follows down the page.
    const kit = Array.from({ length: 3 * count }, (_, k) => `thing ${k}`);
    const paper = routeSheet({ ...ROUTE_SHEET_SAMPLE, kit, route: { ...route, stops } });
    const drawn = readPdf(await paperPdf(paper))
      .pages.join('')
      .replaceAll(/\s/g, '');
    const lost = allWords(paper.blocks)
      .map((words) => words.replaceAll(/\s/g, ''))
      .flatMap((words) => (words.length < 40 ? [words] : [words.slice(0, 20), words.slice(-20)]))
      .filter((words) => !drawn.includes(words));
    expect(lost).toEqual([]);
    // In the overview and at its stop.
    for (const { siteName } of stops)
      if (siteName !== '') expect(drawn.split(siteName.replaceAll(/\s/g, '')).length).toBeGreaterThan(2);
  },
  LONG,
);

test(
  'many stops, and a stop longer than a page, lose nothing',
  async () => {
    const notes = Array.from({ length: 90 }, (_, i) => `note ${i} by the fence`);
    const [first] = route.stops;
    if (!first?.visit) throw new Error('the sample begins with a visit');
    const stops = Array.from({ length: 24 }, (_, i) => ({
      ...first,
      siteName: `House ${i} Marsh Gate`,
      visit: first.visit && { ...first.visit, accessNotes: i === 2 ? notes : ['gate'] },
    }));
    const { pages } = await read({ ...ROUTE_SHEET_SAMPLE, route: { ...route, stops } });
    const words = pages.join(' ').replaceAll(' ', '');
    expect(notes.filter((note) => !words.includes(note.replaceAll(' ', '')))).toEqual([]);
    // In the overview, and at its stop.
    for (const { siteName } of stops)
      expect(words.split(siteName.replaceAll(' ', '')).length - 1).toBeGreaterThanOrEqual(2);
    // A page a stop with its sketch, the day before them, two more for the long one.
    expect(pages.length).toBeLessThanOrEqual(27);
  },
  LONG,
);

test.each(HARD_NAMES)(
  'any name prints: %j',
  async (name) => {
    const paper: Paper = {
      title: name,
      from: [name],
      heading: [{ words: name, theirs: true }],
      lead: [],
      blocks: [
        { kind: 'box', number: '1', head: [name], aside: name, blocks: [{ kind: 'text', words: [name] }] },
        { kind: 'table', columns: [{ head: name }, { head: 'm', figures: true }], rows: [[[name], ['1']]] },
      ],
      foot: [],
      day: '2026-06-16',
      units: 'metric',
    };
    expect((await paperPdf(paper)).subarray(0, 5).toString()).toBe('%PDF-');
  },
  LONG,
);

test(
  'Greek, Cyrillic, Hungarian and Vietnamese letters can be taken out again',
  async () => {
    const name = 'Λίμνη Ξάνθη · Щербакова Юлия · Győző Fűzfa';
    const names = { ...ROUTE_SHEET_SAMPLE, members: [name] };
    expect((await read(names)).pages[0]).toContain(name);
    const vietnamese = 'Nguyễn Thị Thuỷ, Đặng Hữu Phước';
    expect((await read({ ...ROUTE_SHEET_SAMPLE, members: [vietnamese] })).pages[0]).toContain(vietnamese);
  },
  LONG,
);

test.each([20, 30, 40, 50, 60, 70])(
  'a box of %i lines, all of wide letters, is printed whole',
  async (count) => {
    const lines = Array.from({ length: count }, (_, i) => `${i} ${'WM '.repeat(20)}end ${i}.`);
    const box = {
      kind: 'box' as const,
      number: '1',
      head: ['W'.repeat(120)],
      aside: '7:00 am–8:00 am',
      blocks: [
        {
          kind: 'list' as const,
          marks: 'numbers' as const,
          items: lines.map((words) => ({ words: [words] })),
        },
      ],
    };
    const { pages } = readPdf(
      await paperPdf({
        ...routeSheet({ ...ROUTE_SHEET_SAMPLE, route: { ...route, stops: [] } }),
        blocks: [{ kind: 'text', words: ['before'] }, box, box],
      }),
    );
    for (let i = 0; i < count; i++) expect(pages.join(' ').split(`end ${i}.`)).toHaveLength(3);
  },
  LONG,
);

const LINK = `https://maps.example/place?q=${'a1B2-c3/d4_'.repeat(12)}&z=17`;
const STREET = `Rindfleischetikettierungsueberwachungsaufgaben${'uebertragung'.repeat(4)}`;

test.each([
  ['a link', LINK],
  ['a street of ninety letters', STREET],
  ['900 wide letters', 'W'.repeat(900)],
  ['letters of several characters', '👩‍🔧e\u0308x\u0301'.repeat(60)],
])(
  '%s is broken, so that all stays on the page',
  async (_what, word) => {
    const [words, last] = [[word], 'the last words'];
    const items = [{ words }, { words: ['see ', word, ' then'], under: [{ kind: 'text' as const, words }] }];
    const { pages, reach, size } = readPdf(
      await paperPdf({
        title: word,
        from: words,
        heading: words,
        lead: [words],
        blocks: [
          {
            kind: 'box',
            number: '1',
            head: [{ words: word, strong: true }],
            aside: '7:39–9:15',
            blocks: [
              ...(['dots', 'numbers', 'cautions', 'ticks'] as const).map((marks) => ({
                kind: 'list' as const,
                marks,
                items,
              })),
              { kind: 'fields', fields: [{ label: word, blank: 'short' }] },
            ],
          },
          {
            kind: 'table',
            columns: [{ head: 'No.', figures: true }, { head: 'Where' }, { head: 'What' }, { head: 'Who' }],
            rows: [[['12'], words, words, words]],
          },
          { kind: 'between', words },
          { kind: 'heading', words: word },
        ],
        foot: [words, [last]],
        day: '2026-06-16',
        units: 'metric',
      }),
    );
    // 14 mm of margin; a frame is drawn up to two points outside of what it holds.
    for (const x of reach) expect(x).toBeLessThan(size[0] - (14 * 72) / 25.4 + 2);
    const drawn = pages.join('').replaceAll(/\s/g, '');
    expect(drawn).toContain('7:39–9:15');
    expect(drawn).toContain('thelastwords');
    if (word === LINK || word === STREET) expect(drawn.split(word).length).toBeGreaterThan(10);
  },
  LONG,
);
