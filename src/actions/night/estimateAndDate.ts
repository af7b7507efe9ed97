import { v7 as newId } from 'uuid';
import { dayNumber, type IsoDate } from '../../domain/calendar/isoDate.js';
import { ENGINE_VERSION } from '../../domain/fouling/evidence.js';
import type { BaseFit, FittedShape } from '../../domain/fouling/fitBase.js';
import { searchSample } from '../../domain/fouling/fitBase.js';
import type { PoolingVariances } from '../../domain/fouling/pooling.js';
import { START_VARIANCES, startLooks } from '../../domain/fouling/poolLooks.js';
import { SEARCH_STARTS } from '../../domain/fouling/searchShape.js';
import { layBase } from '../../domain/fouling/sharedFit.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { House, Stores } from '../house.js';
import { mondayOf } from '../reports/dueWeeks.js';
import type { DatedLines, LineToDate } from './dateLines.js';
import { bareEvidence, type LineFacts } from './lineEvidence.js';
import { fitsLaws, type LineState, looksOf, numbersOf } from './lineState.js';
import { blockByBlock, inBlocks, type LineWork, type NightShape } from './lineWork.js';
import { NightBooks } from './nightBooks.js';
import type { BookedLine, StoredFit } from './nightStore.js';
import { surroundings } from './surroundings.js';
import { withWorkLimits } from './workLimits.js';

/** Lines worked on at a time: their events are all that is held of the base's readings. */
const BLOCK_LINES = 500;
const ROUNDS = 6;
const ROUNDS_FROM_FIT = 4;
/** With few lines read anew the others stand where the night before left them. */
const ROUNDS_OF_NEWS = 2;

/**
 * Step `estimate`: what the lines share, from all that was found before the business day. A line whose books did
 * not change keeps what its readings said; only its prior moves with the others. Once a week, and on a month's
 * first night, every line is read anew.
 */
export async function estimate(
  house: House,
  stores: Stores,
  day: IsoDate,
  onProgress: (share: number) => void,
  ofNight?: NightBooks,
): Promise<Record<string, number>> {
  return withBooks(house, day, ofNight, (books) => estimateFrom(books, stores, onProgress));
}

async function estimateFrom(
  books: NightBooks,
  stores: Stores,
  onProgress: (share: number) => void,
): Promise<Record<string, number>> {
  const { day } = books;
  const booked = await books.bookedLines(stores);
  const states = await books.lineStates(stores);
  const last = await stores.night.lastFit(ENGINE_VERSION, day);
  const weekly = !last || (await weeklyDue(stores, day));
  const whole = weekly || last.asOf.slice(0, 7) !== day.slice(0, 7);
  const known = booked.map(({ facts }) => states.get(facts.lineId) ?? null);
  const laws = last?.parameters.shapes.length ?? 0;
  const fresh = [...booked.keys()].filter((i) => {
    const state = known[i];
    return whole || !state || state.digest !== booked[i]?.digest || !fitsLaws(state, laws);
  });
  const counts = {
    lines: booked.length,
    readings: booked.reduce((sum, { readings }) => sum + readings, 0),
    fresh: fresh.length,
    weekly: weekly ? 1 : 0,
  };
  if (fresh.length === 0 && last) return counts;

  // The search takes seconds whatever the number of lines, and others wait for this thread.
  const work = books.hands.forLines(weekly ? Number.POSITIVE_INFINITY : fresh.length);
  onProgress(0.05);
  const found = weekly
    ? await searchShapes(stores, work, booked, books, (share) => onProgress(0.05 + 0.55 * share))
    : null;
  const shapes = found?.shapes ?? last?.parameters.shapes ?? [];
  const from = weekly ? 0.6 : 0.05;
  const progress = (share: number) => onProgress(from + (1 - from) * share);
  const ask = {
    booked,
    known: weekly ? known.map(() => null) : known,
    fresh,
    shapes,
    searched: found?.variances ?? null,
    books,
  };
  const { parameters, looks } = await poolBase(stores, work, ask, progress);
  const fitId = newId();
  await stores.rows.insert('fit', {
    id: fitId,
    as_of: day,
    kind: weekly ? 'weekly' : 'nightly',
    engine_version: ENGINE_VERSION,
    parameters,
    lines: counts.lines,
    readings: counts.readings,
  });
  const moved = whole ? [...booked.keys()] : onSitesOf(booked, fresh);
  await books.putLineStates(
    stores,
    moved.map((i) => ({
      lineId: booked[i]?.facts.lineId ?? '',
      fitId,
      digest: booked[i]?.digest ?? '',
      numbers: numbersOf(looks, i),
    })),
    whole,
  );
  onProgress(1);
  return counts;
}

