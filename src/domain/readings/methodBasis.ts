import { type Basis, FORMULAS } from '../hydraulics/formulas.js';
import type { Reading } from './reading.js';

const COMMON = 'common practice, no source; measured where a camera looked too';

/** What the occlusion of a reading rests on. */
export function methodBasis(reading: Reading): Basis[] {
  if (reading.plugged !== undefined)
    return [{ formula: 'plugged: .97 of the bore, at least', source: COMMON }];
  if (reading.share !== undefined)
    return [{ formula: 'the share as given, with the error of its method', source: COMMON }];
  switch (reading.method) {
    case 'outlet_depth':
      return [FORMULAS.segment, { formula: 'depth read within 1/4 in, one point', source: COMMON }];
    case 'timed_fill':
    case 'poured_flow':
      return [
        FORMULAS.manning,
        FORMULAS.segment,
        {
          formula: 'fill of 3 s or longer; flow = volume / seconds',
          source: 'Connected Water (Australia), volumetric method',
        },
      ];
    case 'pit_drawdown':
      return [
        FORMULAS.hazenWilliams,
        FORMULAS.pumpCurve,
        {
          formula: 'pump out = fall + rise, against the same pump after its last clean',
          source: 'Friend, Univ. of Illinois Extension, 2013 (pit test)',
        },
      ];
    case 'passes_to_clear':
    case 'by_word':
      return [{ formula: 'words, passes and what came back stand for a share of the bore', source: COMMON }];
    case 'camera':
    case 'outlet_look':
      return [{ formula: 'the share as given, with the error of its method', source: COMMON }];
    default:
      return reading.method satisfies never;
  }
}
