// The licence of every package in package-lock.json, and whether it may come in: `npm run licences`.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';

/** Ask nothing of who uses or passes on the service but to keep their notice. */
const FREE = [
  '0BSD',
  'Apache-2.0',
  'BSD-2-Clause',
  'BSD-3-Clause',
  'BlueOak-1.0.0',
  'CC0-1.0',
  'ISC',
  'MIT',
  'MIT-0',
  'Python-2.0',
  'Unlicense',
  'Zlib',
];
/** Of tools that are never passed on with the service. */
const OF_TOOLS = [...FREE, 'EPL-2.0', 'MPL-2.0'];

/** Looked at one by one: what the lock file says is not enough, or more than a notice is asked. */
const LOOKED_AT = {
  '@fontsource/unifontex': 'OFL-1.1: a face, free to embed and pass on under its name',
  'dejavu-fonts-ttf': 'Bitstream Vera licence: free to use and embed, the name is kept',
  'png-js': 'MIT by its LICENSE file',
  'seq-queue': 'MIT by its LICENSE file',
};
/** libvips as a shared library that sharp loads: exchangeable, its sources named in its own notice. */
const LOADED = /^@img\/sharp-/;

/** Every package once a version. */
export function packagesOf(lock) {
  return Object.entries(lock.packages)
    .filter(([path]) => path.startsWith('node_modules/'))
    .map(([path, { version, license, dev, devOptional }]) => ({
      name: path.slice(path.lastIndexOf('node_modules/') + 'node_modules/'.length),
      version,
      licence: license ?? 'none given',
      isTool: dev === true || devOptional === true,
    }));
}

/** Why a package may not come in; null: it may. */
export function objection({ name, licence, isTool }) {
  if (Object.hasOwn(LOOKED_AT, name)) return null;
  if (LOADED.test(name) && /^(LGPL-3\.0-or-later|Apache-2\.0)/.test(licence)) return null;
  const may = isTool ? OF_TOOLS : FREE;
  const alternatives = licence.replaceAll(/[()]/g, '').split(/ or /i);
  const isFree = alternatives.some((each) => each.split(/ and /i).every((part) => may.includes(part)));
  return isFree ? null : `${licence} is not on the list of ${isTool ? 'tools' : 'what is passed on'}`;
}

const ROOT = join(import.meta.dirname, '../..');
export const readLock = () => JSON.parse(readFileSync(join(ROOT, 'package-lock.json'), 'utf8'));

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const all = packagesOf(readLock()).sort((a, b) => (a.name < b.name ? -1 : 1));
  for (const each of all)
    console.log(
      `${each.name.padEnd(46)} ${each.version.padEnd(16)} ${each.licence.padEnd(28)} ${each.isTool ? 'tool' : ''} ${LOOKED_AT[each.name] ?? ''}`.trimEnd(),
    );
  const faults = all.flatMap((each) => (objection(each) ? [`${each.name}: ${objection(each)}`] : []));
  console.log(`${all.length} packages, ${faults.length} that may not come in`);
  for (const fault of faults) console.error(fault);
  process.exitCode = faults.length > 0 ? 1 : 0;
}
