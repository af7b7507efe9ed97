import { SHARE_ERROR } from '../readings/occlusionOf.js';
import type { LineEvidence, PluggedEvent, ReadingEvent } from './evidence.js';
import { freshRow } from './freshRow.js';
import { YEAR_ANGLE, YEAR_DAYS } from './shapeParameters.js';

/** What a step does once the level has grown up to its day. */
export const EXACT = 0;
export const AT_MOST = 1;
export const AT_LEAST = 2;
/** Remember the chance of being full already. */
export const MARK = 3;
export const PLUGGED = 4;
export const CLEAN = 5;
export const REGIME = 6;

/** Days before a call in which a line found plugged filled up: a plugged line is noticed. */
const PLUG_NOTICED_DAYS = 30;
/** A plug whose cause nobody looked for may be ice or roots. */
const UNKNOWN_CAUSE_SLIP = 0.3;
const PLUG_SLIP = 0.05;
/** Of a plug that a person confirmed: so small that it only keeps numbers apart where no rate at all fills a line so fast. */
const CONFIRMED_PLUG_SLIP = 1e-30;

/** Chance, before the line is looked at, that deposit had nothing to do with a plug; null where it surely had not. */
export function plugSlip({ cause, confirmed }: PluggedEvent): number | null {
  if (cause !== 'deposit' && cause !== 'unknown') return null;
  if (confirmed === true) return CONFIRMED_PLUG_SLIP;
  return cause === 'deposit' ? PLUG_SLIP : UNKNOWN_CAUSE_SLIP;
}
/** A reading after cleaning with no clean this long before it implies one: crews do not always look first. */
const SAME_VISIT_DAYS = 1;

/** Lines laid out flat for the filter: the steps of line i are `first[i]` to `first[i + 1]`. */
export interface LineSteps {
  first: Int32Array;
  action: Uint8Array;
  /** Day of the step. */
  day: Float64Array;
  /** Days since the step before, and how far the year's sine and cosine moved, over the angle per day. */
  days: Float64Array;
  /** Days from the last clean to the step before; Infinity where none is on record. */
  age: Float64Array;
  sine: Float64Array;
  cosine: Float64Array;
  /** Occlusion read; for PLUGGED the chance that deposit had nothing to do with it; for CLEAN and REGIME years since the last one. */
  value: Float64Array;
  /** Variance of the method as known beforehand, and of rounding. */
  variance: Float64Array;
  rounding: Float64Array;
  /** 0 camera, 1 look at the outlet, 2 others. */
  method: Uint8Array;
  /** 1: a person confirmed the reading or the plug; of a CLEAN, that the line plugged after it. */
  confirmed: Uint8Array;
  /** How many readings of one visit the step is the mean of. */
  looks: Uint16Array;
  /** 1: the line's level chose the day, since somebody called. */
  called: Uint8Array;
  /** Index of the event behind the step. */
  event: Int32Array;
  startsClean: Uint8Array;
  /** Day of the last step (or the start). */
  lastDay: Float64Array;
  /** Day of the last clean; −Infinity where none is on record. */
  lastCleanDay: Float64Array;
}

/** A line found emptier gave nobody cause to call: another did (common practice, no source). */
const CAUSE_TO_CALL = 0.3;

const gaveCauseToCall = ({ called, phase, bound, occlusion }: ReadingEvent): boolean =>
  called === true && phase !== 'after_cleaning' && bound !== 'at_most' && occlusion >= CAUSE_TO_CALL;

/** Rounding step of a look: people say 0, 5, 10 … per cent. */
const LOOK_STEP = 0.05;
const FINE_STEP = 0.01;

