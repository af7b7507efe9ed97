import type { BusinessZone } from '../domain/calendar/businessZone.js';
import type { IsoDate } from '../domain/calendar/isoDate.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { TaskKind } from '../domain/words.js';
import type { ImportStore } from './books/importStore.js';
import type { DeskStore } from './desk/deskStore.js';
import type { SearchStore } from './desk/searchStore.js';
import type { ErasureStore } from './erasure/erasureStore.js';
import type { Files } from './files/fileStore.js';
import type { LineWork } from './night/lineWork.js';
import type { NightStore } from './night/nightStore.js';
import type { ScoreStore } from './night/scoreStore.js';
import type { PaperPrinter } from './papers/paperPrinter.js';
import type { PlanStore } from './plans/planStore.js';
import type { Actor, Clock, Row, RowStore } from './ports.js';
import type { Reads } from './reads.js';
import type { RecordStore } from './records/recordStore.js';
import type { ReportStore } from './reports/reportStore.js';
import type { Savepoints, SyncStore } from './sync/syncStore.js';
import type { EventStore } from './telling/eventStore.js';
import type { FeedStore } from './telling/feedStore.js';
import type { PostStore } from './telling/postStore.js';

/** Ids belong to no caller in particular: whoever sends one, it means the same. */
export const NOBODY = '00000000-0000-0000-0000-000000000000';

/** One id or idempotency key answers one content, whoever asks again. */
export interface ClaimStore {
  /**
   * Takes the key for this content, or tells what it was taken for. Waits for a caller who holds it now.
   */
  take(caller: string, key: string, fingerprint: Buffer): Promise<Claim>;
  answer(
    caller: string,
    key: string,
    status: number,
    headers: Record<string, string>,
    body: string,
  ): Promise<void>;
  /** Removes claims of idempotency keys older than 24 hours; ids stay for ever. */
  forgetOld(): Promise<number>;
  /** Empties what was sent in conflicts that a person settled more than so many days ago; how many. */
  forgetSettled(days: number): Promise<number>;
}

export type Claim =
  | { kind: 'taken' }
  | { kind: 'other-content' }
  | { kind: 'answered'; status: number; headers: Record<string, string>; body: string }
  | { kind: 'same-content' };

export interface KeyStore {
  /** By the SHA-256 of the bearer text; null when unknown, expired, revoked, or of a person who has left. */
  actorByHash(hash: Buffer): Promise<Actor | null>;
  /** Of these keys those that may come in now, as they stand now. */
  standing(keyIds: readonly string[]): Promise<Map<string, Actor>>;
  used(keyId: string): Promise<void>;
  /** 32 random bytes for one purpose, made when first asked for and the same for every instance from then on. */
  secretOf(purpose: string): Promise<Buffer>;
}

/** Questions about work and routes. */
export interface WorkStore {
  /** Whether the person's crew of that day has the site on its live route of that day. */
  isOnRouteOf(memberId: string, day: IsoDate, siteId: string): Promise<boolean>;
  /** Whether the person's crew of that day has a site of the area on its live route of that day, or they were called out to one. */
  isAreaOf(memberId: string, day: IsoDate, area: string): Promise<boolean>;
  /** Call-outs of the person to an order of the site: called_at, back_at. */
  callOutsTo(memberId: string, siteId: string): Promise<Row[]>;
  /**
   * Whether the site has an order on any route, live or replaced, of a crew the person was in on that route's day, or
   * one the person was called out to.
   */
  isSiteOf(memberId: string, siteId: string): Promise<boolean>;
  crewOf(memberId: string, day: IsoDate): Promise<string | null>;
  /** Whether the order stands on a live route of a crew the person is in on that route's day, or called them out. */
  isOrderOf(memberId: string, workOrderId: string): Promise<boolean>;
  /**
   * Whether the order stands or stood on a route of a crew the person was in on that route's day, called them out, or came
   * of a visit (plugged, return work, what follows) and is on nobody's live route.
   */
  isOrderFor(memberId: string, workOrderId: string): Promise<boolean>;
  /** Discharges with a pump curve, and what runs into their pits. */
  dischargeFacts(): Promise<Row[]>;
  /** Readings after a clean that tell what the pump moves through the line, in force. */
  cleanReferences(lineId: string): Promise<Row[]>;
  /** Lines with a section, there or gone, of a pipe product. */
  linesOfProduct(product: string): Promise<string[]>;
  /** Sections of this size whose bore was the table's take the new one; measured ones stay. The number changed. */
  setBoreOfSize(product: string, nominal: string, fromMm: number, toMm: number): Promise<number>;
  /** Lines with a reading that an older formula converted. */
  linesConvertedBefore(version: number): Promise<string[]>;
  /** Rows of id, occlusion, standard_error, bound, notes, conversion_version; the number that changed. */
  setOcclusions(rows: readonly Row[]): Promise<number>;
}

