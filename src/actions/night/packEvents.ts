import type { Bound, Deposit, Method, Phase, PlugCause, RegimeCause } from '../../domain/words.js';
import {
  EVENT_KINDS,
  EVENT_WORDS,
  emptyEvents,
  type NightEvent,
  NONE,
  type PackedEvents,
} from './nightEvents.js';

/** Events of many lines, each line's in order of time, as work on lines takes them; the reverse of `eventsOf`. */
export function packEvents(lines: readonly (readonly NightEvent[])[]): PackedEvents {
  const packed = emptyEvents(
    lines.length,
    lines.reduce((sum, events) => sum + events.length, 0),
  );
  let e = 0;
  lines.forEach((events, i) => {
    for (const event of events) put(packed, e++, event);
    packed.first[i + 1] = e;
  });
  return packed;
}

function put(packed: PackedEvents, e: number, event: NightEvent): void {
  packed.kind[e] = EVENT_KINDS.indexOf(event.kind);
  packed.confirmed[e] = event.confirmed ? 1 : 0;
  packed.called[e] = event.called ? 1 : 0;
  packed.id.set(uuidBytes(event.id), 16 * e);
  packed.atMs[e] = event.atMs;
  packed.day[e] = event.day;
  if (event.occlusion !== null) packed.occlusion[e] = event.occlusion;
  if (event.standardError !== null) packed.standardError[e] = event.standardError;
  packed.bound[e] = place<Bound>(EVENT_WORDS.bound, event.bound);
  packed.method[e] = place<Method>(EVENT_WORDS.method, event.method);
  packed.phase[e] = place<Phase>(EVENT_WORDS.phase, event.phase);
  packed.plugCause[e] = place<PlugCause>(EVENT_WORDS.plugCause, event.plugCause);
  packed.deposit[e] = place<Deposit>(EVENT_WORDS.deposit, event.deposit);
  packed.changeCause[e] = place<RegimeCause>(EVENT_WORDS.changeCause, event.changeCause);
}

const place = <Word extends string>(words: readonly Word[], word: Word | null): number =>
  word === null ? NONE : words.indexOf(word);

function uuidBytes(id: string): Uint8Array {
  const hex = id.replaceAll('-', '');
  return Uint8Array.from({ length: 16 }, (_, i) => Number.parseInt(hex.slice(2 * i, 2 * i + 2), 16));
}
