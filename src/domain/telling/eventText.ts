import type { IsoDate } from '../calendar/isoDate.js';
import type { AttemptResult, EventType, IncidentKind, NotDoneReason, PlugCause, TaskKind } from '../words.js';
import type { RouteChange } from '../work/routeChanges.js';

/** What each kind of event tells beside the ids of what it is about. Times of day `HH:MM` are the business's own. */
export interface EventFacts {
  reminder_due: {
    orderNumber: number;
    day: IsoDate;
    /** Window told to the client; null: any time of that day. */
    from: string | null;
    to: string | null;
    /** Whether the day was told to the client, or is only planned. */
    promised: boolean;
  };
  on_the_way: { orderNumber: number; leftAt: string; expectedAt: string | null; expectedTime: string | null };
  running_late: {
    orderNumber: number;
    expectedAt: string;
    expectedTime: string;
    /** End of the window told to the client; null: none was told. */
    promisedTo: string | null;
    because: string | null;
    saidAt: string;
  };
  work_finished: {
    orderNumber: number;
    result: AttemptResult;
    reason: NotDoneReason | null;
    endedAt: string;
    endedOn: IsoDate;
  };
  work_found: { orderNumber: number; minutes: number; tasks: TaskKind[] };
  order_tried_in_vain: { orderNumber: number; reason: NotDoneReason; tries: number };
  order_follows_no_more: { orderNumber: number; withdrawnNumber: number };
  consent_unanswered: { orderNumber: number; askedOn: IsoDate; ask: unknown };
  /** times: how often the crew was told of this day. */
  route_published: { day: IsoDate; crewName: string; visits: number; times: number };
  route_changed: { day: IsoDate; crewName: string; because: string; changes: readonly RouteChange[] };
  line_plugged: {
    lineName: string;
    address: string;
    cause: PlugCause;
    observedAt: string;
    inspectionId: string;
  };
  line_past_limit: {
    lineName: string;
    address: string;
    occlusion: number;
    actionLimit: number;
    dueOn: IsoDate | null;
  };
  pit_fault: {
    address: string;
    place: string | null;
    faults: readonly string[];
    testedAt: string;
    inspectionId: string;
  };
  urgent_work: {
    orderNumber: number;
    address: string;
    because: string;
    withinMinutes: number;
    respondBy: string;
  };
  ladder_ends: { lineName: string; address: string; because: string };
  /** Items of one app that wait for what has not come; happenedOn: the day of the oldest. */
  sync_waiting: {
    author: string;
    items: number;
    happenedOn: IsoDate;
    /** They waited for so long and are conflicts now; none: they wait still. */
    endedAfterDays?: number;
  };
  trench_check_over: { orderNumber: number; address: string; rainEndedAt: string };
  locate_ticket_ends: { workOrderId: string; orderNumber: number; lastDay: IsoDate };
  incident: { kind: IncidentKind; tell: readonly { who: string; by: string }[] };
  night_failed: { businessDay: IsoDate; because: string };
  model_off: { findings: unknown };
  mail_not_sent: { eventType: EventType; because: string; uncertain: boolean };
  /** eventTypes: what it is to be sent. */
  webhook_made: { host: string; by: string; eventTypes: readonly EventType[] };
  webhook_disabled: { host: string; because: string };
  webhook_moved: { fromHost: string; toHost: string; by: string };
  webhook_test: { askedBy: string };
}

const words = (code: string): string => code.replaceAll('_', ' ');
const percent = (share: number): string => `${Math.round(share * 100)} %`;
const counted = (count: number, one: string): string => `${count} ${one}${count === 1 ? '' : 's'}`;

const CHANGED: Record<RouteChange['kind'], string> = {
  added: 'is new',
  removed: 'is gone',
  moved: 'has another place',
  time: 'begins at another time',
};
const changeText = ({ kind, number }: RouteChange): string => `order ${number} ${CHANGED[kind]}`;

function windowText(from: string | null, to: string | null): string {
  if (from !== null && to !== null) return ` between ${from} and ${to}`;
  if (from !== null) return ` from ${from}`;
  return to === null ? '' : ` before ${to}`;
}