/** The first night from a week's Monday on searches the shared shape again; a Monday without a night is made up by the next. */
async function weeklyDue(stores: Stores, day: IsoDate): Promise<boolean> {
  const searched = await stores.night.lastWeeklyFit(ENGINE_VERSION, day);
  return searched === null || dayNumber(searched) < mondayOf(dayNumber(day));
}

/** The shapes that fit a sample of whole sites best. */
async function searchShapes(
  stores: Stores,
  work: LineWork,
  booked: readonly BookedLine[],
  books: NightBooks,
  onProgress: (share: number) => void,
): Promise<{ shapes: NightShape[]; variances: PoolingVariances }> {
  const chosen = new Set(
    searchSample(booked.map(({ facts }) => bareEvidence(facts))).map(({ lineId }) => lineId),
  );
  const facts = booked.filter((line) => chosen.has(line.facts.lineId)).map((line) => line.facts);
  const events = await stores.night.eventsOf(
    facts.map(({ lineId }) => lineId),
    books.before,
    books.zone,
  );
  const sample = { day: books.day, facts, events };
  // Each start on its own thread; half the work is theirs.
  const shares = new Array<number>(SEARCH_STARTS).fill(0);
  const begun = await Promise.all(
    shares.map((_, start) =>
      work.run(
        'searchFrom',
        { sample, start },
        {
          onProgress: (share) => {
            shares[start] = share;
            onProgress(Math.min(...shares) / 2);
          },
        },
      ),
    ),
  );
  return work.run('search', { sample, begun }, { onProgress: (share) => onProgress(0.5 + share / 2) });
}

interface PoolBaseAsk {
  booked: readonly BookedLine[];
  known: readonly (LineState | null)[];
  /** Places of the lines to read anew. */
  fresh: readonly number[];
  shapes: readonly (NightShape & Partial<Pick<FittedShape, 'siteVariance' | 'lineVariance'>>)[];
  /** Variances of the search that found the shapes; null when they are those of the fit before. */
  searched: PoolingVariances | null;
  books: NightBooks;
}

/** Reads the fresh lines under every shape, block by block, and lets all lines tell each other what they say. */
async function poolBase(
  stores: Stores,
  work: LineWork,
  { booked, known, fresh, shapes, searched, books }: PoolBaseAsk,
  onProgress: (share: number) => void,
) {
  const { day } = books;
  const likelihoods: Float32Array[][] = shapes.map(() => []);
  const plain = shapes.map(({ k1, k2, weight, parameters, visitTimes }) => ({
    k1,
    k2,
    weight,
    parameters,
    visitTimes,
  }));
  const blocks = inBlocks(fresh, BLOCK_LINES);
  let done = 0;
  await blockByBlock(
    blocks,
    work.inHand,
    async (block) => {
      const events = await books.eventsOf(stores, idsAt(booked, block));
      const facts = factsAt(booked, block);
      return { answer: work.run('read', { block: { day, facts, events }, shapes: plain }) };
    },
    (answer, block) => {
      answer.logLikelihood.forEach((rows, law) => {
        likelihoods[law]?.push(rows);
      });
      books.keepRead(idsAt(booked, block), answer);
      onProgress((0.8 * ++done) / blocks.length);
    },
  );
  const { layout, traits } = layBase(
    booked.map(({ facts }) => bareEvidence(facts)),
    dayNumber(day),
  );
  const stored = looksOf(known, shapes.length);
  const onlyNews = fresh.length < booked.length / 10 && fresh.every((i) => known[i] !== null);
  const pooled = await Promise.all(
    shapes.map((shape, law) => {
      const from = shape.siteVariance !== undefined && shape.lineVariance !== undefined;
      const ask = {
        layout,
        looks: stored[law] ?? startLooks(booked.length),
        fresh: Int32Array.from(fresh),
        blocks: likelihoods[law] ?? [],
        linesPerBlock: BLOCK_LINES,
        start: from
          ? { siteVariance: shape.siteVariance ?? 0, lineVariance: shape.lineVariance ?? 0 }
          : (searched ?? START_VARIANCES),
        rounds: !from ? ROUNDS : onlyNews ? ROUNDS_OF_NEWS : ROUNDS_FROM_FIT,
      };
      return work.run('pool', ask);
    }),
  );
  const parameters: BaseFit = {
    engineVersion: ENGINE_VERSION,
    asOfDay: dayNumber(day),
    traits,
    shapes: plain.map((shape, law): FittedShape => {
      const own = pooled[law]?.pooled;
      if (!own) throw new RangeError('a growth law was not pooled');
      const { siteVariance, lineVariance, coefficients, covariance } = own;
      return {
        ...shape,
        siteVariance,
        lineVariance,
        coefficients: [...coefficients],
        covariance: [...covariance],
        // Priors of lines stand with the lines.
        sites: {},
        lines: {},
      };
    }),
  };
  return { parameters, looks: pooled.map(({ looks }) => looks) };
}

