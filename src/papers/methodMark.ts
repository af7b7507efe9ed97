import {
  type SymbolType,
  symbol,
  symbolCircle,
  symbolCross,
  symbolDiamond,
  symbolSquare,
  symbolStar,
  symbolTriangle,
  symbolWye,
} from 'd3-shape';
import type { Method, Phase } from '../domain/words.js';
import { INK, PAPER } from './look.js';
import { type Markup, px, tag } from './markup.js';

/** One shape per method. */
const SHAPES: Readonly<Record<Method, { shape: SymbolType; turned: number }>> = {
  camera: { shape: symbolCircle, turned: 0 },
  pit_drawdown: { shape: symbolSquare, turned: 0 },
  outlet_look: { shape: symbolTriangle, turned: 0 },
  outlet_depth: { shape: symbolTriangle, turned: 180 },
  poured_flow: { shape: symbolDiamond, turned: 0 },
  timed_fill: { shape: symbolWye, turned: 0 },
  passes_to_clear: { shape: symbolStar, turned: 0 },
  by_word: { shape: symbolCross, turned: 45 },
};

/** Filled before a clean, hollow after one, grey where nobody cleaned. */
const FILLS: Readonly<Record<Phase, string>> = {
  before_cleaning: INK,
  after_cleaning: PAPER,
  no_cleaning: '#a9afb5',
};

const AREA_PX2 = 62;
const pathOf = symbol<Method>((method) => SHAPES[method].shape, AREA_PX2).digits(2);

export function methodMark(method: Method, phase: Phase, x: number, y: number, faint?: 'faint'): Markup {
  const { turned } = SHAPES[method];
  return tag('path', {
    d: pathOf(method) ?? '',
    transform: `translate(${px(x)} ${px(y)})${turned === 0 ? '' : ` rotate(${turned})`}`,
    fill: FILLS[phase],
    stroke: INK,
    'stroke-width': 1.2,
    opacity: faint === undefined ? null : 0.55,
  });
}
