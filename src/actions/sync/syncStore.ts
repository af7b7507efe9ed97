import type { SyncState } from '../../domain/words.js';
import type { Row } from '../ports.js';
import type { Problem } from '../problems.js';

/** What may give waiting items their turn: items that are new, and things they may have waited for. */
export interface Came {
  ids: readonly string[];
  needs: readonly string[];
}

/** Questions about what apps sent. */
export interface SyncStore {
  /** Keeps items of a new id; the ids that were new. Ids are taken in their own order, so that two callers never wait for each other. */
  keep(rows: readonly Row[]): Promise<Set<string>>;
  /**
   * Keeps items that are not right as refused, with their problems. One that is on record already stays, unless it is
   * the same author's and was refused.
   */
  keepRefused(rows: readonly Row[]): Promise<void>;
  /** The kept ones of these ids, locked until the transaction ends. */
  lock(ids: readonly string[]): Promise<Row[]>;
  /** Writes down of items that they are done. */
  accept(ids: readonly string[], at: string): Promise<void>;
  /**
   * Of some items those that are settled, by sync or because their id came through an endpoint of its own. What was
   * refused is not: it can still be put right.
   */
  settledOf(ids: readonly string[]): Promise<Set<string>>;
  /** Of some items those that are starts and were done, with their orders. */
  startsOf(ids: readonly string[]): Promise<Map<string, string>>;
  /**
   * Who took or declined the price of a task that is not there yet, and when, by an item that has come: one that names it, or one
   * that names no task and comes after the found work, for its one price or the sum of its prices.
   */
  priceOf(taskId: string): Promise<{ by: string; at: string; declined: boolean } | null>;
  /** Of some items those that are found work whose price they do not say to be taken: state and tasks with prices. */
  foundAmong(
    ids: readonly string[],
  ): Promise<{ state: SyncState; tasks: { id: string; priceMinor: number }[] }[]>;
  /** Locks orders in one order for all callers, so that two never wait for each other. */
  lockOrders(ids: readonly string[]): Promise<void>;
  /**
   * Waiting items of an author and, for their turn, of the orders these are about.
   *
   * @param among Only those that are among these or wait for one of these; null: all.
   */
  waitingFor(authorId: string, among: Came | null): Promise<Row[]>;
  /** How many items of an author wait. */
  waitingCount(authorId: string): Promise<number>;
  /** Per author: how many items from before that moment wait, with the oldest one's id and time. */
  waitingSince(before: string): Promise<{ author: string; id: string; happenedAt: string; items: number }[]>;
  /**
   * Items that wait since before that moment, as they happened, and for nothing that waits itself; else the first of
   * those that wait for one another. Locked until the transaction ends.
   */
  waitedSince(before: string): Promise<Row[]>;
  /** Refuses waiting items with one problem. */
  refuse(ids: readonly string[], problem: Problem, at: string): Promise<void>;
  /** Keeps so many of an author's refused items, the oldest, and removes the others. */
  forgetRefused(authorId: string, most: number): Promise<void>;
  /**
   * Forgets what items said that were settled so many days ago, of no open order; how many. That they came, and what
   * became of them, stays: sent again they are known.
   */
  forgetContents(days: number): Promise<number>;
  /** An author each with name, person and the last key, one that was not revoked where there is one, who has items that wait for one of these. */
  authorsWaitingFor(needs: readonly string[]): Promise<Row[]>;
}

/** Work inside a transaction that may fail alone. */
export interface Savepoints {
  /** All that `work` does or nothing of it, its constraints checked at once; the transaction goes on either way. */
  within<T>(work: () => Promise<T>): Promise<T>;
}
