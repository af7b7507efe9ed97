import { element, join, type Markup, NOTHING, tag, text } from './markup.js';
import {
  type Block,
  type Box,
  type Field,
  fitsAPage,
  groupsOf,
  type Item,
  type Paper,
  type Words,
} from './paper.js';
import { PAPER_STYLE } from './paperStyle.js';

/** A paper as a page of HTML, complete in itself: to read, and to print on A4 or Letter. */
export function paperHtml(paper: Paper): string {
  const groups = groupsOf(paper.blocks);
  const tail = groups.pop() ?? [];
  const page = element(
    'html',
    { lang: 'en' },
    element(
      'head',
      {},
      tag('meta', { charset: 'utf-8' }),
      tag('meta', { name: 'viewport', content: 'width=device-width, initial-scale=1' }),
      element('title', {}, text(paper.title)),
      element('style', {}, PAPER_STYLE as Markup),
    ),
    element(
      'body',
      {},
      element(
        'header',
        {},
        paper.from.length === 0 ? NOTHING : element('p', { class: 'quiet' }, ...runs(paper.from)),
        element('h1', {}, ...runs(paper.heading)),
        ...paper.lead.map(paragraph),
      ),
      ...groups.flatMap((group) => group.map(block)),
      element(
        'div',
        { class: fitsAPage(tail) ? 'kept' : null },
        ...tail.map(block),
        element('footer', {}, ...paper.foot.map(paragraph)),
      ),
    ),
  );
  return `<!DOCTYPE html>\n${page}\n`;
}

function runs(words: Words): Markup[] {
  return words.map((run) => {
    if (typeof run === 'string') return text(run);
    const said = run.theirs ? element('bdi', {}, text(run.words)) : text(run.words);
    if (run.strong) return element('b', {}, said);
    return run.quiet ? element('span', { class: 'quiet' }, said) : said;
  });
}

const paragraph = (words: Words): Markup => element('p', {}, ...runs(words));

function block(each: Block): Markup {
  switch (each.kind) {
    case 'heading':
      return element('h2', {}, text(each.words));
    case 'text':
      return paragraph(each.words);
    case 'list':
      return element(
        each.marks === 'numbers' ? 'ol' : 'ul',
        { class: each.marks },
        ...each.items.map(item(each.marks)),
      );
    case 'table':
      return table(each);
    case 'box':
      return box(each);
    case 'between':
      return element('p', { class: 'between' }, ...runs(each.words));
    case 'fields':
      return element('div', { class: 'fields' }, ...each.fields.map(field));
    case 'picture':
      return element(
        'div',
        { class: each.size === undefined ? 'picture' : `picture ${each.size}` },
        each.svg as Markup,
      );
    case 'photographs':
      return element(
        'div',
        { class: 'photographs' },
        ...each.photographs.map(({ jpeg, caption }) =>
          element(
            'figure',
            {},
            tag('img', { alt: '', src: `data:image/jpeg;base64,${Buffer.from(jpeg).toString('base64')}` }),
            element('figcaption', {}, ...runs(caption)),
          ),
        ),
      );
    default:
      return each satisfies never;
  }
}

const TICK_BOX = element('span', { class: 'tick' });

function item(marks: string) {
  return ({ words, under = [] }: Item): Markup =>
    element('li', {}, marks === 'ticks' ? TICK_BOX : NOTHING, ...runs(words), ...under.map(block));
}

function table({ columns, rows }: Extract<Block, { kind: 'table' }>): Markup {
  const figures = (i: number) => ({
    class: columns[i]?.figures ? 'num' : columns[i]?.narrow ? 'narrow' : null,
  });
  return element(
    'table',
    {},
    element(
      'thead',
      {},
      element(
        'tr',
        {},
        ...columns.map(({ head }, i) => element('th', { scope: 'col', ...figures(i) }, text(head))),
      ),
    ),
    element(
      'tbody',
      {},
      ...rows.map((row) =>
        element('tr', {}, ...row.map((cell, i) => element('td', figures(i), ...runs(cell)))),
      ),
    ),
  );
}

function box(each: Box): Markup {
  return element(
    'article',
    { class: fitsAPage([each]) ? 'box' : 'box long' },
    element(
      'div',
      { class: 'head' },
      element('span', { class: 'number' }, text(each.number)),
      element('h3', {}, ...runs(each.head)),
      element('span', { class: 'aside' }, text(each.aside)),
    ),
    element('div', { class: 'body' }, ...each.blocks.map(block)),
  );
}

function field(each: Field): Markup {
  const filled =
    'blank' in each
      ? element('span', { class: `blank ${each.blank}` })
      : join(each.answers.map((answer) => join([TICK_BOX, text(`${answer} `)])));
  return element('span', {}, text(`${each.label} `), filled);
}
