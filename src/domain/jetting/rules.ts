import type { Basis } from '../hydraulics/formulas.js';

/** What a jetting plan, an overflow and minutes on site rest on. */
export const JETTING_RULES = {
  nozzle: {
    formula: 'Q = 29.84 c d^2 sqrt(P), gpm, inches, psi; R = .0526 Q sqrt(P) lbf, pull = R cos(angle)',
    source: 'NFPA 291; R = 2PA of an ideal jet',
  },
  hoseLoss: {
    formula: 'FL = C (Q/100)^2 L/100, psi, gpm, ft',
    source: "published friction loss table of fire hose; for small jetting hose take the maker's chart",
  },
  reach: {
    formula: 'drag = weight x friction; a bend multiplies the tension behind it by e^(friction x angle)',
    source: 'belt over a fixed drum; friction .5 on a wet bore: common practice, no source',
  },
  passes: {
    formula: 'one pass, and another for each further share of the bore, by deposit; out slower than in',
    source:
      'speeds after VND (Dutch drainage contractors), drain jetters; shares: common practice, no source',
  },
  nozzleFit: {
    formula: 'nozzle and rigid end at least 1.5 bores long, at most .8 of the bore wide',
    source: 'common practice, no source',
  },
  sludge: { formula: 'what is removed, loosened by half', source: 'common practice, no source' },
  overflow: {
    formula: 'minutes = free volume / (jet + inflow - taken out)',
    source: 'volume balance; a sump about 2 ft wide holds 15 to 25 gal: NDSU Extension, 2005',
  },
  siteMinutes: {
    formula: "arrive and leave, then each task, times the crew's own factor n t^2 / (n t^2 + s^2)",
    source: 'minutes of a task: common practice, no source; factor: normal shrinkage of the logarithm',
  },
} as const satisfies Record<string, Basis>;