const factsAt = (booked: readonly BookedLine[], places: readonly number[]): LineFacts[] =>
  places.map((i) => booked[i]?.facts).filter((facts) => facts !== undefined);

const idsAt = (booked: readonly BookedLine[], places: readonly number[]): string[] =>
  factsAt(booked, places).map(({ lineId }) => lineId);

/** All lines of the sites on which some have news: the others' priors move with theirs. */
function onSitesOf(booked: readonly BookedLine[], fresh: readonly number[]): number[] {
  const sites = new Set(factsAt(booked, fresh).map(({ siteId }) => siteId));
  return [...booked.keys()].filter((i) => sites.has(booked[i]?.facts.siteId ?? ''));
}

/**
 * Step `date`: the belief about each line and its due date with reasons, for lines whose prior was set since they
 * were last dated or whose terms changed. A belief without news stands: its dates do not move by waiting.
 */
export async function date(
  house: House,
  stores: Stores,
  day: IsoDate,
  settings: OwnerSettings,
  onProgress: (share: number) => void,
  ofNight?: NightBooks,
): Promise<Record<string, number>> {
  return withBooks(house, day, ofNight, (books) => dateFrom(books, stores, settings, onProgress));
}

/** Who brings no books of a night gets some for this step alone. */
async function withBooks<T>(
  house: House,
  day: IsoDate,
  ofNight: NightBooks | undefined,
  work: (books: NightBooks) => Promise<T>,
): Promise<T> {
  if (ofNight) return work(ofNight);
  const books = new NightBooks(house, day);
  try {
    return await work(books);
  } finally {
    await books.hands.close();
  }
}

async function dateFrom(
  books: NightBooks,
  stores: Stores,
  settings: OwnerSettings,
  onProgress: (share: number) => void,
): Promise<Record<string, number>> {
  const { day } = books;
  const fit = await stores.night.lastFit(ENGINE_VERSION, day);
  if (!fit) throw new RangeError(`no fit for ${day}`);
  const { lines, reasons } = await withWorkLimits(
    stores,
    (await books.bookedLines(stores)).map(({ facts }) => facts),
    settings,
  );
  const around = await surroundings(stores, lines, settings, reasons, books);
  const states = await books.lineStates(stores);
  const previous = await stores.night.oldTrends();
  const toDate: LineToDate[] = [];
  for (const facts of lines) {
    const state = states.get(facts.lineId);
    if (!state) continue;
    const old = previous.get(facts.lineId) ?? null;
    const policyHash = around.hashOf(facts);
    if (old && old.fitId === state.fitId && old.policyHash === policyHash) continue;
    toDate.push({ facts, state, policy: around.of(facts), policyHash, old });
  }
  const counts = { lines: lines.length, worked: toDate.length, dated: 0, moved: 0, doubted: 0, history: 0 };
  if (toDate.length === 0) return counts;
  const work = books.hands.forLines(toDate.length);
  const slim = forForecasts(fit);
  const blocks = inBlocks(toDate, BLOCK_LINES);
  let done = 0;
  await blockByBlock(
    blocks,
    work.inHand,
    async (block) => {
      const lineIds = block.map(({ facts }) => facts.lineId);
      const events = await books.takeEvents(stores, lineIds);
      return {
        answer: work.run('dates', {
          day,
          fitId: fit.id,
          fit: slim,
          settings,
          seasons: around.seasons,
          lines: block,
          events,
          read: books.takeRead(lineIds),
        }),
      };
    },
    async (answer: DatedLines) => {
      counts.history += await stores.night.putTrends(day, answer.columns, answer.trends);
      await stores.night.openReviews(answer.doubts, answer.lookedInto);
      counts.dated += answer.dated;
      counts.moved += answer.moved;
      counts.doubted += answer.doubts.length;
      onProgress((0.95 * ++done) / blocks.length);
    },
  );
  onProgress(1);
  return counts;
}

/** As much of the fit as a forecast of a known line needs. */
function forForecasts({ parameters }: StoredFit): BaseFit {
  return { ...parameters, traits: { ...parameters.traits, siteLogIron: {} } };
}
