/**
 * The closed word lists of the trade, the same in JSON, CSV and PostgreSQL (CHECK constraints).
 * One word per thing: a list lives here once, and every door and table takes it from here.
 */
export const LINE_KINDS = ['sump_discharge', 'footing_drain', 'floor_drain', 'yard_drain'] as const;
export type LineKind = (typeof LINE_KINDS)[number];

export const MATERIALS = [
  'pvc',
  'corrugated_hdpe',
  'clay',
  'concrete',
  'cast_iron',
  'other',
  'unknown',
] as const;
export type Material = (typeof MATERIALS)[number];

export const CONDITIONS = ['sound', 'worn', 'weak', 'unknown'] as const;
export type Condition = (typeof CONDITIONS)[number];

export const OUTLETS = [
  'daylight',
  'creek',
  'ditch',
  'pond',
  'kerb',
  'storm_sewer',
  'dry_well',
  'pop_up',
  'sanitary_sewer',
  'unknown',
] as const;
export type Outlet = (typeof OUTLETS)[number];

export const OUTLET_STATES = [
  'flowing',
  'trickle',
  'dry',
  'submerged',
  'frozen',
  'buried',
  'not_found',
] as const;
export type OutletState = (typeof OUTLET_STATES)[number];

export const PHASES = ['before_cleaning', 'after_cleaning', 'no_cleaning'] as const;
export type Phase = (typeof PHASES)[number];

export const METHODS = [
  'camera',
  'outlet_look',
  'outlet_depth',
  'timed_fill',
  'poured_flow',
  'pit_drawdown',
  'passes_to_clear',
  'by_word',
] as const;
export type Method = (typeof METHODS)[number];

export const DEPOSITS = ['gel', 'crust', 'granular', 'roots', 'none', 'unknown'] as const;
export type Deposit = (typeof DEPOSITS)[number];

export const PLUG_CAUSES = [
  'deposit',
  'ice',
  'roots',
  'crushed',
  'debris',
  'buried_outlet',
  'animal',
  'unknown',
] as const;
export type PlugCause = (typeof PLUG_CAUSES)[number];

export const TASK_KINDS = [
  'survey',
  'inspect',
  'test_pump',
  'hose_flush',
  'jet',
  'clear_pit',
  'clear_outlet',
  'replace_outlet',
  'cable',
  'trace',
  'temporary_pump',
  'dig_and_replace',
  'add_cleanout',
  'restore',
] as const;
export type TaskKind = (typeof TASK_KINDS)[number];

export const WORK_ORDER_STATES = ['wanted', 'placed', 'under_way', 'done', 'withdrawn'] as const;
export type WorkOrderState = (typeof WORK_ORDER_STATES)[number];

export const ATTEMPT_RESULTS = ['done', 'partly', 'not_done', 'not_needed'] as const;
export type AttemptResult = (typeof ATTEMPT_RESULTS)[number];

export const NOT_DONE_REASONS = [
  'no_one_home',
  'gate',
  'dog',
  'snow',
  'outlet_not_found',
  'refused',
  'unsafe',
  'kit',
  'water_off',
  'out_of_time',
] as const;
export type NotDoneReason = (typeof NOT_DONE_REASONS)[number];

export const PLAN_STATES = ['searching', 'proposed', 'accepted', 'discarded', 'stale'] as const;
export type PlanState = (typeof PLAN_STATES)[number];

export const BASEMENTS = ['finished', 'basement', 'none', 'unknown'] as const;
export type Basement = (typeof BASEMENTS)[number];

export const FLOW_PROVEN = ['yes', 'no', 'not_possible'] as const;
export type FlowProven = (typeof FLOW_PROVEN)[number];

export const CAME_BACK = ['clear', 'tinted', 'slugs', 'thick'] as const;
export type CameBack = (typeof CAME_BACK)[number];

export const PRECONDITION_KINDS = [
  'locate_ticket',
  'consent',
  'quote_accepted',
  'discharge_plan',
  'someone_home',
  'parts',
] as const;
export type PreconditionKind = (typeof PRECONDITION_KINDS)[number];

export const DECISION_KINDS = ['refusal', 'postponement'] as const;
export type DecisionKind = (typeof DECISION_KINDS)[number];

export const ROLES = ['dispatcher', 'technician', 'owner', 'integration'] as const;
export type Role = (typeof ROLES)[number];
