import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { expect, test } from 'vitest';
import { printedFaces } from '../../src/files/printedFaces.js';
import { charactersOf, unpackedWoff } from '../../src/files/sfnt.js';
import { joinedArabic } from '../../src/papers/arabicForms.js';
import { type Block, type Paper, theirs, type Words } from '../../src/papers/paper.js';
import { paperPdf } from '../../src/papers/paperPdf.js';
import { linesAsSet } from '../../src/papers/printedOrder.js';
import { routeSheet } from '../../src/papers/routeSheet.js';
import { readPdf } from './readPdf.js';
import { ROUTE_SHEET_SAMPLE } from './routeSheetSample.js';

const LONG = 120_000;
const DEJAVU = createRequire(import.meta.url).resolve('dejavu-fonts-ttf/ttf/DejaVuSansCondensed.ttf');
const UNSURE = 'Some words are in a script';
/** Street, number and remark, as a client base may have them. */
const SCRIPTS = {
  Hebrew: 'רחוב הרצל 12 (קומה 3), תל אביב',
  Arabic: 'شارع الملك فهد ١٢، عمارة (٣)',
  Persian: 'خیابان آزادی، پلاک ۲۴',
  Urdu: 'یہ ہے پاکستان روڈ',
  Chinese: '中山路123号（后门）',
  Japanese: '東京都千代田区カタカナひらがな',
  Korean: '서울특별시 강남구 테헤란로',
  Thai: 'ซอยสุขุมวิท ๒๑ กรุงเทพ',
  Ethiopic: 'አዲስ አበባ ቦሌ',
  Georgian: 'რუსთაველის გამზირი',
  Armenian: 'Մաշտոցի պողոտա',
  emoji: 'ring 🔔 dog 🐕 ☀️',
};

const paperOf = (words: Words): Paper => {
  const picture = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 40"><text x="200" y="20" text-anchor="middle" font-size="12">${words.map((run) => (typeof run === 'string' ? run : run.words)).join('')}</text></svg>`;
  const blocks: Block[] = [
    { kind: 'heading', words: 'Letters' },
    { kind: 'text', words },
    { kind: 'table', columns: [{ head: 'No.', narrow: true }, { head: 'Where' }], rows: [[['1'], words]] },
    { kind: 'picture', svg: picture },
  ];
  return { ...routeSheet(ROUTE_SHEET_SAMPLE), blocks };
};

test.each(Object.entries(SCRIPTS))(
  '%s is drawn, in words, tables and pictures, and no line is wider than the page',
  async (script, words) => {
    const { pages, frames, reach, size } = readPdf(
      await paperPdf(
        paperOf([theirs(words), ` ${'and '.repeat(30)}`, theirs(words.repeat(12))]),
        printedFaces,
      ),
    );
    expect(frames).toEqual(frames.map(() => 0));
    expect(pages[0]).not.toContain(UNSURE);
    for (const x of reach) expect(x).toBeLessThan(size[0] - (14 * 72) / 25.4 + 2);
    // What is drawn can be taken out again, every letter of it.
    const out = new Set(pages.join(''));
    const lost = [...new Set(words)].filter((each) => /[\p{L}\p{Nd}]/u.test(each) && !out.has(each));
    // Joined letters of the second face are taken out as the forms they took.
    if (script !== 'Urdu') expect(lost).toEqual([]);
  },
  LONG,
);

test(
  'what neither face has, and scripts whose letters it does not join, are told of at the head',
  async () => {
    const far = readPdf(await paperPdf(paperOf(['\u{20000}']), printedFaces));
    expect(far.frames.reduce((sum, each) => sum + each, 0)).toBeGreaterThan(0);
    expect(far.pages[0]).toContain(UNSURE);
    // Where nobody gave the printer its second face.
    expect(readPdf(await paperPdf(paperOf(['漢字']))).pages[0]).toContain(UNSURE);
    const hindi = readPdf(await paperPdf(paperOf(['हिन्दी']), printedFaces));
    expect(hindi.frames).toEqual(hindi.frames.map(() => 0));
    expect(hindi.pages[0]).toContain(UNSURE);
    expect(readPdf(await paperPdf(paperOf(['Győző Щ']), printedFaces)).pages[0]).not.toContain(UNSURE);
  },
  LONG,
);

