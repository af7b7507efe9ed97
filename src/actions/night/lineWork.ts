import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { POINTS } from '../../domain/fouling/grid.js';
import { type BlockRead, readBlock } from '../../domain/fouling/lineRead.js';
import type { Pooled, PoolingLayout, PoolingVariances } from '../../domain/fouling/pooling.js';
import { type LawLooks, poolLooks } from '../../domain/fouling/poolLooks.js';
import {
  type BegunSearch,
  beginSearch,
  finishSearch,
  type SharedShape,
} from '../../domain/fouling/searchShape.js';
import { layBase } from '../../domain/fouling/sharedFit.js';
import type { VisitTimes } from '../../domain/fouling/visitTimes.js';
import { type DatedLines, type DatesAsk, dateLines } from './dateLines.js';
import { type LineFacts, layPacked, packedEvidence } from './lineEvidence.js';
import type { PackedEvents } from './nightEvents.js';

/** A block of lines with their events, in the order of their ids. */
export interface LineBlock {
  day: IsoDate;
  facts: readonly LineFacts[];
  events: PackedEvents;
}

/** Growth law, parameters and visit times that all lines share. */
export type NightShape = SharedShape & { visitTimes: VisitTimes };

const evidenceOf = ({ day, facts, events }: LineBlock) =>
  facts.map((line, i) => packedEvidence(line, events, i, day));

/** Begins the search for the shared shapes from one law of growth. */
function searchFrom(
  { sample, start }: { sample: LineBlock; start: number },
  onProgress: (share: number) => void,
): BegunSearch {
  return beginSearch(layBase(evidenceOf(sample), dayNumber(sample.day)), start, onProgress);
}

/** The shared shapes that fit a sample of the base best, and the variances from which the whole base pools. */
function search(
  { sample, begun }: { sample: LineBlock; begun: readonly BegunSearch[] },
  onProgress: (share: number) => void,
): { shapes: NightShape[]; variances: PoolingVariances } {
  const { shapes, pool } = finishSearch(
    layBase(evidenceOf(sample), dayNumber(sample.day)),
    begun,
    onProgress,
  );
  return {
    shapes: shapes.map((shape) => ({ ...shape, visitTimes: pool.visitTimes })),
    variances: { siteVariance: pool.siteVariance, lineVariance: pool.lineVariance },
  };
}

/** What each line's evidence says at each rate, under each shape. */
function read({ block, shapes }: { block: LineBlock; shapes: readonly NightShape[] }): BlockRead {
  const asOfDay = dayNumber(block.day);
  return readBlock(layPacked(block), shapes, asOfDay);
}

export interface PoolAsk {
  layout: PoolingLayout;
  looks: LawLooks;
  fresh: Int32Array;
  /** Log likelihoods of the fresh lines in their order, `linesPerBlock` in each but the last. */
  blocks: Float32Array[];
  linesPerBlock: number;
  start: PoolingVariances;
  rounds: number;
}

/** What the lines tell each other under one shape. */
function pool(ask: PoolAsk): { pooled: Pooled; looks: LawLooks } {
  const { layout, looks, fresh, blocks, linesPerBlock, start, rounds } = ask;
  const at = (k: number) => ({
    row: blocks[Math.floor(k / linesPerBlock)] ?? new Float32Array(),
    at: (k % linesPerBlock) * POINTS,
  });
  return { pooled: poolLooks(layout, looks, fresh, at, start, rounds), looks };
}

const dates = (ask: DatesAsk): DatedLines => dateLines(ask);

/** Work on many lines that needs nothing but its question: it may be done on another thread. */
export const LINE_WORK = { searchFrom, search, read, pool, dates };
export type LineWorkName = keyof typeof LINE_WORK;

/** Hands of the night. Answers are the same however many there are. */
export interface LineWork {
  /** How many questions are worth having in hand at once. */
  inHand: number;
  /** @param transfer Buffers of the question that the asker needs no more. */
  run<N extends LineWorkName>(
    name: N,
    ask: Parameters<(typeof LINE_WORK)[N]>[0],
    options?: { onProgress?: (share: number) => void; transfer?: ArrayBuffer[] },
  ): Promise<ReturnType<(typeof LINE_WORK)[N]>>;
  close(): Promise<void>;
}

/** All work on the caller's own thread. */
export function ownThread(): LineWork {
  return {
    inHand: 1,
    async run(name, ask, options) {
      const work = LINE_WORK[name] as (
        ask: unknown,
        onProgress: (share: number) => void,
      ) => ReturnType<(typeof LINE_WORK)[typeof name]>;
      return work(ask, options?.onProgress ?? (() => undefined));
    },
    async close() {},
  };
}

/**
 * Puts block after block to work, `inHand` at a time; answers are taken in the blocks' order.
 * @param start Makes the question of a block and puts it; called one after the other.
 */
export async function blockByBlock<B, A>(
  blocks: readonly B[],
  inHand: number,
  start: (block: B) => Promise<{ answer: Promise<A> }>,
  take: (answer: A, block: B) => Promise<void> | void,
): Promise<void> {
  const waiting: { block: B; answer: Promise<A> }[] = [];
  const takeFirst = async () => {
    const first = waiting.shift();
    if (first) await take(await first.answer, first.block);
  };
  try {
    for (const block of blocks) {
      if (waiting.length >= inHand) await takeFirst();
      waiting.push({ block, ...(await start(block)) });
    }
    while (waiting.length > 0) await takeFirst();
  } finally {
    // After a failure the others are waited for, so that none of them fails unheard.
    await Promise.allSettled(waiting.map(({ answer }) => answer));
  }
}

export function inBlocks<T>(items: readonly T[], size: number): T[][] {
  return Array.from({ length: Math.ceil(items.length / size) }, (_, k) =>
    items.slice(k * size, (k + 1) * size),
  );
}
