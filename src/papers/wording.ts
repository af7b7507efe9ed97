import type { DueRule } from '../domain/fouling/dueDateReason.js';
import type { Foreseen } from '../domain/fouling/foreseenPlug.js';
import type {
  AttemptResult,
  LineKind,
  Material,
  Method,
  NotDoneReason,
  Outlet,
  Phase,
  PlugCause,
  ProposalKind,
  TaskKind,
  WaterReceiver,
} from '../domain/words.js';
import type { CareVerdict } from '../domain/work/careTermsVerdict.js';

/** The words of the lists as people read them on paper. */
export const METHOD_TEXT: Readonly<Record<Method, string>> = {
  camera: 'camera',
  outlet_look: 'look at the outlet',
  outlet_depth: 'depth at the outlet',
  timed_fill: 'timed fill',
  poured_flow: 'poured flow',
  pit_drawdown: 'pit draw-down',
  passes_to_clear: 'passes to clear',
  by_word: 'by word',
};

export const PHASE_TEXT: Readonly<Record<Phase, string>> = {
  before_cleaning: 'before a clean',
  after_cleaning: 'after a clean',
  no_cleaning: 'no clean',
};

export const LINE_KIND_TEXT: Readonly<Record<LineKind, string>> = {
  sump_discharge: 'sump discharge',
  footing_drain: 'footing drain',
  floor_drain: 'floor drain',
  yard_drain: 'yard drain',
};

export const MATERIAL_TEXT: Readonly<Record<Material, string>> = {
  pvc: 'PVC',
  corrugated_hdpe: 'corrugated HDPE',
  clay: 'clay',
  concrete: 'concrete',
  cast_iron: 'cast iron',
  other: 'other material',
  unknown: 'material unknown',
};

export const PLUG_CAUSE_TEXT: Readonly<Record<PlugCause, string>> = {
  deposit: 'deposit',
  ice: 'ice',
  roots: 'roots',
  crushed: 'crushed',
  debris: 'debris',
  buried_outlet: 'outlet buried',
  animal: 'animal',
  unknown: 'cause unknown',
};

/** What set the due date, short enough to stand beside its mark. */
export const DUE_RULE_TEXT: Readonly<Record<DueRule, string>> = {
  refused: 'client refused',
  postponed: 'client postponed',
  over_limit: 'over its limit',
  after_plug: 'reopened after a plug',
  recheck: 'recheck',
  limit_passed: 'past its limit before',
  risk: 'yearly risk',
  cost_least: 'least cost',
  hardening: 'before it hardens',
  care_terms: 'care terms',
  first_interval: 'first interval',
  growth: 'interval grows slowly',
  max_interval: 'longest interval',
  closed_season: 'before a closed season',
};

export const TASK_TEXT: Readonly<Record<TaskKind, string>> = {
  survey: 'survey',
  inspect: 'inspect',
  test_pump: 'test the pump',
  hose_flush: 'flush with the hose',
  jet: 'jet',
  clear_pit: 'clear the pit',
  clear_outlet: 'clear the outlet',
  replace_outlet: 'replace the outlet',
  cable: 'cable',
  trace: 'trace',
  temporary_pump: 'temporary pump',
  dig_and_replace: 'dig and replace',
  add_cleanout: 'add a cleanout',
  restore: 'restore the ground',
  fit_alarm: 'fit an alarm',
  fit_pump: 'fit a second pump',
};

/** Facts that may be missing, by their names in the figures. */
export const FACT_TEXT: Readonly<Record<string, string>> = {
  material: 'material',
  bore: 'bore',
  length: 'length',
  day_laid: 'day it was laid',
  drains_to: 'what it drains to',
  outlet: 'kind of outlet',
  iron: 'iron in the water',
  stays_wet: 'whether it stays wet',
  perforated: 'whether it is perforated',
  deposit: 'kind of deposit',
  ever_measured: 'any reading',
  ever_cleaned: 'any clean on record',
  way_in: 'a way in',
  basement: 'kind of basement',
  tap: 'whether there is a tap',
  place_on_map: 'place on the map',
  builder: 'builder',
  who_to_phone: 'whom to phone',
  pit_depth: 'depth',
  pit_inflow: 'inflow',
  pump_curve: 'pump curve',
  pump_alarm: 'whether it has an alarm',
};

export const FORESEEN_TEXT: Readonly<Record<Foreseen, string>> = {
  due: 'was due by then for its danger',
  likely: 'likely past its action limit',
  due_otherwise: 'was due by custom only',
  not_foreseen: 'not foreseen',
  no_forecast: 'no forecast yet',
};

/** A group's name as people read it: a word of the lists, or a name of their own. */
export function groupText(name: string): string {
  const words: Readonly<Record<string, string>> = { ...LINE_KIND_TEXT, ...MATERIAL_TEXT };
  return words[name] ?? name.replaceAll('_', ' ');
}

export const CARE_VERDICT_TEXT: Readonly<Record<CareVerdict, string>> = {
  too_long: 'too long for the line',
  too_long_assumed: 'too long if a fact is as assumed',
  needlessly_short: 'needlessly short',
  fits: 'as it should be',
  not_told: 'line without a date',
};

export const PROPOSAL_TEXT: Readonly<Record<ProposalKind, string>> = {
  cleanout: 'added cleanout',
  smooth_pipe: 'smooth pipe',
  alarm: 'alarm on the pump',
  second_pump: 'second pump',
};

export const OUTLET_TEXT: Readonly<Record<Outlet, string>> = {
  daylight: 'open end',
  creek: 'creek',
  ditch: 'ditch',
  pond: 'pond',
  kerb: 'kerb',
  storm_sewer: 'storm sewer',
  dry_well: 'dry well',
  pop_up: 'pop-up head',
  sanitary_sewer: 'sanitary sewer',
  unknown: 'outlet not known',
};

export const RECEIVER_TEXT: Readonly<Record<WaterReceiver, string>> = {
  own_ground: 'onto own ground',
  caught: 'caught and taken away',
  sanitary_sewer: 'sanitary sewer',
  storm_drain: 'storm drain',
  water_body: 'open water',
  none: 'no water was let go',
};

export const RESULT_TEXT: Readonly<Record<AttemptResult, string>> = {
  done: 'done',
  partly: 'done in part',
  not_done: 'not done',
  not_needed: 'looked at, nothing needed',
};

export const NOT_DONE_TEXT: Readonly<Record<NotDoneReason, string>> = {
  no_one_home: 'nobody was home',
  gate: 'the gate was closed',
  dog: 'a dog was loose',
  snow: 'the outlet lay under snow',
  outlet_not_found: 'the outlet was not found',
  refused: 'it was not wanted',
  unsafe: 'it was not safe',
  kit: 'the equipment did not do',
  water_off: 'the water was off',
  out_of_time: 'time ran out',
  gas: 'there was a smell of gas or a gas alarm',
};