/** Questions about the life of orders. */
export interface WorkLifeStore {
  /**
   * What a line was through in its epoch, in no order, each with `at`, when it happened: tried (task, flow_proven,
   * came_back, residue, nozzle_stopped_m), hard stops (stopped_m), looks in by camera.
   */
  lineHistory(lineId: string): Promise<{ tried: Row[]; hardStops: Row[]; cameras: Row[] }>;
  /** Cause of the plug the line was last found with and since when, where nothing has opened it; null: it runs. */
  pluggedNow(lineId: string): Promise<Row | null>;
  /** Orders not begun that follow one, down the chain. */
  chainAfter(orderId: string): Promise<Row[]>;
  /** Areas of the sites on the books, by name. */
  areas(): Promise<string[]>;
  /** Last end of rain on an area, whatever its case, up to an instant; null: none on record. */
  lastRain(area: string, before: string): Promise<string | null>;
  /** Care terms in force, with `early_visits_ok` of the site and `early_taken`: its early visits of the last year. */
  termsInForce(day: IsoDate): Promise<Row[]>;
  /** Of these lines: line_id, day of the last clean or clean beginning or null, booked_on, their first day on record. */
  cleanSince(lineIds: readonly string[]): Promise<Row[]>;
  /** Where the last visit with one of these tasks on a system planned its water to go: receiver, permit_ref, number. */
  lastFlushPlan(systemId: string, tasks: readonly TaskKind[]): Promise<Row | null>;
  /** Temporary pumps that are in, of one pit or all: the pit, when last seen to, by which order, whether its discharge is being dug. */
  temporaryPumps(pitId?: string): Promise<Row[]>;
  /** What the cautions of an order follow from: tasks, no_pump, enterable_pit, sanitary_tie, hard_stops. */
  cautionPlace(orderId: string): Promise<Row>;
  /** Met by the firm's standing plan, of orders not yet ended that work on a system. */
  assumedPlans(systemId: string): Promise<Row[]>;
  /** Of these, put in question by what was seen of an outlet, as `facts.before` has them. */
  questionedPlans(systemId: string): Promise<Row[]>;
  /** Consents nobody answered, of work still ahead, with the order's number. */
  openConsents(): Promise<Row[]>;
  /** Water let go between two instants, each with its order, site and plan. */
  waterLog(from: string, to: string): Promise<Row[]>;
  /** Tickets in force of work that is not done, with their rules, and the last day they are good for work to come. */
  expiringTickets(): Promise<Row[]>;
  /** Pits without a date or due up to a day, with their last look and ochre, and whether a test is `ordered`. */
  pitsToDate(dueBy: IsoDate): Promise<Row[]>;
  /** Rows of id and due_on; the number that changed. */
  setPitDates(dates: readonly Row[]): Promise<number>;
}

