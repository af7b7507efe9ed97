import type { Model } from './model.js';
import { NEVER } from './windows.js';

/**
 * Times by layers: `times[offset + b * stride]` is the earliest moment with b breaks taken. Lets the crew
 * rest here and now, or in the midst of the work of `service` seconds that ends here: layer b + 1 can be reached
 * from layer b.
 */
export function restForward(
  model: Model,
  v: number,
  times: Int32Array,
  offset: number,
  stride: number,
  service = 0,
): void {
  const count = model.breakCount[v]!;
  for (let b = 0; b < count; b++) {
    const rest = v * model.maxBreaks + b;
    const time = times[offset + b * stride]!;
    if (time - service > model.breakLatest[rest]!) continue;
    const done = Math.max(time, model.breakEarliest[rest]!) + model.breakSeconds[rest]!;
    const layer = offset + (b + 1) * stride;
    if (done < times[layer]!) times[layer] = done;
  }
}

/** The same backwards: `times` are the latest moments; being here with b breaks taken may lead on to b + 1. */
export function restBackward(
  model: Model,
  v: number,
  times: Int32Array,
  offset: number,
  stride: number,
  service = 0,
): void {
  for (let b = model.breakCount[v]! - 1; b >= 0; b--) {
    const rest = v * model.maxBreaks + b;
    const by = times[offset + (b + 1) * stride]! - model.breakSeconds[rest]!;
    const layer = offset + b * stride;
    const here = Math.min(model.breakLatest[rest]! + service, by);
    if (by >= model.breakEarliest[rest]! && here > times[layer]!) times[layer] = here;
  }
}

/** Latest moment route v may end with b breaks taken: the next break falls away only if the day is over by then. */
export function latestEndAfterBreaks(model: Model, v: number, b: number): number {
  if (b > model.breakCount[v]!) return -1;
  if (b === model.breakCount[v]!) return model.latestEnd[v]!;
  return Math.min(model.latestEnd[v]!, model.breakLatest[v * model.maxBreaks + b]!);
}

/** Earliest end over the layers in which the route may end; `NEVER` when there is none. */
export function earliestEnd(
  model: Model,
  v: number,
  arrivals: Int32Array,
  offset: number,
  stride: number,
): number {
  let end = NEVER;
  for (let b = 0; b <= model.breakCount[v]!; b++) {
    const arrival = arrivals[offset + b * stride]!;
    if (arrival <= latestEndAfterBreaks(model, v, b) && arrival < end) end = arrival;
  }
  return end;
}
