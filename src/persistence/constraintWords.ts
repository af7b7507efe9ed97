/** What a broken constraint means to a caller: the field that would put it right, what is wrong, the remedy. */
export interface ConstraintWords {
  pointer: string;
  detail: string;
  remedy: string;
}

const dayOrder = (pointer: string, from: string): ConstraintWords => ({
  pointer,
  detail: `lies before ${from}`,
  remedy: `a day on or after ${from}`,
});

const inRange = (pointer: string, what: string): ConstraintWords => ({
  pointer,
  detail: `${what} is out of range`,
  remedy: 'numbers above zero; amounts of water, sludge and money zero or more',
});

const sameDisruption: ConstraintWords = {
  pointer: '#',
  detail: 'The same disruption was reported at the same moment.',
  remedy: 'Read it: it is on record once.',
};

/** Two that may not be there at once: answered as a clash. */
export const CLASHES: Record<string, ConstraintWords> = {
  line_section_no_overlap: {
    pointer: '#/from',
    detail: 'Another section of the line lies on the same metres at the same time.',
    remedy: 'End the other section (removedOn) or choose metres that do not overlap.',
  },
  route_publication_crew_id_day_on_call_key: {
    pointer: '#',
    detail: 'The route of the crew and day was published at the same moment.',
    remedy: 'Read the route again: it is published.',
  },
  disruption_absence_id_key: sameDisruption,
  disruption_closed_season_id_key: sameDisruption,
  disruption_plan_id_key: sameDisruption,
  house_the_one_key: {
    pointer: '#',
    detail: 'Another start wrote down the business at the same moment.',
    remedy: 'Start again: it is on record once.',
  },
  pipe_product_product_key: {
    pointer: '#',
    detail: 'Somebody changed the same product at the same moment.',
    remedy: 'Read it again (GET /v1/pipes) and repeat the change.',
  },
  site_client_one_at_a_time: {
    pointer: '#/fromDay',
    detail: 'The site belongs to another client in that time.',
    remedy: 'End the other ownership (toDay) on the day the new one begins.',
  },
  crew_membership_one_crew: {
    pointer: '#/fromDay',
    detail: 'The person is in another crew in that time.',
    remedy: 'End the other membership (toDay) on the day the new one begins.',
  },
  crew_kit_one_crew: {
    pointer: '#/fromDay',
    detail: 'Another crew carries the kit item in that time.',
    remedy: 'End that (toDay) on the day the new one begins.',
  },
  on_call_turn_once: {
    pointer: '#/fromAt',
    detail: 'The person is on call in that time already.',
    remedy: 'End the other turn (toAt) when the new one begins.',
  },
  call_out_one_open: {
    pointer: '#/memberId',
    detail: 'The person is out on another call.',
    remedy: 'Say first when they came back (backAt), or send somebody else.',
  },
  holiday_day_once: {
    pointer: '#/day',
    detail: 'That day is a holiday already.',
    remedy: 'Change the name of that one, or archive it first.',
  },
  shift_one_a_day: {
    pointer: '#/weekday',
    detail: 'The crew has a shift on that weekday in that time.',
    remedy: 'End the other shift (toDay) first.',
  },
  proposal_one_open: {
    pointer: '#/kind',
    detail: 'A proposal of this kind is drafted or offered already.',
    remedy: 'Go on with that one, or withdraw it first.',
  },
  task_one_open_per_line: {
    pointer: '#/tasks',
    detail: 'There is an open work order with this task for the line.',
    remedy: 'Add to that order, or withdraw it first.',
  },
  task_one_open_per_pit: {
    pointer: '#/tasks',
    detail: 'There is an open work order with this task for the pit.',
    remedy: 'Add to that order, or withdraw it first.',
  },
  work_order_task_work_order_id_position_key: {
    pointer: '#/tasks',
    detail: 'Another task of the order stands in that place.',
    remedy: 'Read the order again and add the task after its last one.',
  },
  attempt_one_open_per_order: {
    pointer: '#',
    detail: 'The work order has been started and not finished.',
    remedy: 'Finish the attempt that is under way.',
  },
  route_one_live_per_crew_and_day: {
    pointer: '#',
    detail: 'The crew has a live route on that day.',
    remedy: 'Accept a plan that replaces it.',
  },
  route_one_open_on_call: {
    pointer: '#',
    detail: 'The crew was called out at the same moment.',
    remedy: 'Read the places again: they offer its route of tonight.',
  },
  stop_one_live_per_order: {
    pointer: '#',
    detail: 'The order is on another live route.',
    remedy: 'Take it off that route first.',
  },
  stop_route_id_position_key: {
    pointer: '#',
    detail: 'Another stop of the route stands in that place.',
    remedy: 'Ask for a new plan.',
  },
  inspection_natural_key: {
    pointer: '#/observedAt',
    detail: 'There is an inspection of this place by this method and phase at that instant.',
    remedy: 'Replace that inspection (replacesId), or say when or where this one was taken.',
  },
  inspection_replaces_id_key: {
    pointer: '#/replacesId',
    detail: 'That inspection was replaced already.',
    remedy: 'Replace the newest one in the chain.',
  },
  clean_natural_key: {
    pointer: '#/cleanedAt',
    detail: 'There is a clean of this line or pit at that instant.',
    remedy: 'Withdraw that one first, or say when this one was done.',
  },
  nightly_run_one_at_a_time: {
    pointer: '#',
    detail: 'Another nightly run is under way.',
    remedy: 'Wait for its end.',
  },
  nightly_run_business_day_key: {
    pointer: '#/businessDay',
    detail: 'There is a nightly run of that day.',
    remedy: 'Look at that one, or ask for it again.',
  },
  nightly_step_run_id_name_key: {
    pointer: '#',
    detail: 'The nightly run has that step.',
    remedy: 'Look at the run.',
  },
  epoch_line_id_started_on_key: {
    pointer: '#/startedOn',
    detail: 'The line has an epoch that starts on that day.',
    remedy: 'Choose the day of the replacement.',
  },
  pit_system_id_key: {
    pointer: '#/systemId',
    detail: 'The system has a pit already.',
    remedy: 'Name another system, or make one for this pit.',
  },
  pit_discharge_line_id_key: {
    pointer: '#/dischargeLineId',
    detail: 'The line is the discharge of another pit.',
    remedy: 'Name the line that this pit is pumped into.',
  },
  locate_ticket_one_in_force: {
    pointer: '#',
    detail: 'The order has a ticket in force.',
    remedy: 'Renew that ticket.',
  },
  work_order_number_key: {
    pointer: '#',
    detail: 'Another order has that number.',
    remedy: 'Send it again.',
  },
  webhook_delivery_event_id_endpoint_id_key: {
    pointer: '#',
    detail: 'The event is on its way to that endpoint already.',
    remedy: 'Replay that delivery.',
  },
  mail_event_id_contact_id_key: {
    pointer: '#',
    detail: 'The contact has a mail of that event already.',
    remedy: 'Look at that mail.',
  },
  feed_hash_key: { pointer: '#', detail: 'Another feed has that address.', remedy: 'Make another feed.' },
  event_once_key_key: { pointer: '#', detail: 'That was told already.', remedy: 'Nothing is to be done.' },
  forecast_score_inspection_id_key: {
    pointer: '#',
    detail: 'The forecast was held against that inspection already.',
    remedy: 'Nothing is to be done.',
  },
  access_key_hash_key: { pointer: '#', detail: 'Another key has that text.', remedy: 'Make another key.' },
  ...Object.fromEntries(
    ['client', 'site', 'line', 'crew', 'kit_item'].map((table) => [
      `${table}_source_external_ref_key`,
      {
        pointer: '#/externalRef',
        detail: `There is a ${table.replace('_', ' ')} with this reference of that source.`,
        remedy: 'Change that one instead, or give the reference this one has in its source.',
      },
    ]),
  ),
};

