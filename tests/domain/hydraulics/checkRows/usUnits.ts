import { inUnit, toStored } from '../../../../src/domain/units/quantity.js';

/** US units as the published tables have them, into stored units … */
export const mm = (value: number): number => toStored({ value, unit: 'in' }, 'bore');
export const lps = (value: number): number => toStored({ value, unit: 'gpm' }, 'flow');
export const litres = (value: number): number => toStored({ value, unit: 'gal' }, 'volume');
export const kpa = (value: number): number => toStored({ value, unit: 'psi' }, 'pressure');

/** … and back. */
export const inches = (boreMm: number): number => inUnit(boreMm, 'bore', 'in');
export const feet = (metres: number): number => inUnit(metres, 'length', 'ft');
export const gpm = (flowLps: number): number => inUnit(flowLps, 'flow', 'gpm');
export const cubicFeet = (flowLps: number): number => flowLps / 1000 / 0.3048 ** 3;
export const gallons = (volumeL: number): number => inUnit(volumeL, 'volume', 'gal');
export const psi = (pressureKpa: number): number => inUnit(pressureKpa, 'pressure', 'psi');
export const pounds = (newtons: number): number => inUnit(newtons, 'force', 'lbf');
export const horses = (watts: number): number => inUnit(watts, 'power', 'hp');
