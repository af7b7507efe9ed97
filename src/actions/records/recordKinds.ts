/** One kind of record that leaves as a CSV file of its own and comes back from it. */
export interface RecordKind {
  /** The file's name and the word of the API. */
  name: string;
  table: string;
  /** Columns that are not of the record: they follow from others, or point to what stays here. */
  without?: readonly string[];
  /** What a column says of plans and routes, which stay here: said otherwise in the file. */
  insteadOf?: Readonly<Record<string, Readonly<Record<string, string>>>>;
}

/** In an order in which most refer only to those before them. */
export const RECORD_KINDS: readonly RecordKind[] = [
  { name: 'settings', table: 'setting' },
  { name: 'pipe-products', table: 'pipe_product' },
  { name: 'clients', table: 'client' },
  { name: 'sites', table: 'site' },
  { name: 'site-clients', table: 'site_client' },
  { name: 'contacts', table: 'contact' },
  { name: 'care-terms', table: 'care_terms' },
  { name: 'systems', table: 'system' },
  { name: 'pits', table: 'pit' },
  { name: 'pumps', table: 'pump' },
  { name: 'lines', table: 'line' },
  { name: 'line-sections', table: 'line_section' },
  { name: 'access-points', table: 'access_point' },
  { name: 'epochs', table: 'epoch' },
  { name: 'regime-changes', table: 'regime_change' },
  { name: 'depots', table: 'depot' },
  { name: 'crews', table: 'crew' },
  { name: 'members', table: 'member' },
  { name: 'crew-memberships', table: 'crew_membership' },
  { name: 'kit-items', table: 'kit_item' },
  { name: 'crew-kit', table: 'crew_kit' },
  { name: 'shifts', table: 'shift' },
  { name: 'absences', table: 'absence' },
  { name: 'on-call-turns', table: 'on_call_turn' },
  { name: 'closed-seasons', table: 'closed_season' },
  { name: 'holidays', table: 'holiday' },
  { name: 'locate-rules', table: 'locate_rule' },
  { name: 'rains', table: 'rain' },
  // A place on a route is the plan's: an order that has one is wanted where it comes in.
  { name: 'work-orders', table: 'work_order', insteadOf: { state: { placed: 'wanted' } } },
  { name: 'tasks', table: 'work_order_task', without: ['open'] },
  { name: 'task-results', table: 'task_result' },
  { name: 'preconditions', table: 'precondition' },
  { name: 'promises', table: 'promise' },
  { name: 'decisions', table: 'decision' },
  { name: 'proposals', table: 'proposal' },
  { name: 'phone-calls', table: 'phone_call' },
  { name: 'call-outs', table: 'call_out' },
  { name: 'attempts', table: 'attempt', without: ['stop_id'] },
  { name: 'inspections', table: 'inspection' },
  { name: 'cleans', table: 'clean' },
  { name: 'reading-reviews', table: 'reading_review' },
  { name: 'locate-tickets', table: 'locate_ticket' },
  { name: 'trench-checks', table: 'trench_check' },
  { name: 'water-records', table: 'water_record' },
  { name: 'dangers', table: 'danger' },
  { name: 'incidents', table: 'incident' },
  { name: 'notes', table: 'note' },
];

/** Tables whose rows stay, and why. A parent table stands for its parts. */
export const STAY: Readonly<Record<string, string>> = {
  access_key: 'secrets: make new keys',
  attachment: 'photographs: their bytes are in a backup alone',
  calendar_entry: 'follows from routes',
  change_life: 'of the list of changes',
  change_log: 'the list of changes: it begins anew',
  conflict: 'what apps and office said otherwise here',
  disruption: 'of plans; its absence or closed season goes out',
  erasure: 'proof of what was erased here',
  event: 'was told from here',
  feed: 'secrets: make new calendar addresses',
  fit: 'computed anew by the night',
  forecast_score: 'of the forecasts made here',
  house: 'of this base: another has its own mark',
  house_secret: 'secrets: another base makes its own',
  idempotency_key: 'of requests made here',
  import_run: 'of imports made here',
  line_state: 'computed anew by the night',
  mail: 'was sent from here',
  night_calibration: 'of the nights run here',
  nightly_run: 'of the nights run here',
  nightly_step: 'of the nights run here',
  plan: 'proposed anew by the night',
  route: 'proposed anew by the night',
  route_change: 'of routes published here',
  route_publication: 'of routes published here',
  stop: 'proposed anew by the night',
  stored_file: 'photographs: their bytes are in a backup alone',
  sync_item: 'what apps sent here',
  trend: 'computed anew by the night',
  trend_history: 'of the nights run here',
  unsubscribe_link: 'secrets of mails sent from here',
  webhook_delivery: 'was told from here',
  webhook_endpoint: 'secrets: name the addresses anew',
  what_if: 'questions asked here',
};

/** Columns of every table that only say how a row came to be here. */
export const OF_THE_ROW: ReadonlySet<string> = new Set(['version', 'created_at', 'updated_at']);
