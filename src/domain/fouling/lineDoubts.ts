import type { Doubt, DoubtReason, LineEvidence, PluggedEvent, ReadingEvent } from './evidence.js';
import type { BaseFit, FittedShape } from './fitBase.js';
import { lineBelief } from './lineBelief.js';
import { levelMoments } from './lineLevel.js';
import { lineLikelihood } from './lineLikelihood.js';
import { layLines, readsOf } from './lineRead.js';
import { lineSteps, plugSlip } from './lineSteps.js';

/** Older readings are past checking. */
const LOOKED_AT = 24;
/** A slip is told to the office when it is likelier than not. */
const TOLD = 0.5;
/** A way the slip may have come about is named when the line is this much likelier with it than without the reading. */
const NAMED = Math.log(3);
const SAME_VISIT_DAYS = 1;
/** A line believed fuller than this surprises nobody when it plugs (common practice, no source). */
const FORESEEN = 0.5;

/** Log likelihood of a line's events, the event at `without` left out; −1 for none. */
type Likelihood = (events: LineEvidence['events'], without?: number) => number;

/**
 * Readings more likely slips than not, under all others of the line, before and after them, each with the slip it
 * fits best. The likelihood of a line is that of a right reading and that of a slip, weighted: what it would be if
 * the reading were confirmed gives the first. So with a plug: it is told where it is likelier that deposit had nothing
 * to do with it than that the line filled up so fast.
 * @param suspects Readings worth a closer look, by their place among the events: see `lineHindsight`.
 */
export function lineDoubts(
  fit: BaseFit,
  fitted: FittedShape,
  line: LineEvidence,
  asOfDay: number,
  suspects: ReadonlySet<number>,
): Doubt[] {
  if (suspects.size === 0) return [];
  const likelihood = likelihoodOf(fit, fitted, line, asOfDay);
  const { grossShare } = fitted.parameters;
  const all = likelihood(line.events);
  const doubts: Doubt[] = [];
  line.events.forEach((event, index) => {
    if (!suspects.has(index) || (event.kind !== 'reading' && event.kind !== 'plugged')) return;
    if (index < line.events.length - 3 * LOOKED_AT) return;
    const slip = event.kind === 'reading' ? grossShare : (plugSlip(event) ?? 0);
    const right = likelihood(changed(line, index, { ...event, confirmed: true }));
    const suspicion = Math.max(0, 1 - (1 - slip) * Math.exp(right - all));
    if (suspicion < TOLD) return;
    const told =
      event.kind === 'reading'
        ? { ...reasonOf(line, index, event, likelihood), fits: fittingShare(line, index, event, likelihood) }
        : knewNothing(line, index)
          ? null
          : unforeseen(believedBefore(fit, line, index, event.day), event);
    if (told === null) return;
    const { reason, text, fits } = told;
    doubts.push({ id: event.id, reason, text, weight: 1 - suspicion, suspicion, fits });
  });
  return doubts.sort((a, b) => a.weight - b.weight || (a.id < b.id ? -1 : 1));
}

function likelihoodOf(fit: BaseFit, fitted: FittedShape, line: LineEvidence, asOfDay: number): Likelihood {
  const likelihood = lineLikelihood(fit, fitted, line);
  return (events, without = -1) => likelihood(lineSteps([{ ...line, events }], asOfDay, without));
}

/** Level believed of the line when a crew found otherwise: by all events before that one. */
function believedBefore(fit: BaseFit, line: LineEvidence, index: number, day: number): number {
  const before = { ...line, events: line.events.slice(0, index) };
  const reads = readsOf({ ...layLines([before], day), i: 0 }, fit.shapes, day);
  const beliefs = fit.shapes.map((fitted, law) => {
    const read = reads[law]!;
    return lineBelief(fit, fitted, before, read, day - read.cleanDay);
  });
  return levelMoments(beliefs).mean;
}

/** The first record of a line of unknown past: nobody had believed anything of it that a plug could gainsay. */
const knewNothing = ({ start, events }: LineEvidence, index: number): boolean =>
  start.kind === 'unknown' && !events.slice(0, index).some(({ kind }) => kind !== 'regime');

function unforeseen(
  believed: number,
  { cause }: PluggedEvent,
): Pick<Doubt, 'reason' | 'text' | 'fits'> | null {
  if (believed > FORESEEN) return null;
  const by = cause === 'deposit' ? 'by deposit' : 'for an unknown cause';
  return {
    reason: 'plug_unforeseen',
    fits: believed,
    text: `found plugged ${by} although the line was believed at ${percent(believed)}: confirm that deposit filled it, or dismiss it where something else did`,
  };
}

