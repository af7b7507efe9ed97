/** A flow measured with a vessel and a stopwatch. */
export interface BucketFlow {
  flowLps: number;
  relativeError: number;
  /** Too short a fill cannot be timed. */
  usable: boolean;
}

/** Shortest fill that can be timed, seconds. Connected Water (Australia), volumetric method. */
export const SHORTEST_FILL_S = 3;
/** A crew reads vessel and watch to about so much (common practice, no source). */
const VOLUME_ERROR_SHARE = 0.03;
const WATCH_ERROR_S = 0.3;

/** @throws {RangeError} When volume, seconds or timings are not above zero. */
export function bucketFlow(volumeL: number, seconds: number, timings = 1): BucketFlow {
  if (!(volumeL > 0 && seconds > 0 && timings >= 1))
    throw new RangeError('volume and seconds are above zero');
  return {
    flowLps: volumeL / seconds,
    relativeError: bucketError(VOLUME_ERROR_SHARE, WATCH_ERROR_S / seconds, timings),
    usable: seconds >= SHORTEST_FILL_S,
  };
}

/** Timings average out, the volume's error is in each of them. */
export const bucketError = (volumeErrorShare: number, timeErrorShare: number, timings = 1): number =>
  Math.sqrt(volumeErrorShare ** 2 + timeErrorShare ** 2 / timings);

/** Outflow of a field drain over the land it drains, mm a day. VND (Dutch drainage contractors), maintenance. */
export const fieldDrainMmPerDay = (lengthM: number, spacingM: number, flowLps: number): number =>
  (86_400 * flowLps) / (lengthM * spacingM);

/** A sound field drain in a wet time gives at least so much. VND, maintenance. */
export const isSoundFieldDrain = (mmPerDay: number): boolean => mmPerDay >= 7;