test('the characters of a face are read as its tables say', () => {
  const first = charactersOf(readFileSync(DEJAVU));
  const has = (face: ReadonlySet<number>, letters: string) =>
    [...letters].map((letter) => face.has(letter.codePointAt(0) ?? 0));
  expect(has(first, 'aЩλא漢한')).toEqual([true, true, true, true, false, false]);
  expect(printedFaces.firstHas(0x6f22)).toBe(false);
  expect(
    ['漢', '한', 'ก', '🙂', '\u{20000}'].map((each) => printedFaces.second().has(each.codePointAt(0) ?? 0)),
  ).toEqual([true, true, true, true, false]);
  expect(readFileSync(printedFaces.second().file).readUInt32BE(0)).toBe(0x00010000);
  expect(() => unpackedWoff(readFileSync(DEJAVU))).toThrow(RangeError);
});

test('Arabic letters take the form that their neighbours give them', () => {
  const codes = (words: string) => [...joinedArabic(words)].map((each) => each.codePointAt(0)?.toString(16));
  // Charts U+FE70 and U+FB50: meem initial, reh final, hah initial, beh medial, alef final.
  expect(codes('مرحبا')).toEqual(['fee3', 'feae', 'fea3', 'fe92', 'fe8e']);
  // Dal, alef and reh join nobody after them.
  expect(codes('دار')).toEqual(['fea9', 'fe8d', 'fead']);
  // Lam and alef are one letter, alone and after another; vowel marks are passed over.
  expect(codes('لا')).toEqual(['fefb']);
  expect(codes('سلام')).toEqual(['feb3', 'fefc', 'fee1']);
  expect(codes('كُتُب')).toEqual(['fedb', '64f', 'fe98', '64f', 'fe90']);
  // Urdu heh goal initial, yeh barree final.
  expect(codes('ہے')).toEqual(['fba8', 'fbaf']);
});

const set = (words: string, room = 1000): string[][] =>
  linesAsSet([{ text: words, style: null, isolated: true }], room, 9, printedFaces).map((line) =>
    line.map(({ text }) => text),
  );

test('words from right to left stand in their order on each line, numbers and brackets with them', () => {
  // UAX 9: from the left the number, then the second word, then the first; the printer turns letters within a word.
  expect(set('רחוב הרצל 12')).toEqual([['12', ' ', 'הרצל', ' ', 'רחוב']]);
  // Brackets are mirrored; turned around they enclose the word again.
  expect(set('שלום (עולם)')).toEqual([[')עולם(', ' ', 'שלום']]);
  // Arabic digits read from left to right: turned before, since the printer turns them.
  expect(set('فهد ١٢')).toEqual([['٢١', ' ', 'فهد']]);
  // A Latin word within.
  expect(set('מילים כמו pump בתוך')).toEqual([['בתוך', ' ', 'pump', ' ', 'כמו', ' ', 'מילים']]);
  // Around it the paper runs from left to right.
  const around = linesAsSet(
    [
      { text: 'at ', style: 'own', isolated: false },
      { text: 'תל אביב', style: 'theirs', isolated: true },
      { text: ', 3', style: 'own', isolated: false },
    ],
    1000,
    9,
    printedFaces,
  );
  expect(around.map((line) => line.map(({ text }) => text))).toEqual([
    ['at', ' ', 'אביב', ' ', 'תל', ',', ' ', '3'],
  ]);
  // Two words a line: the first line has the words that are read first.
  expect(set('אא בב גג דד', 30)).toEqual([
    ['בב', ' ', 'אא'],
    ['דד', ' ', 'גג'],
  ]);
  // A word wider than the line is cut between letters.
  expect(set('א'.repeat(10), 30).map(([word]) => word?.length)).toEqual([5, 5]);
});
