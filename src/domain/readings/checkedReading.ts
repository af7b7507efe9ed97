import { bucketFlow, SHORTEST_FILL_S } from '../hydraulics/bucketFlow.js';
import { type CheckedReading, OCCLUSION_WORDS, type Reading, type ReadingFault } from './reading.js';

type Checked = { ok: true; reading: CheckedReading } | { ok: false; faults: ReadingFault[] };

/**
 * A reading with its fields checked against its method.
 *
 * @returns Faults that point to the field as an app knows it (`#/reading/depth`), with what would be right.
 */
export function checkedReading(reading: Reading): Checked {
  if (reading.plugged !== undefined) return good({ form: 'plugged', cause: reading.plugged });
  if (reading.share !== undefined) return share(reading, reading.share);
  switch (reading.method) {
    case 'camera':
    case 'outlet_look':
      return wrong(
        'share',
        undefined,
        `a reading by ${reading.method} gives the share of the bore that is blocked, 0 to 1`,
      );
    case 'outlet_depth':
      return depth(reading);
    case 'timed_fill':
      return timedFill(reading);
    case 'poured_flow':
      return pouredFlow(reading);
    case 'pit_drawdown':
      return drawdown(reading);
    case 'passes_to_clear':
      return passes(reading);
    case 'by_word':
      return byWord(reading);
    default:
      return reading.method satisfies never;
  }
}

const good = (reading: CheckedReading): Checked => ({ ok: true, reading });

function wrong(field: string, value: unknown, remedy: string): Checked {
  const detail = value === undefined ? 'is missing' : `is out of range: ${value}`;
  return { ok: false, faults: [{ pointer: `#/reading/${field}`, value, detail, remedy }] };
}

const above = (value: number | undefined, least: number): value is number =>
  value !== undefined && Number.isFinite(value) && value >= least;

function share({ method }: Reading, value: number): Checked {
  if (value >= 0 && value <= 1) return good({ form: 'share', method, share: value });
  return wrong('share', value, 'a share of the bore, 0 to 1 (percent divided by 100 once)');
}

function depth({ depthMm }: Reading): Checked {
  if (above(depthMm, 0)) return good({ form: 'depth', depthMm });
  return wrong('depth', depthMm, 'the depth of the deposit, zero or more (or the share of the bore)');
}

function timedFill({ volumeL, seconds, timings = 1 }: Reading): Checked {
  if (!above(volumeL, Number.MIN_VALUE)) {
    return wrong('volume', volumeL, 'a timed fill gives a volume above zero, and seconds (or the share)');
  }
  if (!above(seconds, Number.MIN_VALUE))
    return wrong('seconds', seconds, 'the seconds of the fill, above zero');
  if (!bucketFlow(volumeL, seconds).usable) {
    return wrong('seconds', seconds, `a fill of ${SHORTEST_FILL_S} s or longer; take a larger vessel`);
  }
  if (!above(timings, 1)) return wrong('timings', timings, 'how often it was timed, from 1');
  return good({ form: 'timed_fill', volumeL, seconds, timings });
}

function pouredFlow({ flowLps, backsUp }: Reading): Checked {
  if (!above(flowLps, Number.MIN_VALUE)) return wrong('flow', flowLps, 'the flow poured in, above zero');
  if (backsUp === undefined) return wrong('backsUp', undefined, 'whether the water backs up');
  return good({ form: 'poured_flow', flowLps, backsUp });
}

function drawdown({ riseMmPerMinute, fallMmPerMinute }: Reading): Checked {
  if (!above(riseMmPerMinute, 0)) {
    return wrong('rise', riseMmPerMinute, 'the rise of the pit with the pump off, mm a minute, zero or more');
  }
  if (fallMmPerMinute === undefined || !Number.isFinite(fallMmPerMinute)) {
    return wrong('fall', fallMmPerMinute, 'the fall of the pit with the pump on, mm a minute');
  }
  return good({ form: 'drawdown', riseMmPerMinute, fallMmPerMinute });
}

function passes({ passes, cameBack, nozzleStoppedAtM }: Reading): Checked {
  if (nozzleStoppedAtM !== undefined) {
    if (above(nozzleStoppedAtM, 0)) return good({ form: 'nozzle_stopped', atM: nozzleStoppedAtM });
    return wrong('nozzleStopped', nozzleStoppedAtM, 'the distance from the entry, zero or more');
  }
  if (passes === undefined && cameBack !== undefined) return good({ form: 'came_back', cameBack });
  if (!above(passes, 1) || !Number.isInteger(passes)) return wrong('passes', passes, 'a whole number from 1');
  return good({ form: 'passes', passes, cameBack: cameBack ?? null });
}

function byWord({ word, cameBack }: Reading): Checked {
  if (word !== undefined) return good({ form: 'word', word, cameBack: cameBack ?? null });
  if (cameBack !== undefined) return good({ form: 'came_back', cameBack });
  return wrong('word', undefined, `one of ${OCCLUSION_WORDS.join(', ')}, or what came back`);
}
