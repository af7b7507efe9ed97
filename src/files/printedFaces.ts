import { createHash, randomUUID } from 'node:crypto';
import { existsSync, readFileSync, renameSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { charactersOf, unpackedWoff } from './sfnt.js';

const { resolve } = createRequire(import.meta.url);
const FIRST = ['', '-Bold'].map((face) => resolve(`dejavu-fonts-ttf/ttf/DejaVuSansCondensed${face}.ttf`));

interface SecondFace {
  file: string;
  has: (character: number) => boolean;
}

let first: ((character: number) => boolean) | undefined;
let second: SecondFace | undefined;

/** Characters that the first face draws, bold too; read once. */
function firstHas(character: number): boolean {
  if (!first) {
    const [normal, bold] = FIRST.map((file) => charactersOf(readFileSync(file)));
    first = (each) => normal?.has(each) === true && bold?.has(each) === true;
  }
  return first(character);
}

/** Drawn on a coarse grid, with nearly every character of Unicode's first plane; unpacked (14 MB) for the first paper that has such letters. */
function secondFace(): SecondFace {
  if (!second) {
    const packed = resolve('@fontsource/unifontex/files/unifontex-latin-400-normal.woff');
    const face = unpackedWoff(readFileSync(packed));
    const characters = charactersOf(face);
    second = { file: keptFile(face), has: (each) => characters.has(each) };
  }
  return second;
}

/** The printer takes faces of pictures as files only: one for all processes, looked at before it is used. */
function keptFile(face: Buffer): string {
  const sum = (bytes: Buffer) => createHash('sha256').update(bytes).digest('hex');
  const name = join(tmpdir(), `openbore-face-${sum(face).slice(0, 32)}.ttf`);
  if (existsSync(name) && sum(readFileSync(name)) === sum(face)) return name;
  const aside = `${name}.${randomUUID()}`;
  writeFileSync(aside, face, { flag: 'wx' });
  renameSync(aside, name);
  return name;
}

/** What the printer must know of its faces: characters that the first one draws, and the second one. */
export const printedFaces = { firstHas, second: secondFace };