function putReading(out: LineSteps, s: number, event: ReadingEvent): void {
  const look = event.method === 'outlet_look';
  const width = look ? LOOK_STEP : FINE_STEP;
  const nothingSeen = event.bound !== 'at_least' && event.occlusion <= width / 4;
  const action = nothingSeen
    ? AT_MOST
    : event.bound === 'exact'
      ? EXACT
      : event.bound === 'at_most'
        ? AT_MOST
        : AT_LEAST;
  out.action[s] = action;
  out.value[s] = nothingSeen ? width / 2 : Math.min(1, event.occlusion);
  // The error a look was booked with goes by what it saw; a likelihood has to go by what there was to see.
  out.variance[s] = look ? SHARE_ERROR.outlet_look * SHARE_ERROR.outlet_look : event.sd * event.sd;
  out.rounding[s] = action === EXACT ? (width * width) / 12 : 0;
  out.method[s] = event.method === 'camera' ? 0 : look ? 1 : 2;
  out.confirmed[s] = event.confirmed === true ? 1 : 0;
  out.looks[s] = 1;
  out.called[s] = gaveCauseToCall(event) ? 1 : 0;
}

/** Readings further apart than this many of their standard errors are not one look: one of them is a slip. */
const LIKE_EACH_OTHER = 3;

/**
 * Joins the reading at step s to another of the same visit, method and side of the clean, where there is one: a copy,
 * or one more look that gets wrong what the first got wrong. Their mean counts, with the error of one.
 */
function joinedLook(
  out: LineSteps,
  from: number,
  s: number,
  events: LineEvidence['events'],
  reading: ReadingEvent,
): boolean {
  const furthest = out.action[s] === EXACT ? LIKE_EACH_OTHER * reading.sd : 0;
  for (let t = s - 1; t >= from && out.action[t]! <= AT_LEAST; t--) {
    const other = events[out.event[t]!]!;
    if (reading.day - other.day >= SAME_VISIT_DAYS) break;
    const away = out.value[s]! - out.value[t]!;
    if (other.kind !== 'reading' || other.method !== reading.method || other.phase !== reading.phase)
      continue;
    if (out.action[t] !== out.action[s] || Math.abs(away) > furthest) continue;
    const looks = out.looks[t]! + 1;
    out.looks[t] = looks;
    out.value[t] = out.value[t]! + away / looks;
    out.confirmed[t] = Math.max(out.confirmed[t]!, out.confirmed[s]!);
    out.called[t] = Math.max(out.called[t]!, out.called[s]!);
    return true;
  }
  return false;
}

/** What a line's events do, from step s on; returns the place after its last step. */
function putLine(out: LineSteps, from: number, line: LineEvidence, asOfDay: number, without: number): number {
  let s = from;
  let day = line.start.day;
  let resetDay = day;
  let cleanDay = -Infinity;
  let cleanStep = -1;
  const { events } = line;
  for (let index = 0; index < events.length; index++) {
    const event = events[index]!;
    if (event.day > asOfDay) continue;
    const at = Math.max(day, event.day);
    if (event.kind === 'clean') cleanDay = at;
    if (event.kind === 'reading' && event.phase === 'after_cleaning' && at - cleanDay > SAME_VISIT_DAYS) {
      cleanStep = s;
      putReset(out, s++, CLEAN, index, at, resetDay);
      resetDay = at;
      cleanDay = at;
      day = at;
    }
    if (index === without) continue;
    if (event.kind === 'reading') {
      putReading(out, s, event);
      if (joinedLook(out, from, s, events, event)) continue;
      out.event[s] = index;
      out.day[s++] = at;
    } else if (event.kind === 'plugged') {
      const slip = plugSlip(event);
      if (slip === null) continue;
      // Filled up so fast, it may foul otherwise than before its last clean: as where somebody told of a change.
      if (event.confirmed === true && cleanStep >= 0) out.confirmed[cleanStep] = 1;
      out.action[s] = MARK;
      out.event[s] = index;
      out.day[s++] = Math.max(day, at - PLUG_NOTICED_DAYS);
      out.action[s] = PLUGGED;
      out.value[s] = slip;
      out.confirmed[s] = event.confirmed === true ? 1 : 0;
      out.event[s] = index;
      out.day[s++] = at;
    } else {
      if (event.kind === 'clean') cleanStep = s;
      putReset(out, s++, event.kind === 'clean' ? CLEAN : REGIME, index, at, resetDay);
      resetDay = at;
    }
    day = at;
  }
  return s;
}

