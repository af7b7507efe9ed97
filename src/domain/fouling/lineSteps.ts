import { SHARE_ERROR } from '../readings/occlusionOf.js';
import type { EvidenceEvent, LineEvidence, ReadingEvent } from './evidence.js';
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
  /** 1: a person confirmed the reading. */
  confirmed: Uint8Array;
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

interface Step {
  action: number;
  day: number;
  value: number;
  variance: number;
  rounding: number;
  method: number;
  confirmed: number;
  called: number;
  event: number;
}

/** A line found emptier gave nobody cause to call: another did (common practice, no source). */
const CAUSE_TO_CALL = 0.3;

const gaveCauseToCall = ({ called, phase, bound, occlusion }: ReadingEvent): boolean =>
  called === true && phase !== 'after_cleaning' && bound !== 'at_most' && occlusion >= CAUSE_TO_CALL;

/** Rounding step of a look: people say 0, 5, 10 … per cent. */
const LOOK_STEP = 0.05;
const FINE_STEP = 0.01;

function readingStep(event: ReadingEvent, index: number): Step {
  const look = event.method === 'outlet_look';
  const method = event.method === 'camera' ? 0 : look ? 1 : 2;
  const width = look ? LOOK_STEP : FINE_STEP;
  const nothingSeen = event.bound !== 'at_least' && event.occlusion <= width / 4;
  const action = nothingSeen
    ? AT_MOST
    : event.bound === 'exact'
      ? EXACT
      : event.bound === 'at_most'
        ? AT_MOST
        : AT_LEAST;
  return {
    action,
    day: event.day,
    value: nothingSeen ? width / 2 : Math.min(1, event.occlusion),
    // The error a look was booked with goes by what it saw; a likelihood has to go by what there was to see.
    variance: look ? SHARE_ERROR.outlet_look * SHARE_ERROR.outlet_look : event.sd * event.sd,
    rounding: action === EXACT ? (width * width) / 12 : 0,
    method,
    confirmed: event.confirmed === true ? 1 : 0,
    called: gaveCauseToCall(event) ? 1 : 0,
    event: index,
  };
}

function stepsOfLine(line: LineEvidence, asOfDay: number, without: number): Step[] {
  const steps: Step[] = [];
  let day = line.start.day;
  let resetDay = day;
  let cleanDay = -Infinity;
  const blank = { variance: 0, rounding: 0, method: 0, confirmed: 0, called: 0 };
  line.events.forEach((event: EvidenceEvent, index) => {
    if (event.day > asOfDay) return;
    const at = Math.max(day, event.day);
    if (event.kind === 'clean') cleanDay = at;
    if (event.kind === 'reading' && event.phase === 'after_cleaning' && at - cleanDay > SAME_VISIT_DAYS) {
      steps.push({ action: CLEAN, day: at, value: (at - resetDay) / YEAR_DAYS, event: index, ...blank });
      resetDay = at;
      cleanDay = at;
      day = at;
    }
    if (index === without) return;
    if (event.kind === 'reading') {
      steps.push({ ...readingStep(event, index), day: at });
    } else if (event.kind === 'plugged') {
      const slip =
        event.cause === 'deposit' ? PLUG_SLIP : event.cause === 'unknown' ? UNKNOWN_CAUSE_SLIP : null;
      if (slip === null) return;
      const markDay = Math.max(day, at - PLUG_NOTICED_DAYS);
      steps.push({ action: MARK, day: markDay, value: 0, event: index, ...blank });
      steps.push({ action: PLUGGED, day: at, value: slip, event: index, ...blank });
    } else {
      const action = event.kind === 'clean' ? CLEAN : REGIME;
      steps.push({ action, day: at, value: (at - resetDay) / YEAR_DAYS, event: index, ...blank });
      resetDay = at;
    }
    day = at;
  });
  return steps;
}

/**
 * @param asOfDay Later events are left out.
 * @param without Index of an event to leave out of every line; −1 for none.
 */
export function lineSteps(lines: readonly LineEvidence[], asOfDay: number, without = -1): LineSteps {
  const all = lines.map((line) => stepsOfLine(line, asOfDay, without));
  const total = all.reduce((sum, steps) => sum + steps.length, 0);
  const out: LineSteps = {
    first: new Int32Array(lines.length + 1),
    action: new Uint8Array(total),
    day: freshRow(total),
    days: freshRow(total),
    age: freshRow(total),
    sine: freshRow(total),
    cosine: freshRow(total),
    value: freshRow(total),
    variance: freshRow(total),
    rounding: freshRow(total),
    method: new Uint8Array(total),
    confirmed: new Uint8Array(total),
    called: new Uint8Array(total),
    event: new Int32Array(total),
    startsClean: new Uint8Array(lines.length),
    lastDay: freshRow(lines.length),
    lastCleanDay: freshRow(lines.length),
  };
  let s = 0;
  lines.forEach((line, i) => {
    out.first[i] = s;
    out.startsClean[i] = line.start.kind === 'clean' ? 1 : 0;
    let day = line.start.day;
    let cleanDay = -Infinity;
    for (const step of all[i] ?? []) {
      out.age[s] = day - cleanDay;
      if (step.action === CLEAN) cleanDay = step.day;
      out.action[s] = step.action;
      out.day[s] = step.day;
      out.days[s] = step.day - day;
      out.sine[s] = (Math.sin(YEAR_ANGLE * step.day) - Math.sin(YEAR_ANGLE * day)) / YEAR_ANGLE;
      out.cosine[s] = (Math.cos(YEAR_ANGLE * step.day) - Math.cos(YEAR_ANGLE * day)) / YEAR_ANGLE;
      out.value[s] = step.value;
      out.variance[s] = step.variance;
      out.rounding[s] = step.rounding;
      out.method[s] = step.method;
      out.confirmed[s] = step.confirmed;
      out.called[s] = step.called;
      out.event[s] = step.event;
      day = step.day;
      s++;
    }
    out.lastDay[i] = day;
    out.lastCleanDay[i] = cleanDay;
  });
  out.first[lines.length] = s;
  return out;
}
