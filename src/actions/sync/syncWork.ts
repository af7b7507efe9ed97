import type { NewAnswer } from '../desk/answerQuestion.js';
import type { Problem } from '../problems.js';
import type { NewClean } from '../recordClean.js';
import type { NewInspection } from '../recordInspection.js';
import type { NewAttachment, NewNote } from '../siteThings.js';
import type { SaidLate, SaidOnTheWay } from '../telling/coming.js';
import type { AttemptEnd } from '../workLife/attemptEnd.js';
import type { NewDanger } from '../workLife/dangers.js';
import type { FoundAccessPoint, FoundLine } from '../workLife/foundThings.js';
import type { FoundWork } from '../workLife/foundWork.js';
import type { NewIncident } from '../workLife/incidents.js';
import type { TicketNews } from '../workLife/locateTickets.js';
import type { PriceAcceptance } from '../workLife/priceAcceptance.js';
import type { NewTaskResult } from '../workLife/taskResults.js';
import type { NewTrenchCheck } from '../workLife/trenchChecks.js';
import type { NewDischargePlan } from '../workLife/water.js';

/** What an item of a sync does: the arguments of the action its own endpoint would call, times by our clock. */
export type SyncWork =
  | { kind: 'start'; workOrderId: string; startedAt: string; cautionsSeen: boolean }
  | { kind: 'finish'; workOrderId: string; end: AttemptEnd }
  | { kind: 'inspection'; found: NewInspection }
  | { kind: 'clean'; clean: NewClean }
  | { kind: 'task_result'; workOrderId: string; said: NewTaskResult }
  | { kind: 'found_work'; found: FoundWork }
  | { kind: 'found_line'; found: FoundLine }
  | { kind: 'found_access_point'; found: FoundAccessPoint }
  | { kind: 'price_acceptance'; price: PriceAcceptance }
  | { kind: 'attachment'; attachment: NewAttachment }
  | { kind: 'note'; note: NewNote }
  | { kind: 'on_the_way'; workOrderId: string; said: SaidOnTheWay }
  | { kind: 'running_late'; workOrderId: string; said: SaidLate }
  | { kind: 'danger'; danger: NewDanger }
  | { kind: 'answer'; answer: NewAnswer }
  | { kind: 'discharge_plan'; plan: NewDischargePlan }
  | { kind: 'ticket_news'; workOrderId: string; ticketId: string; news: TicketNews; saidAt: string }
  | { kind: 'trench_check'; check: NewTrenchCheck }
  | { kind: 'incident'; incident: NewIncident };

/** An item as it came through the door. */
export interface SentItem {
  id: string;
  /** By our clock, UTC. */
  at: string;
  /** Device's time less ours when it was written down, seconds. */
  clockOffsetS: number;
  afterIds: string[];
  /** As it was sent, for people. */
  content: object;
  /** Of resource and content, as the endpoint of its own would take it. */
  fingerprint: Buffer;
  work: SyncWork;
}

/** An item of which only its place could be read: kept with what is wrong with it, to be put right or given up. */
export interface UnreadItem {
  id: string;
  kind: SyncWork['kind'];
  /** By our clock, UTC; null: not readable either. */
  at: string | null;
  clockOffsetS: number;
  workOrderId: string | null;
  content: object;
  fingerprint: Buffer;
  problem: Problem;
}

/** The order whose visit an item belongs to; null: of none. */
export function orderOf(work: SyncWork): string | null {
  switch (work.kind) {
    case 'start':
    case 'finish':
    case 'task_result':
    case 'on_the_way':
    case 'running_late':
    case 'ticket_news':
      return work.workOrderId;
    case 'inspection':
    case 'found_work':
    case 'found_line':
    case 'found_access_point':
      return work.found.workOrderId;
    case 'clean':
      return work.clean.workOrderId;
    case 'price_acceptance':
      return work.price.workOrderId;
    case 'attachment':
      return work.attachment.workOrderId;
    case 'note':
      return work.note.workOrderId;
    case 'danger':
      return work.danger.workOrderId;
    case 'answer':
      return work.answer.workOrderId;
    case 'discharge_plan':
      return work.plan.workOrderId;
    case 'trench_check':
      return work.check.workOrderId;
    case 'incident':
      return work.incident.workOrderId;
    default:
      return work satisfies never;
  }
}

/** What people read of an item once it is done: table and id; null: the order itself. */
export const RESOURCES: Record<SyncWork['kind'], string> = {
  start: 'work_order',
  finish: 'work_order',
  task_result: 'work_order_task',
  inspection: 'inspection',
  clean: 'clean',
  found_work: 'work_order',
  found_line: 'line',
  found_access_point: 'access_point',
  price_acceptance: 'work_order',
  attachment: 'attachment',
  note: 'note',
  on_the_way: 'work_order',
  running_late: 'work_order',
  danger: 'danger',
  answer: 'work_order',
  discharge_plan: 'work_order',
  ticket_news: 'locate_ticket',
  trench_check: 'trench_check',
  incident: 'incident',
};

/** Id of that record. */
export function recordOf(id: string, work: SyncWork): string {
  if (work.kind === 'task_result') return work.said.taskId;
  if (work.kind === 'ticket_news') return work.ticketId;
  return RESOURCES[work.kind] === 'work_order' ? (orderOf(work) ?? id) : id;
}
