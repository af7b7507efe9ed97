import { expect, test } from 'vitest';
import { element, px, tag, text } from '../../src/papers/markup.js';
import { HARD_NAMES, readXml } from './readSvg.js';

test('the five signs of markup are written as entities', () => {
  expect(text(`<a & "b" 'c'>`)).toBe('&lt;a &amp; &quot;b&quot; &#39;c&#39;&gt;');
});

test('what XML 1.0 forbids becomes the replacement sign, other letters stay', () => {
  expect(text('a\u0000b\u001Fc\uD800d\uDC00e\uFFFEf')).toBe('a\uFFFDb\uFFFDc\uFFFDd\uFFFDe\uFFFDf');
  expect(text('tab\tline\n👩‍🔧 é 家')).toBe('tab\tline\n👩‍🔧 é 家');
});

test.each(HARD_NAMES)('%j comes back as it went in, as text and as attribute', (name) => {
  const node = readXml(tag('g', { 'data-name': name }, text(name)));
  // biome-ignore lint/suspicious/noControlCharactersInRegex: what may not stand in XML
  const legal = name.replace(/[\u0000\u0007]|\uD800$/g, '\uFFFD');
  expect(node.text).toBe(legal);
  expect(node.attributes['data-name']).toBe(legal);
});

test('a number that is none is refused before it is drawn', () => {
  expect(() => tag('line', { x1: Number.NaN })).toThrow(RangeError);
  expect(() => px(Infinity)).toThrow(RangeError);
});

test('lengths are cut to a hundredth, without exponent and without minus zero', () => {
  expect([px(1 / 3), px(-0.001), px(1e-7), px(12)]).toEqual(['0.33', '0', '0', '12']);
});

test('an attribute that is null is left out; an HTML element never closes itself', () => {
  expect(tag('rect', { fill: null, width: 2 })).toBe('<rect width="2"/>');
  expect(element('td', {})).toBe('<td></td>');
});
