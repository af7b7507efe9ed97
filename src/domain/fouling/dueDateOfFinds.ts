import { dueDate } from './dueDate.js';
import type { DueDate, DueDateInput } from './dueDateInput.js';
import type { LineEvidence, LineForecast, ReadingEvent } from './evidence.js';

/** Lower finds are tried at so many steps of the bore: 5 % apart, as people estimate. */
const STEPS = 20;

/**
 * The due date of a line whose last finds may be slips: no later than it would be had less been found. The forecast
 * believes a find the less the worse it is, so that by itself it would send the crew later to the fuller line.
 *
 * @param inputOf What the rules read, by a forecast.
 */
export function dueDateOfFinds(
  forecast: LineForecast,
  inputOf: (forecast: LineForecast) => DueDateInput,
): DueDate {
  const input = inputOf(forecast);
  const due = dueDate(input);
  const unsure = unsureFinds(forecast);
  if (unsure.length === 0) return due;
  const most = Math.max(...unsure.map(({ occlusion }) => occlusion));
  let earliest = firstDay(due);
  let lowerFind: DueDateInput['lowerFind'] = null;
  for (let step = 1; step / STEPS < most && earliest > forecast.asOfDay; step++) {
    const occlusion = step / STEPS;
    const dueDay = firstDay(dueDate(inputOf(forecast.given(cappedAt(forecast.evidence, unsure, occlusion)))));
    if (dueDay >= earliest) continue;
    earliest = dueDay;
    lowerFind = { occlusion, dueDay };
  }
  return lowerFind === null ? due : dueDate({ ...input, lowerFind });
}

/** The earliest day that any rule names; decisions and seasons come after. */
const firstDay = ({ candidates }: DueDate): number =>
  Math.min(...candidates.map(({ day }) => day ?? Infinity));

/** Of the running cycle and the one before it. */
function unsureFinds({ evidence, unsure }: LineForecast): ReadingEvent[] {
  const { events } = evidence;
  const lastClean = events.findLastIndex(({ kind }) => kind === 'clean');
  const from = events.slice(0, Math.max(0, lastClean)).findLastIndex(({ kind }) => kind === 'clean') + 1;
  return events
    .slice(from)
    .filter(
      (event): event is ReadingEvent =>
        event.kind === 'reading' && event.phase !== 'after_cleaning' && unsure.has(event.id),
    );
}

function cappedAt(line: LineEvidence, finds: readonly ReadingEvent[], share: number): LineEvidence {
  const capped = new Set(finds.filter(({ occlusion }) => occlusion > share));
  const events = line.events.map((event) =>
    capped.has(event as ReadingEvent) ? { ...(event as ReadingEvent), occlusion: share } : event,
  );
  return { ...line, events };
}
