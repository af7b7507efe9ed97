import { expect } from 'vitest';

/**
 * A small strict reader of the XML our papers write, by no code of theirs: every tag is closed in order, every
 * attribute quoted and named once, every `&` begins an entity, and no number went wrong on the way.
 */
export interface Node {
  name: string;
  attributes: Record<string, string>;
  children: Node[];
  /** Text of the node and all below it, entities resolved. */
  text: string;
}

const ENTITIES: Record<string, string> = { amp: '&', lt: '<', gt: '>', quot: '"', '#39': "'" };

export function readXml(source: string): Node {
  expect(source).not.toMatch(/NaN|undefined|Infinity|\[object/);
  const root: Node = { name: '', attributes: {}, children: [], text: '' };
  const path = [root];
  let rest = source;
  while (rest !== '') {
    const here = path.at(-1);
    if (here === undefined) throw new Error('closed more than was opened');
    const token = /^(?:<\/([\w-]+)>|<([\w-]+)((?:\s+[\w:-]+="[^"<]*")*)\s*(\/?)>|([^<]+))/.exec(rest);
    if (token === null) throw new Error(`not well-formed at: ${rest.slice(0, 80)}`);
    rest = rest.slice(token[0].length);
    const [, closed, opened, written = '', selfClosed, words] = token;
    if (words !== undefined) for (const node of path) node.text += plain(words);
    if (closed !== undefined) {
      if (here.name !== closed) throw new Error(`</${closed}> closes <${here.name}>`);
      path.pop();
    }
    if (opened !== undefined) {
      const node: Node = { name: opened, attributes: attributesOf(written), children: [], text: '' };
      here.children.push(node);
      if (selfClosed === '') path.push(node);
    }
  }
  if (path.length !== 1) throw new Error(`<${path.at(-1)?.name}> is never closed`);
  return root.children[0] ?? root;
}

function attributesOf(written: string): Record<string, string> {
  const found: Record<string, string> = {};
  for (const [, name = '', value = ''] of written.matchAll(/([\w:-]+)="([^"]*)"/g)) {
    if (name in found) throw new Error(`${name} is given twice`);
    found[name] = plain(value);
  }
  return found;
}

function plain(words: string): string {
  return words.replace(/&([^;\s]*);?/g, (all, name: string) => {
    const sign = ENTITIES[name];
    if (sign === undefined || !all.endsWith(';')) throw new Error(`a bare & in: ${words}`);
    return sign;
  });
}

export function all(node: Node, name: string): Node[] {
  return node.children.flatMap((child) => [...(child.name === name ? [child] : []), ...all(child, name)]);
}

/** The words of every <text>, in order. */
export const labels = (node: Node): string[] => all(node, 'text').map(({ text }) => text);

/** A picture any page can take: role and name for who listens, a title, no ids that could clash, all inside its box. */
export function expectPicture(source: string): Node {
  const svg = readXml(source);
  expect(svg.name).toBe('svg');
  expect(svg.attributes['role']).toBe('img');
  expect(svg.attributes['aria-label']).not.toBe('');
  expect(svg.children[0]?.name).toBe('title');
  expect(svg.children[1]?.name).toBe('desc');
  expect(svg.children[1]?.text.length).toBeGreaterThan(12);
  expect(source).not.toMatch(/ id="|<script|<style|url\(|href/);
  const [, , width = 0, height = 0] = (svg.attributes['viewBox'] ?? '').split(' ').map(Number);
  for (const words of all(svg, 'text')) {
    expect(Number(words.attributes['x'])).toBeGreaterThanOrEqual(0);
    expect(Number(words.attributes['x'])).toBeLessThanOrEqual(width);
    expect(Number(words.attributes['y'])).toBeGreaterThanOrEqual(0);
    expect(Number(words.attributes['y'])).toBeLessThanOrEqual(height);
  }
  return svg;
}

/** Names people really have, and names only an attacker has. */
export const HARD_NAMES = [
  'Sankt-Margarethen-Straße 14b, Hinterhaus, «Ölmühle», zweiter Hof links, Tor mit der grünen Klinke',
  '<script>alert("1")</script> & \'quoted\' ]]>',
  'שלום 12 مرحبا',
  '沼地の家 한국어',
  'a\u0301e\u0308 👩‍🔧 \u0000\u0007\uD800',
];
