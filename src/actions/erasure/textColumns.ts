import type { TextTable } from './erasureStore.js';

/** What a column of texts holds: words of people, names of places and of what belongs to the business, notes on these, or words of the service alone. */
type Holds = 'people' | 'places' | 'things' | 'ours';

/** Written by the service from numbers and its own words: never searched. A `*` stands for any table. */
const OURS: ReadonlySet<string> = new Set([
  '*.engine_version',
  '*.evidence_hash',
  '*.policy_hash',
  '*.input_hash',
  '*.source',
  '*.kind',
  '*.state',
  '*.method',
  '*.result',
  '*.due_rule',
  '*.media_type',
  '*.public_type',
  '*.roles',
  'access_point.kit_can_enter',
  'change_log.resource',
  'change_log.op',
  'conflict.resource',
  'contact.may_consent_to',
  'fit.parameters',
  'house.currency',
  'house_secret.name',
  'house.time_zone',
  'house.units',
  'import_run.counts',
  'import_run.files',
  'night_calibration.report',
  'nightly_step.counts',
  'nightly_step.name',
  'pipe_product.bore_mm',
  'plan.engine_version',
  'pump.curve',
  'setting.name',
  'setting.value',
  'stored_file.original_key',
  'stored_file.public_key',
  'stored_file.thumbnail_key',
  'trend.components',
  'what_if.answer',
  'what_if.asked',
]);

/** Names of places and of what belongs to the business: a person's name that is also one of these says too little. */
const PLACES: ReadonlySet<string> = new Set([
  'crew.name',
  'depot.name',
  'holiday.name',
  'kit_item.name',
  'line.receiving_water',
  'locate_rule.name',
  'site.address',
  'site.area',
  'site.town',
]);

/** Of these as well as of places nothing is written over; a full name or number of the person in them is told. */
const THINGS: ReadonlySet<string> = new Set([
  'closed_season.reason',
  'line.discharge_permit_ref',
  'line_section.product',
  'locate_ticket.number',
  'pipe_product.product',
  'pump.duty',
  'rain.area',
  'site.postal_code',
  'water_record.permit_ref',
  'webhook_endpoint.url',
]);

/** A column nobody listed may hold people: one that comes new is searched. */
export function holdsOf(table: string, column: string): Holds {
  if (OURS.has(`${table}.${column}`) || OURS.has(`*.${column}`)) return 'ours';
  if (PLACES.has(`${table}.${column}`)) return 'places';
  return THINGS.has(`${table}.${column}`) ? 'things' : 'people';
}

/** The table with the columns of one kind, or of several; null: it has none. */
export function withColumns(table: TextTable, kinds: readonly Holds[]): TextTable | null {
  const columns = table.columns.filter((column) => kinds.includes(holdsOf(table.table, column)));
  return columns.length === 0 ? null : { ...table, columns };
}

/** Who wrote something down: of a name that says too little, or that another has too, this is somebody else. */
export const WRITERS: ReadonlySet<string> = new Set([
  'actor',
  'added_by',
  'asked_by',
  'author',
  'changed_by',
  'checked_by',
  'closed_by',
  'done_by',
  'made_by',
  'merged_by',
  'offered_by',
  'published_by',
  'reported_by',
  'settled_by',
  'taken_by',
  'told_by',
]);

const OF_PEOPLE: ReadonlySet<string> = new Set(['access_key', 'client', 'contact', 'member']);
/** Another person's own record: known by it there, there is nothing to look at. */
export const isOfPeople = (table: string): boolean => OF_PEOPLE.has(table);
/** What another person on the books is called and reached by. */
export const isOthersOwn = (table: string, column: string): boolean =>
  OF_PEOPLE.has(table) && ['name', 'phone', 'email'].includes(column);
