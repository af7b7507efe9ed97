import { TASK_KINDS, type TaskKind } from '../words.js';
import { stoppedWhere } from './lineStops.js';
import { USUAL_HAND_DIG_MM } from './locateTicket.js';

/** A caution a crew taps once a stop. US sources; local codes govern, licensed practice where required. */
export interface Caution {
  code: string;
  /** A word or two, for where the text stands elsewhere. */
  name: string;
  text: string;
  source: string;
}

const COMMON = 'common practice, no source';

const silentText = (names: readonly string[]): string =>
  `Emergency ticket, not marked: ${names.join(', ')}. Their lines may lie anywhere in the hole: hand tools or vacuum only, no machine and no bar, until each has marked or says clear. Phone each before the first spade. No marks is not no lines.`;

/** @param mm Each side of a mark, as the rule of the ticket says; null: not known. */
const handDigText = (mm: number | null): string =>
  `Within ${handDigDistance(mm)} of a mark, each side: no machine, expose the line by hand until it is seen.` +
  (mm === null ? ' Where local law says more, that distance.' : '');

/**
 * How far each side of a mark is dug by hand, in words.
 * A part of an inch or of a centimetre is rounded up: never nearer than the law.
 */
export function handDigDistance(mm: number | null): string {
  const each = mm ?? USUAL_HAND_DIG_MM;
  return `${Math.ceil(each / 25.4 - 1e-6)} in (${(Math.ceil(each / 10 - 1e-6) / 100).toFixed(2)} m)`;
}

