import { OCCLUSION_WORDS, type OcclusionWord } from '../readings/reading.js';
import {
  CAME_BACK,
  type CameBack,
  FLOW_PROVEN,
  type FlowProven,
  OUTLET_STATES,
  PLUG_CAUSES,
  type TaskKind,
} from '../words.js';

/** What a crew answers with one tap where nobody measures (trade practice, no source). */
export interface OneTap {
  /** Stable name of the question. */
  code: string;
  text: string;
  /** Field that takes the answer, as it is named in the record: `inspection.reading.word`. */
  field: string;
  /** Null: a number or a length. */
  choices: { value: string; text: string }[] | null;
}

const WORD_TEXT: Record<OcclusionWord, string> = {
  clear: 'clear: a film at most',
  light: 'light: about a fifth gone',
  half: 'half gone',
  heavy: 'heavy: more than half gone',
  nearly_full: 'nearly full: water just finds its way',
};
const CAME_BACK_TEXT: Record<CameBack, string> = {
  clear: 'clear water',
  tinted: 'tinted water',
  slugs: 'slugs of gel',
  thick: 'thick all the way',
};
const FLOW_TEXT: Record<FlowProven, string> = {
  yes: 'yes, it carries',
  no: 'no',
  not_possible: 'could not be tried',
};

const plain = (value: string) => ({ value, text: value.replaceAll('_', ' ') });
const worded = <W extends string>(words: readonly W[], texts: Record<W, string>) =>
  words.map((value) => ({ value, text: texts[value] }));

const occlusion = (phase: 'before_cleaning' | 'after_cleaning' | 'no_cleaning'): OneTap => ({
  code: `occlusion_${phase}`,
  text: phase === 'after_cleaning' ? 'How full is it now?' : 'How full is it?',
  field: 'inspection.reading.word',
  choices: worded(OCCLUSION_WORDS, WORD_TEXT),
});
const plugged: OneTap = {
  code: 'plugged',
  text: 'Nothing gets through: what by?',
  field: 'inspection.plugged.cause',
  choices: PLUG_CAUSES.map(plain),
};
const outlet: OneTap = {
  code: 'outlet_state',
  text: 'How is the outlet?',
  field: 'inspection.outletState',
  choices: OUTLET_STATES.map(plain),
};
const cameBack: OneTap = {
  code: 'came_back',
  text: 'What came back?',
  field: 'clean.cameBack',
  choices: worded(CAME_BACK, CAME_BACK_TEXT),
};
const passes: OneTap = {
  code: 'passes_to_clear',
  text: 'How many passes until it ran clear?',
  field: 'clean.passes',
  choices: null,
};
const stoppedAt: OneTap = {
  code: 'nozzle_stopped',
  text: 'Where did it go no further? Leave it out when it went through.',
  field: 'clean.nozzleStopped',
  choices: null,
};
const flow: OneTap = {
  code: 'flow_proven',
  text: 'Was flow proven?',
  field: 'clean.flowProven',
  choices: worded(FLOW_PROVEN, FLOW_TEXT),
};
const hardStop: OneTap = {
  code: 'hard_stop',
  text: 'Did it stop hard where nothing should be? Stop: no cutter, camera first.',
  field: 'danger.danger',
  choices: [{ value: 'hard_stop', text: 'yes: stopped, nothing forced' }],
};
const gas: OneTap = {
  code: 'gas',
  text: 'Gas? Get out, switch nothing, call from outside.',
  field: 'danger.danger',
  choices: [
    { value: 'gas_smell', text: 'smell of gas' },
    { value: 'gas_meter', text: 'the meter alarms' },
  ],
};
const trenchDepth: OneTap = {
  code: 'trench_depth',
  text: 'How deep is the trench now?',
  field: 'trenchDepth.depth',
  choices: null,
};
const pitAnswer = (code: string, text: string, field: string): OneTap => ({
  code,
  text,
  field: `inspection.pitTest.${field}`,
  choices: [
    { value: 'true', text: 'yes' },
    { value: 'false', text: 'no' },
  ],
});

const LOOK: readonly OneTap[] = [occlusion('no_cleaning'), plugged, outlet];
const CLEAN: readonly OneTap[] = [
  occlusion('before_cleaning'),
  plugged,
  cameBack,
  passes,
  stoppedAt,
  flow,
  occlusion('after_cleaning'),
];
/** What may have hit something goes first among the answers that stop the work. */
const DANGERS: readonly OneTap[] = [gas, hardStop];
const PIT: readonly OneTap[] = [
  pitAnswer('float_cycled', 'Did the float cycle?', 'floatCycled'),
  pitAnswer('check_valve_holds', 'Does the check valve hold?', 'checkValveHolds'),
  pitAnswer('backup_works', 'Does the backup start?', 'backupWorks'),
  pitAnswer('alarm_works', 'Does the alarm sound?', 'alarmWorks'),
];

const OF_TASK: Record<TaskKind, readonly OneTap[]> = {
  survey: LOOK,
  inspect: LOOK,
  test_pump: PIT,
  hose_flush: [...CLEAN, ...DANGERS],
  jet: [...CLEAN, ...DANGERS],
  clear_pit: [],
  clear_outlet: [plugged, outlet, flow],
  replace_outlet: [outlet, flow, gas],
  cable: [plugged, stoppedAt, flow, occlusion('after_cleaning'), ...DANGERS],
  trace: DANGERS,
  temporary_pump: [],
  dig_and_replace: [flow, trenchDepth, gas],
  add_cleanout: [trenchDepth, gas],
  restore: [],
  fit_alarm: PIT,
  fit_pump: PIT,
};

/** The questions of a task, in the order in which a crew can answer them; each may be left out. */
export const oneTaps = (task: TaskKind): readonly OneTap[] => OF_TASK[task];
