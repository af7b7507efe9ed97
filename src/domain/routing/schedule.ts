import { latestEndAfterBreaks, restForward } from './breaks.js';
import type { Model } from './model.js';
import type { PlannedRoute, PlannedStop, VisitStop } from './plan.js';
import { SITE } from './refillTour.js';
import type { RouteState } from './routeState.js';
import { NEVER, nextOpen } from './windows.js';

/** Times at which a break may begin: twice at every step (on arrival, before leaving) and before the first. */
interface RestPoint {
  readonly before: Int32Array;
  readonly after: Int32Array;
}

/** Writes out the day of crew-day v stop by stop, each as early as it can be, breaks and refills included. */
export function scheduleRoute(state: RouteState, v: number): PlannedRoute {
  const { model } = state;
  const steps = stepsOf(state, v);
  const rests = steps.length === 0 ? [] : chooseRests(model, v, steps);
  return writeRoute(state, v, steps, rests);
}

/** Orders and sites in sequence. A crew under way drives home however late it is. */
function stepsOf(state: RouteState, v: number): number[] {
  const { model, next } = state;
  if (state.refilled[v] === 1) {
    const tour = state.tourOf(v);
    if (tour.cost === Infinity)
      throw new RangeError(`crew-day ${model.crewDays[v]!.id} cannot be driven as planned`);
    return tour.steps();
  }
  const steps: number[] = [];
  for (let j = next[model.orderCount + v]!; j < model.orderCount; j = next[j]!) steps.push(j);
  return steps;
}

const placeOf = (model: Model, step: number) =>
  step >= SITE ? model.refillSites[step - SITE]!.location : model.locationOf[step]!;

/** How many breaks to take at each rest point so that the day ends earliest. */
function chooseRests(model: Model, v: number, steps: readonly number[]): number[] {
  const breaks = model.breakCount[v]!;
  const points: RestPoint[] = [];
  let times = new Int32Array(breaks + 1).fill(NEVER);
  times[0] = model.shiftStart[v]!;
  const rest = (service = 0) => {
    const before = times.slice();
    restForward(model, v, times, 0, 1, service);
    points.push({ before, after: times.slice() });
  };
  const shift = (seconds: number) => {
    times = times.map((time) => Math.min(NEVER, time + seconds));
  };

  rest();
  let here = model.locationOf[model.orderCount + v]!;
  for (const step of steps) {
    const there = placeOf(model, step);
    shift(model.arcSeconds[here * model.size + there]!);
    rest();
    if (step < SITE) {
      const pair = step * model.dayCount + model.dayOf[v]!;
      times = times.map((time) => nextOpen(model.windows, pair, time));
    }
    shift(secondsAt(model, v, step));
    rest(step < SITE ? secondsAt(model, v, step) : 0);
    here = there;
  }
  shift(model.arcSeconds[here * model.size + model.locationOf[model.orderCount + model.crewDayCount + v]!]!);

  let taken = 0;
  let earliest = NEVER;
  for (let b = 0; b <= breaks; b++) {
    if (times[b]! <= latestEndAfterBreaks(model, v, b) && times[b]! < earliest) {
      taken = b;
      earliest = times[b]!;
    }
  }
  const counts = points.map(() => 0);
  for (let p = points.length - 1; p >= 0; p--) {
    while (taken > 0 && points[p]!.after[taken]! < points[p]!.before[taken]!) {
      taken--;
      counts[p] = counts[p]! + 1;
    }
  }
  return counts;
}

function secondsAt(model: Model, v: number, step: number): number {
  return step >= SITE
    ? model.refillSites[step - SITE]!.seconds
    : model.serviceSeconds[step * model.crewDayCount + v]!;
}

