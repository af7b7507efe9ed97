/** Minutes from one pump start to the next, V/Qin + V/(Qp − Qin); null where the pump does not win or nothing runs in. */
export function cycleMinutes(activeVolumeL: number, pumpLps: number, inflowLps: number): number | null {
  if (!(activeVolumeL > 0)) throw new RangeError(`a pit's active volume is above zero: ${activeVolumeL} L`);
  if (inflowLps <= 0 || inflowLps >= pumpLps) return null;
  return (activeVolumeL / inflowLps + activeVolumeL / (pumpLps - inflowLps)) / 60;
}

/** Pump starts an hour: none in a dry pit, none (it never stops) where the inflow is as large as the pump. */
export function startsPerHour(activeVolumeL: number, pumpLps: number, inflowLps: number): number {
  const minutes = cycleMinutes(activeVolumeL, pumpLps, inflowLps);
  return minutes === null ? 0 : 60 / minutes;
}

/** The inflow that starts a pump most often, half of what it moves. */
export const inflowOfShortestCycleLps = (pumpLps: number): number => pumpLps / 2;

/** 4V/Qp, minutes. MIL-HDBK-1005/9A, 2.5.3.6. */
export const shortestCycleMinutes = (activeVolumeL: number, pumpLps: number): number =>
  (4 * activeVolumeL) / pumpLps / 60;

/** Volume between the floats for a shortest cycle, V = t Qp/4. EI 11C201 (UFC 3-240-04A), chapter 7. */
export const activeVolumeL = (shortestCycleMin: number, pumpLps: number): number =>
  (shortestCycleMin * 60 * pumpLps) / 4;

/** Share of the time the pump runs; 1 where it never catches up. */
export const dutyShare = (pumpLps: number, inflowLps: number): number => Math.min(1, inflowLps / pumpLps);

/** Water in a millimetre of a round pit, litres. */
export const litresPerMm = (pitDiameterMm: number): number => (Math.PI * (pitDiameterMm / 1000) ** 2) / 4;

/** Inflow from the rise of a pit with the pump off; with the fall added back, what the pump moves. */
export const flowOfLevelLps = (pitDiameterMm: number, mmPerMinute: number): number =>
  (litresPerMm(pitDiameterMm) * mmPerMinute) / 60;