/** What does not fit together in itself: answered as a broken rule. */
export const RULES: Record<string, ConstraintWords> = {
  feed_of_one_thing: {
    pointer: '#/crewId',
    detail: 'a calendar is of one crew or of one site',
    remedy: 'give crewId or siteId, not both',
  },
  task_result_minutes: inRange('#/takenMinutes', 'the time it took'),
  sync_item_settled: {
    pointer: '#',
    detail: 'an item is settled at some instant, or waits',
    remedy: 'state and instant together',
  },
  stored_file_size: inRange('#', 'a size of the file'),
  attachment_one_thing: {
    pointer: '#/pitId',
    detail: 'goes with no lineId',
    remedy: 'give lineId or pitId, or neither',
  },
  note_one_thing: {
    pointer: '#/pitId',
    detail: 'goes with no lineId',
    remedy: 'give lineId or pitId, or neither',
  },
  drains_to_no_loop: {
    pointer: '#/drainsTo',
    detail: 'what drains to what would run in a circle',
    remedy: 'let the line drain to something that does not drain back into it',
  },
  line_on_one_site: {
    pointer: '#/systemId',
    detail: 'a line, its system and what it drains to stand on one site',
    remedy: 'name a system, pit and line of the same site',
  },
  pit_on_one_site: {
    pointer: '#/systemId',
    detail: 'a pit, its system and its discharge stand on one site',
    remedy: 'name a system and a discharge line of the same site',
  },
  line_drains_to_one_thing: {
    pointer: '#/drainsTo',
    detail: 'drainsTo does not match drainsToPitId and drainsToLineId',
    remedy: 'give drainsToPitId with "pit", drainsToLineId with "line", and neither otherwise',
  },
  inspection_stays: {
    pointer: '#',
    detail: 'an inspection is never edited',
    remedy: 'replace it by another one, or withdraw it',
  },
  contact_belongs_somewhere: {
    pointer: '#/siteId',
    detail: 'the contact belongs to no site and no client',
    remedy: 'give siteId, clientId or both',
  },
  site_on_the_map: {
    pointer: '#/longitude',
    detail: 'latitude and longitude do not make a place',
    remedy: 'both or neither; latitude -90 to 90, longitude -180 to 180',
  },
  site_iron_range: { pointer: '#/ferrousIron', detail: 'is below zero', remedy: 'zero or more' },
  depot_on_the_map: {
    pointer: '#/longitude',
    detail: 'latitude and longitude do not make a place',
    remedy: 'latitude -90 to 90, longitude -180 to 180',
  },
  care_terms_range: inRange('#/intervalDays', 'an interval, a number of visits or a price'),
  care_terms_days: dayOrder('#/toDay', 'fromDay'),
  line_limits: {
    pointer: '#/length',
    detail: 'a limit, the length or the iron of the line is out of range',
    remedy: 'limits above 0 and up to 1, a length above zero, iron zero or more',
  },
  line_section_range: {
    pointer: '#/to',
    detail: 'from, to and bore do not make a stretch of pipe',
    remedy: 'from and to both or neither, to beyond from, from zero or more, a bore above zero',
  },
  line_section_life: dayOrder('#/removedOn', 'installedOn'),
  pump_life: dayOrder('#/removedOn', 'installedOn'),
  inspection_of_one_thing: {
    pointer: '#/lineId',
    detail: 'one line or one pit is inspected',
    remedy: 'give lineId or pitId',
  },
  inspection_reading: {
    pointer: '#/reading',
    detail: 'occlusion, its error and the cause of a plug do not fit together',
    remedy: 'an occlusion from 0 to 1 with its error, or plugged with its cause',
  },
  clean_of_one_thing: {
    pointer: '#/lineId',
    detail: 'one line or one pit is cleaned',
    remedy: 'give lineId or pitId',
  },
  clean_range: inRange('#/passes', 'the number of passes, where the nozzle stopped, or the water'),
  trend_shares: inRange('#', 'a share or a chance'),
  work_order_range: inRange('#/minutes', 'people, minutes, water or sludge'),
  work_order_dates: dayOrder('#/wantedBy', 'notBefore'),
  work_order_ends: {
    pointer: '#/state',
    detail: 'the state does not fit how the order ended',
    remedy: 'done with the instant it was done, withdrawn with the reason',
  },
  work_order_task_of_one_thing: {
    pointer: '#/tasks',
    detail: 'a task is work of some minutes on one line or one pit',
    remedy: 'give each task lineId or pitId, and minutes above zero',
  },
  work_order_task_price_answer: {
    pointer: '#/declined',
    detail: 'a price is accepted or declined, and who declined it and when stand together',
    remedy: 'say by whom and when, and one of the two',
  },
  work_order_task_more: {
    pointer: '#/tasks',
    detail: 'the part, minutes taken, price or acceptance of a task do not fit',
    remedy: 'part and minutes above zero, a price zero or more, accepted by whom and when',
  },
  work_order_lock_said: {
    pointer: '#/lock',
    detail: 'A lock names who set it and when, and a reason only together with them.',
    remedy: 'Set the lock through the operation for locks, with a reason if there is one.',
  },
  work_order_lock: {
    pointer: '#/to',
    detail: 'the times or the place of the lock do not fit',
    remedy: 'from before to, both HH:MM; a place in the sequence with day and crew',
  },
  absence_of_one_thing: {
    pointer: '#/toDay',
    detail: 'an absence is of one crew, person or kit item, from a day to the same or a later one',
    remedy: 'give one of crewId, memberId, kitItemId; toDay on or after fromDay',
  },
  absence_part: {
    pointer: '#/backAt',
    detail: 'the part that is absent does not fit',
    remedy: 'people only with crewId; backAt after fromAt',
  },
  closed_season_days: dayOrder('#/toDay', 'fromDay'),
  crew_people: { pointer: '#/people', detail: 'a crew is somebody', remedy: 'one person or more' },
  shift_times: {
    pointer: '#/endsAt',
    detail: 'the shift does not end after it starts',
    remedy: 'a time after startsAt, both HH:MM; a shift over midnight is two shifts',
  },
  shift_days: dayOrder('#/toDay', 'fromDay'),
  site_client_days: dayOrder('#/toDay', 'fromDay'),
  crew_membership_days: dayOrder('#/toDay', 'fromDay'),
  crew_kit_days: dayOrder('#/toDay', 'fromDay'),
  precondition_days: dayOrder('#/validTo', 'validFrom'),
  promise_times: { pointer: '#/toTime', detail: 'is not after fromTime', remedy: 'a time after fromTime' },
  on_call_turn_times: {
    pointer: '#/toAt',
    detail: 'the turn does not end after it begins, or its place in the row does not fit',
    remedy: 'toAt after fromAt; turn from 1 (called first) to 9',
  },
  call_out_times: {
    pointer: '#/backAt',
    detail: 'lies before calledAt',
    remedy: 'an instant from calledAt on',
  },
  decision_until: {
    pointer: '#/untilDay',
    detail: 'is missing: a postponement is until a day',
    remedy: 'the day until which it is postponed, or kind refusal',
  },
  decision_days: dayOrder('#/untilDay', 'decidedOn'),
  attempt_ends: {
    pointer: '#/endedAt',
    detail: 'end, result and reason do not fit together',
    remedy: 'an end at or after the start, with a result; a reason where it was not or partly done',
  },
  stop_visits_an_order: {
    pointer: '#',
    detail: 'a visit is to an order, and nothing else is',
    remedy: 'name the order of a visit',
  },
  stop_refills_at_a_depot: {
    pointer: '#',
    detail: 'water is taken and sludge left at a depot, and nothing else is done there',
    remedy: 'name the depot of a refill or disposal',
  },
  plan_by_hand: {
    pointer: '#',
    detail: 'What a placement by hand changed is kept whole: the order, and the routes before and after.',
    remedy: 'Place the order again.',
  },
  plan_days: dayOrder('#/toDay', 'fromDay'),
  locate_rule_range: {
    pointer: '#/life',
    detail: 'notice, life or confirmation of the rule do not fit',
    remedy: 'notice zero or more, life above zero with its unit, confirmed by whom and when',
  },
  locate_ticket_days: dayOrder('#/lastDay', 'firstDay'),
  trench_check_range: {
    pointer: '#/depth',
    detail: 'a measure of the trench is out of range',
    remedy: 'depth and distances zero or more, oxygen 0 to 100 percent',
  },
  trench_check_more: {
    pointer: '#/slope',
    detail: 'the slope or the ladder of the trench is out of range',
    remedy: 'zero or more',
  },
  pipe_product_known: {
    pointer: '#/product',
    detail: 'no pipe of that product is known here',
    remedy: 'a product of GET /v1/pipes',
  },
  pipe_product_range: inRange('#/manningN', 'the roughness'),
  water_record_range: inRange('#/water', 'the water or the sludge'),
  danger_stopped: inRange('#/stopped', 'how far in it stopped'),
  inspection_plug_seen: {
    pointer: '#/plugged',
    detail: 'says how a plug was seen where none was found',
    remedy: 'leave it out, or say the cause',
  },
  danger_hard_stop_line: {
    pointer: '#/lineId',
    detail: 'is missing: a hard stop is one in a line',
    remedy: 'the line in which it stopped',
  },
  proposal_work: {
    pointer: '#/state',
    detail: 'work was made of it already',
    remedy: 'withdraw the work order first',
  },
  water_record_permit: {
    pointer: '#/permitRef',
    detail:
      'is missing: water goes to a storm drain or water body only under a permit, to a sewer only with leave',
    remedy: 'the reference of the permit or leave, or another receiver',
  },
  client_merged: {
    pointer: '#/intoId',
    detail: 'a client is merged into another one, on a day',
    remedy: 'the id of the client that is kept, another than this one',
  },
  disruption_days: dayOrder('#/toDay', 'day'),
  disruption_of_one_record: {
    pointer: '#',
    detail: 'a disruption is an absence or a closed day, not both',
    remedy: 'report each on its own',
  },
  incident_withdrawn: {
    pointer: '#',
    detail: 'a withdrawal has a time, a name and a reason',
    remedy: 'withdraw it through its own operation',
  },
  disruption_withdrawn: {
    pointer: '#',
    detail: 'a withdrawal has a time and a name',
    remedy: 'withdraw it through its own operation',
  },
  proposal_life: {
    pointer: '#/state',
    detail: 'the state of the proposal and its days do not go together',
    remedy: 'offered on a day, then accepted or declined on that day or later',
  },
  proposal_range: inRange('#/price', 'the price or the number of visits saved'),
  proposal_subject: {
    pointer: '#',
    detail: 'a proposal is for a line or a pit, as its kind says',
    remedy: 'name the line of a cleanout or pipe, the pit of a pump or alarm',
  },
  route_overtime: inRange('#', 'the overtime'),
  webhook_endpoint_secret: {
    pointer: '#/secret',
    detail: 'the secret does not fit',
    remedy: '24 to 64 bytes; leave it out and one is made',
  },
  house_the_one: { pointer: '#', detail: 'a database holds one business', remedy: 'a database of its own' },
  what_if_range: inRange('#/weeks', 'the number of weeks or runs'),
};
