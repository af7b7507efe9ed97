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
  'fit_alarm',
  'fit_pump',
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
  'gas',
] as const;
export type NotDoneReason = (typeof NOT_DONE_REASONS)[number];

export const PLAN_STATES = ['searching', 'proposed', 'accepted', 'discarded', 'stale'] as const;
export type PlanState = (typeof PLAN_STATES)[number];

/** What upsets a day. */
export const DISRUPTION_KINDS = ['crew_sick', 'crew_short', 'crew_broken_down', 'rain'] as const;
export type DisruptionKind = (typeof DISRUPTION_KINDS)[number];

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
  'builder_notice',
  'made_safe',
] as const;
export type PreconditionKind = (typeof PRECONDITION_KINDS)[number];

export const DECISION_KINDS = ['refusal', 'postponement'] as const;
export type DecisionKind = (typeof DECISION_KINDS)[number];

/** `monitor` reads the metrics and nothing else. */
export const ROLES = ['dispatcher', 'technician', 'owner', 'integration', 'monitor'] as const;
export type Role = (typeof ROLES)[number];
/** Who works with the records: everybody but the monitor. */
export const CALLERS = [
  'dispatcher',
  'technician',
  'owner',
  'integration',
] as const satisfies readonly Role[];

export const DRAINS_TO = ['pit', 'line', 'outlet', 'unknown'] as const;
export type DrainsTo = (typeof DRAINS_TO)[number];

export const ACCESS = ['anytime', 'someone_home'] as const;
export type Access = (typeof ACCESS)[number];

export const YES_NO_UNKNOWN = ['yes', 'no', 'unknown'] as const;

export const SYSTEM_KINDS = ['pit', 'gravity'] as const;
export type SystemKind = (typeof SYSTEM_KINDS)[number];

export const PUMP_DUTIES = ['main', 'backup'] as const;

export const ACCESS_POINT_KINDS = ['outlet', 'cleanout', 'pit', 'floor_opening'] as const;

/** Which way kit can go from an access point. */
export const DIRECTIONS = ['upstream', 'downstream', 'both'] as const;

/** What a line's epoch starts with: a clean pipe, or nobody knows how much deposit. */
export const EPOCH_BEGINNINGS = ['clean', 'unknown'] as const;
export type EpochBeginning = (typeof EPOCH_BEGINNINGS)[number];

export const EPOCH_CAUSES = ['installed', 'first_record', 'replaced'] as const;
export type EpochCause = (typeof EPOCH_CAUSES)[number];

export const REGIME_CAUSES = ['new_pump', 'excavation', 'partial_replacement', 'recognised'] as const;
export type RegimeCause = (typeof REGIME_CAUSES)[number];

/** Whether a reading is the value itself, or only says that the true value is at most or at least that. */
export const BOUNDS = ['exact', 'at_most', 'at_least'] as const;
export type Bound = (typeof BOUNDS)[number];

/** What a person says of a doubted reading. */
export const JUDGEMENTS = ['open', 'confirmed', 'dismissed'] as const;
/** Settled: what was found later made the reading plausible before anybody judged it. */
export const VERDICTS = [...JUDGEMENTS, 'settled'] as const;

export const WORK_ORDER_CAUSES = [
  'due',
  'first_survey',
  'call',
  'return_work',
  'plugged',
  'asked',
  'follow_up',
] as const;
export type WorkOrderCause = (typeof WORK_ORDER_CAUSES)[number];

export const PRICE_BASES = ['care_terms', 'quote', 'time_and_material', 'warranty', 'goodwill'] as const;

export const PRECONDITION_STATES = ['open', 'met', 'waived'] as const;

export const WEEKDAYS = ['sun', 'mon', 'tue', 'wed', 'thu', 'fri', 'sat'] as const;
export type Weekday = (typeof WEEKDAYS)[number];

/** `proposed` belongs to a plan nobody accepted yet, `live` is what crews drive, `replaced` is history. */
export const ROUTE_STATES = ['proposed', 'live', 'replaced'] as const;

export const STOP_KINDS = ['visit', 'refill', 'disposal', 'break'] as const;

export const BILLED = ['yes', 'no', 'warranty', 'goodwill'] as const;

export const RUN_STATES = ['waiting', 'running', 'done', 'failed'] as const;
export type RunState = (typeof RUN_STATES)[number];

/** The steps of a night, in order. */
export const STEPS = ['estimate', 'date', 'order', 'route', 'tell'] as const;
export type Step = (typeof STEPS)[number];

/** `weekly` searches the shared shape again, `nightly` keeps it and pools anew. */
export const FIT_KINDS = ['weekly', 'nightly'] as const;

export const KIT_KINDS = [
  'hose',
  'jetter',
  'camera',
  'tracer',
  'excavator',
  'pump',
  'cable_machine',
  'vacuum',
  'hand_tools',
] as const;
export type KitKind = (typeof KIT_KINDS)[number];

/** How notice and life of a locate ticket are counted; `business_hour`: twenty-four of each business day. */
export const NOTICE_UNITS = ['hour', 'business_hour', 'business_day', 'calendar_day'] as const;
export type NoticeUnit = (typeof NOTICE_UNITS)[number];
export const LIFE_UNITS = ['business_day', 'calendar_day'] as const;
export type LifeUnit = (typeof LIFE_UNITS)[number];
export const LIFE_FROM = ['call', 'first_day'] as const;
export type LifeFrom = (typeof LIFE_FROM)[number];

