import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { TaskKind } from '../../domain/words.js';
import { somebodyMustAgree } from '../../domain/work/preconditionRules.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/**
 * Visits ahead on crews' routes of the days at houses where somebody must be home and whose clients were told no day:
 * phone, then put the promise on record. By day and hour.
 */
export const toAgree = async (stores: Stores, fromDay: IsoDate, toDay: IsoDate): Promise<Row[]> =>
  (await stores.desk.notAgreed(fromDay, toDay)).filter((row) =>
    somebodyMustAgree(String(row['access']), row['tasks'] as TaskKind[]),
  );