/** Every caution once. Sources are US; where a state's or town's code says more, it governs. */
const ALL = {
  local_codes: {
    name: 'local codes',
    text: 'Follow local codes; licensed practice where required. Stop when something is not as it was told.',
    source: COMMON,
  },
  trench: {
    name: 'trench wall',
    text: 'Protective system in every trench unless stable rock, or under 5 ft and a competent person sees no sign of cave-in; slope 1.5 to 1 where nothing else is decided.',
    source: '29 CFR 1926.652(a)(1), (b)(1)',
  },
  trench_exit: {
    name: 'way out of the trench',
    text: 'From 4 ft a ladder or ramp within 25 ft, 3 ft above the lip; spoil 2 ft back from the edge; air tested where it may be bad.',
    source: '29 CFR 1926.651(c)(2), (j)(2), (g)(1)',
  },
  trench_check: {
    name: 'trench check',
    text: 'A competent person inspects the trench before the shift, through it, and after rain. Nobody in a trench that gathers water.',
    source: '29 CFR 1926.651(k)(1), (h)(1)',
  },
  utilities: {
    name: 'utilities',
    text: 'No digging before every utility has answered and its marks were seen. No marks is not no lines.',
    source: '29 CFR 1926.651(b)(1)-(4); state one-call law',
  },
  silent_utilities: {
    name: 'emergency ticket',
    text: silentText([]),
    source: '29 CFR 1926.651(b)(2)-(3); state one-call law; vacuum excavation: common practice, no source',
  },
  private_lines: {
    name: 'private lines',
    text: 'Private lines (this discharge, yard drains, lighting, pet fence, propane) are usually not marked: find and hand-expose them.',
    source: 'one-call guidance, state centres; sump and yard drains: common practice, no source',
  },
  hand_dig: {
    name: 'by hand near marks',
    text: handDigText(null),
    source: '29 CFR 1926.651(b)(3)-(4); the distance: state one-call law',
  },
  confined_space: {
    name: 'confined space',
    text: 'A pit, manhole or vault one could enter may be a permit-required confined space: hands and tools only unless a permit entry is on record.',
    source: '29 CFR 1910.146(b); 29 CFR 1926 subpart AA',
  },
  jet_injury: {
    name: 'jet injury',
    text: 'A water jet pierces skin. Nozzle in the pipe before pressure, dump valve at hand, hose marked so that it cannot come out live. An injury that looks small goes to hospital at once with the card "high-pressure water injection".',
    source: 'Rodriguez-Villar et al., Eur. J. Trauma Emerg. Surg. 45:507-515, 2019',
  },
  nozzle_turns_back: {
    name: 'nozzle turns back',
    text: 'Nozzle and rigid end clearly longer than the bore, or it turns back on the crew.',
    source: COMMON,
  },
  open_end: {
    name: 'open end',
    text: 'No live jet with anyone at an open end or in the trench.',
    source: COMMON,
  },
  nozzle_moves: {
    name: 'parked nozzle',
    text: 'Never park the nozzle: a standing jet goes through thin pipe in seconds and washes soil in through slots.',
    source: 'force main rehabilitation technology report; jetting tests of plastic pipe at 280 bar',
  },
  cross_bore: {
    name: 'cross-bored gas',
    text: 'An unexpected hard stop or a smell of gas: a cross-bored gas line is possible. No cutter; camera first; leave and call.',
    source: COMMON,
  },
  hard_stop: {
    name: 'hard stop',
    text: 'Something stopped hard and no camera looked in since: a gas line is possible. No cutter, jet or bucket there; camera first.',
    source: COMMON,
  },
  pit_overflow: {
    name: 'pit overflows',
    text: 'Jetting toward the house fills the pit in minutes with its pump locked out: somebody inside, and a second pump or vacuum where the minutes do not reach.',
    source: 'NDSU Extension, 2005 (a sump holds 15 to 25 gal); the rest: common practice, no source',
  },
  pump_power: {
    name: 'pump power',
    text: 'Unplug or lock out the pump before reaching in.',
    source: COMMON,
  },
  electricity: {
    name: 'electricity',
    text: 'Never stand in water at the outlet. A tripping GFCI is a fault, not a nuisance.',
    source: 'NEC 210.8(A), local edition governs; the rest: common practice, no source',
  },
  flooded_basement: {
    name: 'flooded basement',
    text: 'Flooded basement: nobody enters until power is off by someone qualified.',
    source: COMMON,
  },
  exhaust: {
    name: 'exhaust',
    text: 'Engine exhaust away from windows and openings, never in a basement or garage.',
    source: COMMON,
  },
  sludge: {
    name: 'sludge',
    text: 'Catch what comes out. Never into a storm drain, creek or sanitary sewer without leave in writing.',
    source: 'Clean Water Act 301, 402; 40 CFR 122.26(b)(2), 122.34(b)(3)',
  },
  sewage: {
    name: 'sewage',
    text: 'Tied to a sanitary sewer: what comes back is sewage. Gloves, eyes, no food, wash.',
    source: COMMON,
  },
  unknown_substance: {
    name: 'unknown substance',
    text: 'Treated by others, an unknown smell, foam: stop and ask. Nothing is poured in.',
    source: 'FIFRA section 12(a)(2)(G): a label is law',
  },
  turning_cable: {
    name: 'turning cable',
    text: 'A turning cable stays in the pipe; leather gloves, no loose ends, foot switch at hand.',
    source: COMMON,
  },
  footing: {
    name: 'footing',
    text: 'Never dig below the footing of a house, or within its slope of support, before a registered engineer or a protection system says how: an undermined footing drops the wall on whoever is below.',
    source: '29 CFR 1926.651(i)',
  },
  settled_fill: {
    name: 'settled fill',
    text: 'The fill still settles: no wheels on it before it was checked. It is filled up from the top; whoever digs calls a new ticket and waits for its marks.',
    source: COMMON,
  },
} as const satisfies Record<string, Omit<Caution, 'code'>>;

export type CautionCode = keyof typeof ALL;

const DIG: readonly CautionCode[] = [
  'trench',
  'trench_exit',
  'trench_check',
  'footing',
  'utilities',
  'hand_dig',
  'private_lines',
  'open_end',
  'cross_bore',
];

/** Cautions of each kind of task. */
const BY_TASK: Record<TaskKind, readonly CautionCode[]> = {
  survey: ['pump_power', 'electricity', 'unknown_substance'],
  inspect: ['pump_power', 'electricity', 'unknown_substance'],
  test_pump: ['pump_power', 'electricity', 'confined_space'],
  hose_flush: ['pump_power', 'electricity', 'pit_overflow', 'sludge', 'unknown_substance'],
  jet: [
    'jet_injury',
    'nozzle_turns_back',
    'open_end',
    'nozzle_moves',
    'cross_bore',
    'pit_overflow',
    'pump_power',
    'electricity',
    'exhaust',
    'sludge',
    'unknown_substance',
  ],
  clear_pit: ['pump_power', 'electricity', 'confined_space', 'sludge', 'unknown_substance'],
  clear_outlet: ['utilities', 'hand_dig', 'private_lines', 'pump_power', 'electricity', 'sludge'],
  replace_outlet: [
    'utilities',
    'hand_dig',
    'private_lines',
    'footing',
    'pump_power',
    'electricity',
    'sludge',
  ],
  cable: ['turning_cable', 'cross_bore', 'pump_power', 'electricity', 'sludge'],
  trace: ['cross_bore', 'pump_power', 'electricity'],
  temporary_pump: ['pump_power', 'electricity', 'sludge'],
  dig_and_replace: [...DIG, 'pump_power', 'electricity', 'sludge'],
  add_cleanout: [...DIG, 'pump_power', 'electricity'],
  restore: ['settled_fill', 'utilities', 'hand_dig', 'private_lines'],
  fit_alarm: ['pump_power', 'electricity', 'confined_space'],
  fit_pump: ['pump_power', 'electricity', 'confined_space'],
};