/** What a utility answered to a locate ticket. */
export const UTILITY_ANSWERS = ['none', 'marked', 'clear'] as const;
export type UtilityAnswer = (typeof UTILITY_ANSWERS)[number];

/** What keeps a trench from caving in. */
export const TRENCH_PROTECTIONS = ['none', 'sloped', 'shored', 'shielded', 'stable_rock'] as const;
export type TrenchProtection = (typeof TRENCH_PROTECTIONS)[number];

/** Where flushed water goes. */
export const WATER_RECEIVERS = [
  'own_ground',
  'caught',
  'sanitary_sewer',
  'storm_drain',
  'water_body',
  'none',
] as const;
export type WaterReceiver = (typeof WATER_RECEIVERS)[number];

export const WATER_PHASES = ['planned', 'recorded'] as const;

export const INCIDENT_KINDS = [
  'injury',
  'jet_injury',
  'near_miss',
  'utility_strike',
  'gas',
  'discharge',
  'damage',
  'flood_after_visit',
] as const;
export type IncidentKind = (typeof INCIDENT_KINDS)[number];

export const CONSEQUENCES = ['none', 'first_aid', 'hospital', 'amputation_or_eye', 'death'] as const;
export type Consequence = (typeof CONSEQUENCES)[number];

/** What stops the work the moment a crew meets it. */
export const DANGER_KINDS = ['hard_stop', 'gas_smell', 'gas_meter'] as const;
export type DangerKind = (typeof DANGER_KINDS)[number];

/** What an app's sync may bring. */
export const SYNC_KINDS = [
  'start',
  'finish',
  'inspection',
  'clean',
  'task_result',
  'found_work',
  'found_line',
  'found_access_point',
  'price_acceptance',
  'attachment',
  'note',
  'on_the_way',
  'running_late',
  'danger',
  'answer',
  'discharge_plan',
  'ticket_news',
  'trench_check',
  'incident',
] as const;
export type SyncKind = (typeof SYNC_KINDS)[number];

/** `waiting`: what it rests on has not come; `conflict`: kept for a person; `withdrawn`: the office took it out. */
export const SYNC_STATES = ['waiting', 'accepted', 'refused', 'conflict', 'withdrawn'] as const;
export type SyncState = (typeof SYNC_STATES)[number];

export const FILE_KINDS = ['photograph', 'clip', 'document'] as const;
export type FileKind = (typeof FILE_KINDS)[number];

/** Why somebody phones about water. */
export const CALL_KINDS = [
  'water_rising',
  'alarm',
  'pump_without_flow',
  'power_out',
  'orange_stain',
  'other',
] as const;
export type CallKind = (typeof CALL_KINDS)[number];

/** How soon a call must be answered: somebody leaves now, before the day is over, or with the routes of the coming days. */
export const URGENCIES = ['at_once', 'today', 'in_days'] as const;
export type Urgency = (typeof URGENCIES)[number];

/** How a client was told of a day. */
export const TOLD_HOW = ['phone', 'text_message', 'email', 'in_person', 'letter', 'unknown'] as const;

/** What others may want to hear: who asks for events, is called by a webhook, or gets a mail. */
export const EVENT_TYPES = [
  'reminder_due',
  'on_the_way',
  'running_late',
  'work_finished',
  'work_found',
  'order_tried_in_vain',
  'order_follows_no_more',
  'consent_unanswered',
  'route_published',
  'route_changed',
  'line_plugged',
  'line_past_limit',
  'pit_fault',
  'urgent_work',
  'ladder_ends',
  'trench_check_over',
  'locate_ticket_ends',
  'incident',
  'sync_waiting',
  'night_failed',
  'model_off',
  'mail_not_sent',
  'webhook_made',
  'webhook_disabled',
  'webhook_moved',
  'webhook_test',
] as const;
export type EventType = (typeof EVENT_TYPES)[number];

/** What spares visits or harm, and is offered to a client. The first two are of a line, the others of a pit. */
export const PROPOSAL_KINDS = ['cleanout', 'smooth_pipe', 'alarm', 'second_pump'] as const;
export type ProposalKind = (typeof PROPOSAL_KINDS)[number];

export const PROPOSAL_STATES = ['drafted', 'offered', 'accepted', 'declined', 'withdrawn'] as const;
export type ProposalState = (typeof PROPOSAL_STATES)[number];

/** Who may ask for what is known of them to be erased. */
export const ERASED_PEOPLE = ['client', 'contact', 'caller'] as const;
export type ErasedPerson = (typeof ERASED_PEOPLE)[number];

export const DELIVERY_STATES = ['waiting', 'delivered', 'failed'] as const;
export type DeliveryState = (typeof DELIVERY_STATES)[number];

/** What contacts are told by mail. */
export const MAIL_KINDS = ['reminder', 'on_the_way', 'running_late', 'done'] as const;
export type MailKind = (typeof MAIL_KINDS)[number];

/** `sending`: in conversation with the mail server; `uncertain`: it broke off so that nobody knows; `dropped`: not wanted any more. */
export const MAIL_STATES = ['waiting', 'sending', 'sent', 'uncertain', 'dropped', 'failed'] as const;
export type MailState = (typeof MAIL_STATES)[number];

/** A calendar shows a visit as sure, as planned, or as not taking place. */
export const CALENDAR_STATES = ['confirmed', 'tentative', 'cancelled'] as const;
export type CalendarState = (typeof CALENDAR_STATES)[number];
