// Imports a module of src without a build (a changed schema may not build yet): its types are stripped file
// by file into a folder of node_modules (where it finds its packages) that goes away with this process.
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import ts from 'typescript';

const root = resolve(dirname(fileURLToPath(import.meta.url)), '..');
mkdirSync(join(root, 'node_modules/.cache'), { recursive: true });
const cache = mkdtempSync(join(root, 'node_modules/.cache/openbore-'));
process.once('exit', () => rmSync(cache, { recursive: true, force: true }));
const done = new Set();

export async function importSource(path) {
  return import(pathToFileURL(strip(join(root, 'src', path))).href);
}

function strip(file) {
  const out = join(cache, file.slice(root.length)).replace(/\.ts$/, '.js');
  if (done.has(file)) return out;
  done.add(file);
  const source = readFileSync(file, 'utf8');
  const { outputText } = ts.transpileModule(source, {
    fileName: file,
    compilerOptions: { target: 'ES2023', module: 'ESNext', verbatimModuleSyntax: true },
  });
  mkdirSync(dirname(out), { recursive: true });
  writeFileSync(out, outputText);
  for (const { fileName } of ts.preProcessFile(outputText).importedFiles) {
    if (fileName.startsWith('.')) strip(join(dirname(file), fileName.replace(/\.js$/, '.ts')));
  }
  return out;
}