/** Of a pump or its pit. A house known to have neither needs none, unless the task itself brings or handles one. */
const OF_PUMPS: ReadonlySet<CautionCode> = new Set(['pump_power', 'pit_overflow']);
const PUMP_TASKS: readonly TaskKind[] = ['test_pump', 'clear_pit', 'temporary_pump', 'fit_alarm', 'fit_pump'];

/** What is known of a place that adds cautions, or leaves some out. */
export interface CautionFacts {
  floodedBasement?: boolean;
  /** No pit and no pumped line on record, and known to have no basement. */
  noPump?: boolean;
  /** A pit deep enough to get into. */
  enterablePit?: boolean;
  /** A floor drain or outlet tied to a sanitary sewer. */
  sanitaryTie?: boolean;
  /** Of an order with a locate ticket: how far each side of a mark is dug by hand; null: its rule does not say. */
  handDigMm?: number | null;
  /** What stopped hard in lines of the visit, and no camera looked at since. */
  hardStops?: readonly { line: string; metAt: string; stoppedM: number | null }[];
  /** Of an order with an emergency ticket: utilities that have not answered it. */
  silentUtilities?: readonly string[];
}

/** Whether the reasons of an order say that water stands in the basement. */
export const tellsOfFlood = (becauseOf: readonly { code: string }[]): boolean =>
  becauseOf.some(({ code }) => code === 'water_rising' || code === 'flooded');

const isSilent = ({ silentUtilities = [] }: CautionFacts): boolean => silentUtilities.length > 0;

/** What the place itself adds, whatever is done there. */
export function placeCautionCodes(facts: CautionFacts): CautionCode[] {
  return [
    ...((facts.hardStops ?? []).length > 0 ? (['hard_stop'] as const) : []),
    ...(isSilent(facts) ? (['silent_utilities'] as const) : []),
    ...(facts.floodedBasement ? (['flooded_basement'] as const) : []),
    ...(facts.enterablePit ? (['confined_space'] as const) : []),
    ...(facts.sanitaryTie ? (['sewage'] as const) : []),
    ...(facts.handDigMm ? (['hand_dig'] as const) : []),
  ];
}

const FIRST_OF_ALL: readonly CautionCode[] = ['hard_stop', 'flooded_basement', 'silent_utilities'];

const hardStopText = ({ hardStops = [] }: CautionFacts): string => {
  const seen = hardStops.map(
    ({ line, metAt, stoppedM }) =>
      `${line}: stopped hard${stoppedWhere(stoppedM)}, met ${new Date(metAt).toISOString().slice(0, 10)}, no camera since.`,
  );
  return `${seen.join(' ')} A gas line is possible. No cutter, jet or bucket there; camera first.`;
};

/** Cautions of a stop, each once: a hard stop, a flooded basement and utilities that are silent first, the general one last. */
export function cautionsOf(tasks: readonly TaskKind[], facts: CautionFacts): Caution[] {
  const codes = new Set<CautionCode>();
  for (const code of placeCautionCodes(facts)) if (FIRST_OF_ALL.includes(code)) codes.add(code);
  for (const task of TASK_KINDS) if (tasks.includes(task)) for (const code of BY_TASK[task]) codes.add(code);
  if (facts.noPump && !tasks.some((task) => PUMP_TASKS.includes(task)))
    for (const code of OF_PUMPS) codes.delete(code);
  for (const code of placeCautionCodes(facts)) codes.add(code);
  // Nobody reads that every utility has answered where some have not.
  if (isSilent(facts)) codes.delete('utilities');
  codes.add('local_codes');
  return [...codes].map((code) => ({
    code,
    ...ALL[code],
    ...(code === 'silent_utilities' ? { text: silentText(facts.silentUtilities ?? []) } : {}),
    ...(code === 'hand_dig' ? { text: handDigText(facts.handDigMm ?? null) } : {}),
    ...(code === 'hard_stop' ? { text: hardStopText(facts) } : {}),
  }));
}