function writeRoute(
  state: RouteState,
  v: number,
  steps: readonly number[],
  rests: readonly number[],
): PlannedRoute {
  const { model } = state;
  const { metres } = model.problem.travel;
  const crewDay = model.crewDays[v]!;
  const stops: PlannedStop[] = [];
  let here = model.locationOf[model.orderCount + v]!;
  let time = model.shiftStart[v]!;
  let breaksTaken = 0;
  let travelSeconds = 0;
  let travelMetres = 0;

  const go = (there: number) => {
    const arc = here * model.size + there;
    const leg = { travelSeconds: model.arcSeconds[arc]!, travelMetres: metres[arc]! };
    here = there;
    time += leg.travelSeconds;
    travelSeconds += leg.travelSeconds;
    travelMetres += leg.travelMetres;
    return { location: there, ...leg, arrivalSeconds: time };
  };
  const stay = (from: number, seconds: number) => {
    const waitSeconds = from - time;
    time = from + seconds;
    return { waitSeconds, startSeconds: from, endSeconds: time };
  };
  const rest = (count: number, there: number) => {
    for (let taken = 0; taken < count; taken++) {
      const at = v * model.maxBreaks + breaksTaken++;
      const arrived = go(there);
      const from = Math.max(time, model.breakEarliest[at]!);
      stops.push({ kind: 'break', during: false, ...arrived, ...stay(from, model.breakSeconds[at]!) });
    }
  };
  /** Rests after a visit; one that could no longer begin then was taken in the midst of the work. */
  const restAfter = (count: number, there: number, visit: VisitStop) => {
    const inside: PlannedStop[] = [];
    let free = visit.startSeconds;
    let left = count;
    for (; left > 0; left--) {
      const at = v * model.maxBreaks + breaksTaken;
      if (Math.max(time, model.breakEarliest[at]!) <= model.breakLatest[at]!) break;
      breaksTaken++;
      const from = Math.max(free, model.breakEarliest[at]!);
      free = from + model.breakSeconds[at]!;
      time += model.breakSeconds[at]!;
      inside.push({
        kind: 'break',
        during: true,
        location: there,
        travelSeconds: 0,
        travelMetres: 0,
        arrivalSeconds: from,
        waitSeconds: 0,
        startSeconds: from,
        endSeconds: free,
      });
    }
    stops.push({ ...visit, endSeconds: time }, ...inside);
    rest(left, there);
  };

  rest(rests[0] ?? 0, here);
  steps.forEach((step, k) => {
    const there = placeOf(model, step);
    rest(rests[2 * k + 1]!, there);
    const arrived = go(there);
    if (step >= SITE) {
      const site = model.refillSites[step - SITE]!;
      const kind = site.givesWater ? 'refill' : 'disposal';
      stops.push({ kind, siteId: site.id, ...arrived, ...stay(time, site.seconds) });
    } else {
      const from = nextOpen(model.windows, step * model.dayCount + model.dayOf[v]!, time);
      const orderId = model.orders[step]!.id;
      const visit = { kind: 'visit', orderId, ...arrived, ...stay(from, secondsAt(model, v, step)) } as const;
      restAfter(rests[2 * k + 2]!, there, visit);
      return;
    }
    rest(rests[2 * k + 2]!, there);
  });
  const home = go(model.locationOf[model.orderCount + model.crewDayCount + v]!);

  return {
    crewDayId: crewDay.id,
    crewId: crewDay.crewId,
    day: crewDay.day,
    ...leaveLate(model.shiftStart[v]!, stops),
    returnTravelSeconds: home.travelSeconds,
    returnTravelMetres: home.travelMetres,
    endSeconds: time,
    travelSeconds,
    travelMetres,
    overtimeSeconds: Math.max(0, time - model.shiftEnd[v]!),
    sharedKitIds: state.sharedKit.heldBy(v),
  };
}

/** Waiting in the yard is better than waiting at the first stop. */
function leaveLate(shiftStart: number, stops: readonly PlannedStop[]) {
  const first = stops[0];
  if (!first || first.waitSeconds === 0) return { leaveSeconds: shiftStart, stops };
  const arrivalSeconds = first.startSeconds;
  const later: PlannedStop = { ...first, arrivalSeconds, waitSeconds: 0 };
  return { leaveSeconds: shiftStart + first.waitSeconds, stops: [later, ...stops.slice(1)] };
}
