import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import type { LifeUnit, NoticeUnit } from '../../domain/words.js';
import { listsNoHolidays } from '../../domain/work/locateTicket.js';

/**
 * A rule in use that counts business days lists the holidays on which nobody counts.
 *
 * @throws {Refused} `rule-broken`.
 */
export function refuseNoHolidays(row: Row): void {
  const inUse = (row['confirmed_on'] ?? null) !== null && (row['archived_on'] ?? null) === null;
  const rule = {
    noticeUnit: row['notice_unit'] as NoticeUnit,
    lifeUnit: (row['life_unit'] ?? null) as LifeUnit | null,
    startWithinDays: (row['start_within_days'] ?? null) as number | null,
    startWithinUnit: (row['start_within_unit'] ?? 'calendar_day') as LifeUnit,
    holidays: (row['holidays'] ?? []) as string[],
  };
  if (inUse && listsNoHolidays(rule))
    throw ruleBroken(
      'locate-rule',
      '#/holidays',
      'lists none, and the rule counts business days: every holiday would count as one',
      'the holidays the law names, of this year and the next',
    );
}