function putReset(
  out: LineSteps,
  s: number,
  action: number,
  event: number,
  day: number,
  resetDay: number,
): void {
  out.action[s] = action;
  out.event[s] = event;
  out.day[s] = day;
  out.value[s] = (day - resetDay) / YEAR_DAYS;
}

/** An event is at most two steps: a clean implied or a mark, and what was found. */
const MOST_STEPS = 2;

/**
 * @param asOfDay Later events are left out.
 * @param without Index of an event to leave out of every line; −1 for none.
 */
export function lineSteps(lines: readonly LineEvidence[], asOfDay: number, without = -1): LineSteps {
  let events = 0;
  for (const line of lines) events += line.events.length;
  const out = roomForSteps(lines.length, events);
  for (let i = 0; i < lines.length; i++) putSteps(out, i, lines[i]!, asOfDay, without);
  return cutSteps(out);
}

/** Room for the steps of lines with so many events in all. */
export function roomForSteps(lines: number, events: number): LineSteps {
  const most = MOST_STEPS * events;
  return {
    first: new Int32Array(lines + 1),
    action: new Uint8Array(most),
    day: freshRow(most),
    days: freshRow(most),
    age: freshRow(most),
    sine: freshRow(most),
    cosine: freshRow(most),
    value: freshRow(most),
    variance: freshRow(most),
    rounding: freshRow(most),
    method: new Uint8Array(most),
    confirmed: new Uint8Array(most),
    looks: new Uint16Array(most),
    called: new Uint8Array(most),
    event: new Int32Array(most),
    startsClean: new Uint8Array(lines),
    lastDay: freshRow(lines),
    lastCleanDay: freshRow(lines),
  };
}

/** Lays out line i, behind those before it. */
export function putSteps(out: LineSteps, i: number, line: LineEvidence, asOfDay: number, without = -1): void {
  const from = out.first[i]!;
  const end = putLine(out, from, line, asOfDay, without);
  out.first[i + 1] = end;
  out.startsClean[i] = line.start.kind === 'clean' ? 1 : 0;
  putTimes(out, i, from, end, line.start.day);
}

/** Days between the steps of line i, and where the year stood. */
function putTimes(out: LineSteps, i: number, from: number, end: number, startDay: number): void {
  let day = startDay;
  let cleanDay = -Infinity;
  let sine = Math.sin(YEAR_ANGLE * day);
  let cosine = Math.cos(YEAR_ANGLE * day);
  for (let s = from; s < end; s++) {
    const now = out.day[s]!;
    out.age[s] = day - cleanDay;
    if (out.action[s] === CLEAN) cleanDay = now;
    if (now !== day) {
      const sineNow = Math.sin(YEAR_ANGLE * now);
      const cosineNow = Math.cos(YEAR_ANGLE * now);
      out.days[s] = now - day;
      out.sine[s] = (sineNow - sine) / YEAR_ANGLE;
      out.cosine[s] = (cosineNow - cosine) / YEAR_ANGLE;
      day = now;
      sine = sineNow;
      cosine = cosineNow;
    }
  }
  out.lastDay[i] = day;
  out.lastCleanDay[i] = cleanDay;
}

/** As much of the room as there are steps. */
export function cutSteps(steps: LineSteps): LineSteps {
  const count = steps.first[steps.first.length - 1]!;
  if (count === steps.action.length) return steps;
  return {
    ...steps,
    action: steps.action.subarray(0, count),
    day: steps.day.subarray(0, count),
    days: steps.days.subarray(0, count),
    age: steps.age.subarray(0, count),
    sine: steps.sine.subarray(0, count),
    cosine: steps.cosine.subarray(0, count),
    value: steps.value.subarray(0, count),
    variance: steps.variance.subarray(0, count),
    rounding: steps.rounding.subarray(0, count),
    method: steps.method.subarray(0, count),
    confirmed: steps.confirmed.subarray(0, count),
    looks: steps.looks.subarray(0, count),
    called: steps.called.subarray(0, count),
    event: steps.event.subarray(0, count),
  };
}