/** One sentence for people, of each kind of event. */
const TEXTS: { [T in EventType]: (facts: EventFacts[T]) => string } = {
  reminder_due: ({ orderNumber, day, from, to, promised }) =>
    `Order ${orderNumber} is ${promised ? 'promised' : 'planned'} for ${day}${windowText(from, to)}: the client is to be reminded.`,
  on_the_way: ({ orderNumber, expectedTime }) =>
    `The crew is on the way to order ${orderNumber}${expectedTime === null ? '' : `, expected at ${expectedTime}`}.`,
  running_late: ({ orderNumber, expectedTime, promisedTo, because }) =>
    `The crew comes late to order ${orderNumber}: expected at ${expectedTime}${promisedTo === null ? '' : `, promised before ${promisedTo}`}${because === null ? '' : ` (${because})`}.`,
  work_finished: ({ orderNumber, result, reason, endedOn }) =>
    `The visit of order ${orderNumber} on ${endedOn} ended: ${words(result)}${reason === null ? '' : ` (${words(reason)})`}.`,
  work_found: ({ orderNumber, minutes, tasks }) =>
    `Work was found on order ${orderNumber}: ${tasks.map(words).join(', ')}, ${minutes} minutes more.`,
  order_tried_in_vain: ({ orderNumber, reason, tries }) =>
    `Order ${orderNumber} was tried ${tries} times in vain (${words(reason)}).`,
  order_follows_no_more: ({ orderNumber, withdrawnNumber }) =>
    `Order ${orderNumber} followed order ${withdrawnNumber}, which was withdrawn; it was kept.`,
  consent_unanswered: ({ orderNumber, askedOn }) =>
    `Consent to order ${orderNumber}, asked for on ${askedOn}, is not answered: a person phones.`,
  route_published: ({ day, crewName, visits, times }) =>
    `${crewName} was told ${times === 1 ? 'a route' : 'the route anew'} for ${day} with ${counted(visits, 'visit')}.`,
  route_changed: ({ day, crewName, because, changes }) =>
    `The route of ${crewName} on ${day} changed (${because}): ${changes.map(changeText).join(', ')}.`,
  line_plugged: ({ lineName, address, cause }) =>
    `${lineName} at ${address} was found plugged (${words(cause)}).`,
  line_past_limit: ({ lineName, address, occlusion, actionLimit }) =>
    `${lineName} at ${address} is more likely than not past its action limit within 30 days: ${percent(occlusion)} blocked, the limit is ${percent(actionLimit)}.`,
  pit_fault: ({ address, place, faults }) =>
    `The pump of the pit${place === null ? '' : ` (${place})`} at ${address} failed its test: ${faults.join('; ')}.`,
  urgent_work: ({ orderNumber, address, because, withinMinutes }) =>
    `Order ${orderNumber} at ${address} is wanted within ${withinMinutes} minutes: ${because}. Phone the client and send somebody.`,
  ladder_ends: ({ lineName, address, because }) => `${lineName} at ${address}: ${because}.`,
  sync_waiting: ({ author, items, happenedOn, endedAfterDays }) =>
    endedAfterDays !== undefined
      ? `${counted(items, 'item')} from ${author}'s app, the oldest of ${happenedOn}, waited ${endedAfterDays} days for what did not come: see the conflicts, and ask ${author}.`
      : `${counted(items, 'item')} from ${author}'s app, the oldest of ${happenedOn}, ${items === 1 ? 'waits' : 'wait'} for what has not come: see the items that wait, and ask ${author}.`,
  trench_check_over: ({ orderNumber, address, rainEndedAt }) =>
    `It rained at ${address} (until ${rainEndedAt}): out of the trench of order ${orderNumber} until a competent person checked it again.`,
  locate_ticket_ends: ({ orderNumber, lastDay }) =>
    `The locate ticket of order ${orderNumber} is good up to ${lastDay}: call again before digging on.`,
  incident: ({ kind, tell }) =>
    `An incident was recorded (${words(kind)})${tell.length === 0 ? '.' : `; ${counted(tell.length, 'telling')} due, the first by ${tell.map(({ by }) => by).sort()[0]}.`}`,
  night_failed: ({ businessDay, because }) => `The nightly run of ${businessDay} failed: ${because}.`,
  model_off: () => 'The forecasts of the last two years are off: look at the calibration.',
  mail_not_sent: ({ eventType, because, uncertain }) =>
    uncertain
      ? `Nobody knows whether a mail (${words(eventType)}) went out: ${because}.`
      : `A mail (${words(eventType)}) could not be sent: ${because}.`,
  webhook_made: ({ host, by, eventTypes }) =>
    `${by} made a webhook to ${host}: from now on it is sent ${eventTypes.map(words).join(', ')}.`,
  webhook_disabled: ({ host, because }) => `The webhook to ${host} was switched off: ${because}.`,
  webhook_moved: ({ fromHost, toHost, by }) =>
    `${by} had the webhook to ${fromHost} sent to ${toHost} from now on, with a new secret.`,
  webhook_test: ({ askedBy }) => `A test event, asked for by ${askedBy}.`,
};

export const eventText = <T extends EventType>(type: T, facts: EventFacts[T]): string => TEXTS[type](facts);
