import type { Row } from '../../actions/ports.js';
import { ruleBroken } from '../../actions/problems.js';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';

/** Nobody was called out or came home on a day that is still to come, in any zone. @throws {Refused} `rule-broken`. */
export function refuseDaysAhead(row: Row, today: IsoDate): void {
  for (const [column, field] of [
    ['called_at', 'calledAt'],
    ['back_at', 'backAt'],
  ] as const) {
    const at = row[column];
    if (typeof at === 'string' && at.slice(0, 10) > addDays(today, 1))
      throw ruleBroken('call-out', `#/${field}`, `${at} is still to come`, 'an instant up to now');
  }
}
