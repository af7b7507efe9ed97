import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import ts from 'typescript';
import { expect, test } from 'vitest';

/** What time, chance and the world outside are reached by; the core gets all of them as arguments. */
const IMPURE = [
  'Date.now',
  'Math.random',
  'Temporal.Now',
  'performance',
  'process',
  'console',
  'crypto',
  'fetch',
  'setTimeout',
  'setInterval',
  'setImmediate',
  'globalThis',
];

/** Uses of the clock, chance or the world in a source text: names that no declaration in it explains. */
function impurities(source: string): string[] {
  const file = ts.createSourceFile('a.ts', source, ts.ScriptTarget.ES2023, true);
  const found: string[] = [];
  const declared = new Set<string>();
  const visit = (node: ts.Node): void => {
    if (
      (ts.isVariableDeclaration(node) || ts.isParameter(node) || ts.isFunctionDeclaration(node)) &&
      node.name !== undefined &&
      ts.isIdentifier(node.name)
    ) {
      declared.add(node.name.text);
    }
    if (ts.isNewExpression(node) && node.expression.getText(file) === 'Date' && !node.arguments?.length) {
      found.push('new Date()');
    }
    if (ts.isPropertyAccessExpression(node) && IMPURE.includes(node.getText(file))) {
      found.push(node.getText(file));
    }
    if (ts.isIdentifier(node) && IMPURE.includes(node.text) && isUse(node)) found.push(node.text);
    ts.forEachChild(node, visit);
  };
  visit(file);
  return found.filter((name) => !declared.has(name));
}

function isUse(node: ts.Identifier): boolean {
  const { parent } = node;
  if (ts.isPropertyAccessExpression(parent)) return parent.expression === node;
  return (ts.isCallExpression(parent) || ts.isElementAccessExpression(parent)) && parent.expression === node;
}

test('no file of the core reaches for the clock, chance or the world', () => {
  const folder = join(import.meta.dirname, '../../src/domain');
  const files = readdirSync(folder, { recursive: true, encoding: 'utf8' }).filter((path) =>
    path.endsWith('.ts'),
  );
  expect(files.length).toBeGreaterThan(50);
  const impure = files.flatMap((path) =>
    impurities(readFileSync(join(folder, path), 'utf8')).map((name) => `${path}: ${name}`),
  );
  expect(impure).toEqual([]);
});

test.each([
  ['export const now = () => Date.now();', 'Date.now'],
  ['export const now = () => new Date();', 'new Date()'],
  ['export const dice = () => Math.random();', 'Math.random'],
  ['export const today = () => Temporal.Now.instant();', 'Temporal.Now'],
  ['export const home = () => process.env;', 'process'],
  ['export const say = () => console.log(1);', 'console'],
])('%s is found', (source, name) => {
  expect(impurities(source)).toContain(name);
});

test.each([
  'export const day = (iso: string) => new Date(iso);',
  'export const cost = (process: { cost: number }) => process.cost;',
])('%s is pure', (source) => {
  expect(impurities(source)).toEqual([]);
});