/** What the three callers read, in one query each. */
export interface AnswerStore {
  /**
   * Live routes of a day with their stops, each with its order, site and tasks; one crew's only when named. Who was
   * called out the evening before and is still out after the day's `midnight` is among them.
   */
  routes(day: IsoDate, crewId: string | null, midnight: string): Promise<Row[]>;
  /** One route, live or replaced since, as `routes` gives it. */
  route(id: string): Promise<Row | null>;
  /**
   * Call-outs of a person since an instant, the newest first, each with its order, site and tasks as a stop of a route
   * has them, and called_at, back_at, call_out_note.
   */
  callOuts(memberId: string, since: string): Promise<Row[]>;
  summary(today: IsoDate): Promise<Row>;
  /** One line with its events before an instant, as the night sees it. */
  line(lineId: string, before: string): Promise<{ line: Row; events: Row[] } | null>;
}

/** What changed, in the order in which it became visible. */
export interface ChangeStore {
  /**
   * Changes after a place, only of transactions that no running one can still precede; a technician's member id
   * narrows them to the own crew's routes, their orders and those of own call-outs, and what stands on those sites.
   * Removals are for all. What a change of crew or of routes takes from a technician or brings comes beside that
   * change, beyond `limit`. `next` is the place of the last one where more follow, else how far was looked: what is
   * none of theirs is not looked at again.
   */
  since(
    after: ChangePlace,
    limit: number,
    memberId: string | null,
  ): Promise<{ rows: Row[]; more: boolean; next: ChangePlace }>;
  /** The place after everything that is visible now. */
  now(): Promise<ChangePlace>;
  /** The present log: its id, and the place of the last change that is not kept any more. */
  life(): Promise<ChangePlace>;
  /** Forgets changes older than so many days; how many. */
  forgetOld(days: number): Promise<number>;
}

/** Transaction and row number: in this order no change can appear behind a reader's back. */
export interface ChangePlace {
  /** Id of the log that the numbers belong to; a restored backup begins a new one. */
  life: string;
  xact: string;
  seq: string;
}

/** The owner's settings that differ from the defaults, by group. */
export interface SettingStore {
  all(): Promise<Row[]>;
  put(name: string, value: object, changedBy: string): Promise<void>;
  /** Nobody else changes a setting until the transaction ends. */
  lock(): Promise<void>;
}

export interface ReviewStore {
  /** Null when the inspection is not under review. */
  judge(inspectionId: string, verdict: string, by: string | null, at: string | null): Promise<Row | null>;
}

/** Work for later, handed over in the transaction that wants it: no job without its reason, none lost. */
export interface JobStore {
  /**
   * A waiting job with the same key is replaced.
   * @param priority Lower numbers are worked on first; absent: 0.
   */
  add(task: string, payload: object, key: string, priority?: number): Promise<void>;
  /** Whether a job of this key waits, or was begun within the minute. */
  isAlive(key: string): Promise<boolean>;
  /** Takes jobs out of the queue that failed for good and whose work is done, or another's, by now; how many. */
  forgetDead(): Promise<number>;
}

export interface Stores extends Savepoints {
  sync: SyncStore;
  desk: DeskStore;
  search: SearchStore;
  records: RecordStore;
  reports: ReportStore;
  scores: ScoreStore;
  imports: ImportStore;
  jobs: JobStore;
  events: EventStore;
  erasures: ErasureStore;
  post: PostStore;
  feeds: FeedStore;
  reviews: ReviewStore;
  settings: SettingStore;
  changes: ChangeStore;
  answers: AnswerStore;
  night: NightStore;
  plans: PlanStore;
  work: WorkStore;
  workLife: WorkLifeStore;
  rows: RowStore;
  claims: ClaimStore;
  keys: KeyStore;
}

export interface House {
  /** Where photographs, clips and documents are kept; absent: this house takes none. */
  files?: Files;
  /** Prints papers; absent: the caller's own thread does. */
  printer?: PaperPrinter;
  clock: Clock;
  zone: BusinessZone;
  units: UnitSystem;
  currency: string;
  version: string;
  stores: Stores;
  reads: Reads;
  /** Hands for work on so many lines, closed by whoever asked for them; absent: the caller's own thread. */
  lineWork?: (lines: number) => LineWork;
  /** All that `work` does, or nothing of it; constraint violations come out as refusals. */
  transact<T>(actor: Pick<Actor, 'name'>, work: (stores: Stores) => Promise<T>): Promise<T>;
}
