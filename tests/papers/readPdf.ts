import { inflateSync } from 'node:zlib';

/** What a reader of the PDF gets to see, by no code of the printer's: pages, and the words of each in order of drawing. */
export interface ReadPdf {
  pages: string[];
  /** Of each page, how far to the right its lines and the beginnings of its words reach, points; no pictures on it. */
  reach: number[];
  /** Of each page, how many letters stand as a frame: their face has none for them. */
  frames: number[];
  /** Points. */
  size: [number, number];
  /** As `20260616000000Z`. */
  madeAt: string;
}

/** Reads PDF 1.3 with flate streams and embedded faces that map their glyphs to letters (ToUnicode). */
export function readPdf(bytes: Buffer): ReadPdf {
  const source = bytes.toString('latin1');
  if (!source.startsWith('%PDF-')) throw new Error('no PDF');
  const objects = new Map<number, string>();
  for (const [, number, body] of source.matchAll(/(?:^|\n)(\d+) 0 obj\n([\s\S]*?)\nendobj/g))
    objects.set(Number(number), body ?? '');
  const object = (reference: string | undefined): string => objects.get(Number(reference)) ?? '';
  const pages = [...objects.values()].filter((body) => /\/Type \/Page\b(?!s)/.test(body));
  const box = /\/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]/.exec(pages[0] ?? '');
  return {
    pages: pages.map((page) => {
      const resources = object(/\/Resources (\d+) 0 R/.exec(page)?.[1]);
      const fonts = new Map(
        [...(/\/Font <<([\s\S]*?)>>/.exec(resources)?.[1] ?? '').matchAll(/\/(F\d+) (\d+) 0 R/g)].map(
          ([, name, reference]) => [name ?? '', letters(object(reference), object)],
        ),
      );
      return wordsOf(streamOf(object(/\/Contents (\d+) 0 R/.exec(page)?.[1])), fonts);
    }),
    reach: pages.map((page) => reachOf(streamOf(object(/\/Contents (\d+) 0 R/.exec(page)?.[1])))),
    frames: pages.map((page) => framesOf(streamOf(object(/\/Contents (\d+) 0 R/.exec(page)?.[1])))),
    size: [Number(box?.[1]), Number(box?.[2])],
    madeAt: /\(D:(\w+)\)/.exec(source)?.[1] ?? '',
  };
}

function streamOf(body: string): string {
  const stream = /stream\n([\s\S]*)\nendstream/.exec(body)?.[1] ?? '';
  const bytes = Buffer.from(stream, 'latin1');
  return (/\/FlateDecode/.test(body) ? inflateSync(bytes) : bytes).toString('latin1');
}

/** Ends of lines (`x y l`), corners of rectangles (`x y w h re`) and where words begin (`1 0 0 1 x y Tm`). */
const reachOf = (content: string): number =>
  Math.max(
    ...[...content.matchAll(/(?:^|\s)([-\d.]+) [-\d.]+ l\b/g)].map(([, x]) => Number(x)),
    ...[...content.matchAll(/(?:^|\s)([-\d.]+) [-\d.]+ ([-\d.]+) [-\d.]+ re\b/g)].map(
      ([, x, w]) => Number(x) + Number(w),
    ),
    ...[...content.matchAll(/1 0 0 1 ([-\d.]+) [-\d.]+ Tm/g)].map(([, x]) => Number(x)),
  );

/** The first glyph of every face, and of every part of one, is its frame. */
const framesOf = (content: string): number =>
  [...content.matchAll(/\[([^\]]*)\] TJ/g)]
    .flatMap(([, shown = '']) => [...shown.matchAll(/<([0-9a-f]*)>/gi)])
    .flatMap(([, hex = '']) => hex.match(/.{4}/g) ?? [])
    .filter((glyph) => glyph === '0000').length;

/** Letters of each glyph of a face. */
function letters(font: string, object: (reference: string | undefined) => string): Map<number, string> {
  const map = new Map<number, string>();
  const cmap = streamOf(object(/\/ToUnicode (\d+) 0 R/.exec(font)?.[1]));
  for (const [, first = '', list = ''] of cmap.matchAll(/<([0-9a-f]+)> <[0-9a-f]+> \[([^\]]*)\]/gi))
    [...list.matchAll(/<([0-9a-f\s]*)>/gi)].forEach(([, hex = ''], i) => {
      const units = Buffer.from(hex.replace(/\s/g, ''), 'hex');
      map.set(Number.parseInt(first, 16) + i, units.swap16().toString('utf16le'));
    });
  return map;
}

function wordsOf(content: string, fonts: Map<string, Map<number, string>>): string {
  let face = new Map<number, string>();
  const said: string[] = [];
  for (const [, font, shown] of content.matchAll(/\/(F\d+) [\d.]+ Tf|\[([^\]]*)\] TJ/g)) {
    if (font !== undefined) face = fonts.get(font) ?? new Map();
    for (const [, hex = ''] of (shown ?? '').matchAll(/<([0-9a-f]*)>/gi))
      said.push(
        ...(hex.match(/.{4}/g) ?? []).map((glyph) => face.get(Number.parseInt(glyph, 16)) ?? '\uFFFD'),
      );
    if (shown !== undefined) said.push(' ');
  }
  return said.join('').replace(/[ \u00A0\u202F]+/g, ' ');
}
