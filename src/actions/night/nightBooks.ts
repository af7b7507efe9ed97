import type { BusinessZone } from '../../domain/calendar/businessZone.js';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { BlockRead } from '../../domain/fouling/lineRead.js';
import type { House, Stores } from '../house.js';
import type { LineState } from './lineState.js';
import type { PackedEvents } from './nightEvents.js';
import { NightHands } from './nightHands.js';
import type { BookedLine } from './nightStore.js';

/** A line read under one law takes .45 KiB; the lines beyond are read again when they are dated. */
const MOST_READS_KEPT = 160_000;

/**
 * The books as one night sees them, each page read once: what `estimate` read, `date` need not read again. A night
 * that begins with `date`, after a kill, reads for itself.
 */
export class NightBooks {
  /** Events before this instant count. */
  readonly before: string;
  readonly day: IsoDate;
  readonly hands: NightHands;
  /** By whose clock an event's day is told. */
  readonly zone: BusinessZone;
  private lines: BookedLine[] | null = null;
  private states: Map<string, LineState> | null = null;
  private readonly pages = new Map<string, PackedEvents>();
  private readonly reads = new Map<string, BlockRead>();
  private readsKept = 0;

  constructor(house: Pick<House, 'zone' | 'lineWork'>, day: IsoDate) {
    this.hands = new NightHands(house);
    this.day = day;
    this.zone = house.zone;
    this.before = house.zone.instantOf(day, 0).toISOString();
  }

  async bookedLines(stores: Stores): Promise<BookedLine[]> {
    this.lines ??= await stores.night.bookedLines(this.day, this.before);
    return this.lines;
  }

  /** Ids in ascending order; the same block is the same page, kept until it is taken. */
  async eventsOf(stores: Stores, lineIds: readonly string[]): Promise<PackedEvents> {
    const name = pageOf(lineIds);
    const held = this.pages.get(name);
    const page = held ?? (await stores.night.eventsOf(lineIds, this.before, this.zone));
    if (!held) this.pages.set(name, page);
    return page;
  }

  /** The same for the last one who asks. */
  async takeEvents(stores: Stores, lineIds: readonly string[]): Promise<PackedEvents> {
    const name = pageOf(lineIds);
    const held = this.pages.get(name);
    this.pages.delete(name);
    return held ?? stores.night.eventsOf(lineIds, this.before, this.zone);
  }

  /** Keeps what `estimate` read out of a block's events, under the laws of the fit it makes, while there is room. */
  keepRead(lineIds: readonly string[], read: BlockRead): void {
    this.readsKept += lineIds.length * read.logLikelihood.length;
    if (this.readsKept <= MOST_READS_KEPT) this.reads.set(pageOf(lineIds), read);
  }

  /** Hands out what was read of a block, once; null when it was not. */
  takeRead(lineIds: readonly string[]): BlockRead | null {
    const name = pageOf(lineIds);
    const read = this.reads.get(name) ?? null;
    this.reads.delete(name);
    return read;
  }

  async lineStates(stores: Stores): Promise<Map<string, LineState>> {
    this.states ??= await stores.night.lineStates();
    return this.states;
  }

  /** @param all Whether these are the states of all lines. */
  async putLineStates(
    stores: Stores,
    states: readonly (LineState & { lineId: string })[],
    all: boolean,
  ): Promise<void> {
    await stores.night.putLineStates(states, all);
    const held = await this.lineStates(stores);
    for (const { lineId, ...state } of states) held.set(lineId, state);
  }
}

const pageOf = (lineIds: readonly string[]): string => `${lineIds[0]} ${lineIds.at(-1)} ${lineIds.length}`;