function changed(
  line: LineEvidence,
  index: number,
  event: ReadingEvent | PluggedEvent,
): LineEvidence['events'] {
  return line.events.map((each, i) => (i === index ? event : each));
}

const percent = (share: number): string => `${Math.round(100 * share)} %`;

const TENTHS = [0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1];

/** The tenth under which the line is likeliest. */
function fittingShare(
  line: LineEvidence,
  index: number,
  event: ReadingEvent,
  likelihood: Likelihood,
): number {
  const gains = TENTHS.map((occlusion) =>
    likelihood(changed(line, index, { ...event, occlusion, confirmed: true })),
  );
  return TENTHS[gains.indexOf(Math.max(...gains))] ?? 0;
}

/** Standard deviations of their difference within which two finds agree. */
const AGREES = 2;

/**
 * High finds in doubt and what bears them out: another find of the same cycle, of another day, alike within their
 * errors. Nobody makes the same slip twice.
 * @returns The ids of both.
 */
export function agreedFinds(
  events: LineEvidence['events'],
  doubts: readonly Pick<Doubt, 'id' | 'fits'>[],
): ReadonlySet<string> {
  const fits = new Map(doubts.map((doubt) => [doubt.id, doubt.fits]));
  const isHigh = ({ id, occlusion }: ReadingEvent): boolean => occlusion > (fits.get(id) ?? 1);
  const agreed = new Set<string>();
  let cycle: ReadingEvent[] = [];
  for (const event of events) {
    if (event.kind === 'clean') cycle = [];
    if (event.kind !== 'reading' || event.phase === 'after_cleaning') continue;
    for (const before of cycle) {
      if (!isHigh(event) && !isHigh(before)) continue;
      const apart = Math.floor(event.day) - Math.floor(before.day) >= 1;
      const alike = Math.abs(event.occlusion - before.occlusion) <= AGREES * Math.hypot(event.sd, before.sd);
      if (apart && alike) agreed.add(before.id).add(event.id);
    }
    cycle.push(event);
  }
  return agreed;
}

/** The slip under which the line is likeliest. */
function reasonOf(
  line: LineEvidence,
  index: number,
  event: ReadingEvent,
  likelihood: Likelihood,
): { reason: DoubtReason; text: string } {
  const { occlusion } = event;
  const without = likelihood(line.events, index);
  let best: { gain: number; reason: DoubtReason; text: string } = {
    gain: NAMED,
    reason: 'does_not_fit',
    text: `${percent(occlusion)} does not fit the other readings of the line`,
  };
  const weigh = (reason: DoubtReason, gain: number, text: string): void => {
    if (gain > best.gain) best = { gain, reason, text };
  };
  const as = (share: number): number =>
    likelihood(changed(line, index, { ...event, occlusion: share, confirmed: true })) - without;
  weigh(
    'free_bore_entered',
    as(1 - occlusion),
    `${percent(1 - occlusion)} would fit: the free bore may have been entered for the blocked bore`,
  );
  const undivided = 100 * occlusion;
  if (occlusion > 0 && undivided <= 1) {
    weigh(
      'divided_twice',
      as(undivided),
      `${percent(undivided)} would fit: a per cent may have been divided twice`,
    );
  }
  const other = otherOfVisit(line, index, event);
  if (other !== null) {
    const swapped = line.events.map((each, i) =>
      i === index
        ? { ...event, occlusion: other.event.occlusion, confirmed: true }
        : i === other.index
          ? { ...other.event, occlusion, confirmed: true }
          : each,
    );
    // The other reading counts on both sides: as it was written down, and swapped.
    const written = changed(line, other.index, { ...other.event, confirmed: true });
    weigh(
      'phases_swapped',
      likelihood(swapped) - likelihood(written, index),
      `${percent(occlusion)} and ${percent(other.event.occlusion)} fit the other way round: before and after cleaning may have been swapped`,
    );
  }
  return best;
}

/** The reading on the other side of the same visit's clean. */
function otherOfVisit(
  line: LineEvidence,
  index: number,
  event: ReadingEvent,
): { index: number; event: ReadingEvent } | null {
  const wanted =
    event.phase === 'before_cleaning'
      ? 'after_cleaning'
      : event.phase === 'after_cleaning'
        ? 'before_cleaning'
        : null;
  for (let i = Math.max(0, index - 3); i < Math.min(line.events.length, index + 4); i++) {
    const each = line.events[i];
    if (each?.kind !== 'reading' || each.phase !== wanted || each.bound !== 'exact') continue;
    if (Math.abs(each.day - event.day) < SAME_VISIT_DAYS) return { index: i, event: each };
  }
  return null;
}
