import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { Consequence } from './dayRoutes.js';
import type { Displaced } from './displaced.js';

/** Where an order could go, and what that does. */
export interface OfferedPlace {
  crewId: string;
  crewName: string;
  day: IsoDate;
  /** Out of its shift, by whoever is on call: placed with onCall. */
  onCall: boolean;
  afterWorkOrderId: string | null;
  startsAt: string;
  extraCostMinor: number;
  displaces: Displaced[];
  consequence: Consequence;
}
