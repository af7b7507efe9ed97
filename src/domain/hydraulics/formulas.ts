/** What a calculation rests on, in words that go into its answer. */
export interface Basis {
  formula: string;
  source: string;
}

/** Each formula once; a source named here is the one its values are tested against. */
export const FORMULAS = {
  segment: {
    formula: 'blocked share = (theta - sin theta) / 2 pi, theta = 2 acos(1 - 2 d/D)',
    source: 'geometry of a circular segment',
  },
  evenCoat: {
    formula:
      'blocked share = 1 - (1 - 2t/D)^2, capacity left (1 - 2t/D)^(8/3) by gravity, ^2.63 under pressure',
    source: 'geometry of a ring; Manning and Hazen-Williams',
  },
  manning: {
    formula: 'v = (D/4)^(2/3) sqrt(S) / n, SI',
    source:
      "Manning's formula; tested against the pipe sizing table of Hingham MA and the sewer slopes of Purcell OK",
  },
  partFull: {
    formula: 'Q/Qf = (A/Af) (R/Rf)^(2/3), n the same at every depth, the lower of two depths',
    source: 'tested against the section tables of the US EPA storm water engine 5.2',
  },
  hazenWilliams: {
    formula: 'h (ft per 100 ft) = .2083 (100/C)^1.852 Q^1.852 / d^4.8655, gpm and inches',
    source: 'Hazen-Williams; tested against Ill. Adm. Code 77-906, app. A, exhibit I',
  },
  darcyWeisbach: {
    formula: 'h = f (L/D) v^2/2g, 1/sqrt(f) = -2 log10(k/3.7D + 2.51/(Re sqrt f))',
    source: 'Darcy-Weisbach; Colebrook (1939), J. Inst. Civil Engineers 11, 133-156',
  },
  fittings: { formula: 'h = K v^2/2g', source: 'LMNO Engineering, minor loss coefficients' },
  pumpCurve: {
    formula: 'one point: duty point; three with one at no flow: head = H0 - a Q^c; else straight lines',
    source: 'Rossman, EPANET 2 Users Manual, US EPA, 2000, section 3.1',
  },
  pitCycle: {
    formula: 't = V/Qin + V/(Qp - Qin)',
    source: 'MIL-HDBK-1005/9A, 2.5.3.6; EI 11C201 (UFC 3-240-04A), chapter 7',
  },
  scouring: {
    formula: '.5 ft/s without silt, 1.4 ft/s with fine sand or silt, 2 ft/s in pressure lines',
    source: 'Panuska, Univ. of Wisconsin, after ASAE EP480; minimum of sewer codes',
  },
} as const satisfies Record<string, Basis>;
