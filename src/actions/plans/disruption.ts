import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { TaskKind } from '../../domain/words.js';

/** What upsets a day. */
export type Disruption =
  | { kind: 'crew_sick'; crewId: string; toDay?: IsoDate | undefined }
  | { kind: 'crew_short'; crewId: string; people?: number | undefined; memberId?: string | undefined }
  | { kind: 'crew_broken_down'; crewId: string; backAt?: string | undefined }
  | { kind: 'rain'; depotId?: string | undefined; tasks?: readonly TaskKind[] | undefined };

export interface DisruptAsk {
  day: IsoDate;
  what: Disruption;
  note: string | null;
  searchSeconds: number;
  seed: number;
}
