/**
 * Speeds that carry a deposit along, m/s. Drains: Panuska, Univ. of Wisconsin, after ASAE EP480 (.5 ft/s without
 * silt, 1.4 ft/s with fine sand or silt). Pressure and sewer lines: 2 ft/s, the minimum of sewer codes.
 */
export const SCOURING_MPS = { clear_water: 0.1524, silt: 0.42672, pressure_line: 0.6096 } as const;

export type Carried = keyof typeof SCOURING_MPS;

export const scours = (speedMps: number, carried: Carried): boolean => speedMps >= SCOURING_MPS[carried];
