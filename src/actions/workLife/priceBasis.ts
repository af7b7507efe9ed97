import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { PlugCause, TaskKind } from '../../domain/words.js';
import { opensGround } from '../../domain/work/preconditionRules.js';
import { basisByTerms, inForce, isWarranty, type PriceBasis } from '../../domain/work/priceBasis.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

interface Task {
  kind: TaskKind;
  lineId: string | null;
  pitId: string | null;
}

/** What work on a site is paid by where nobody said: its care terms where they cover all of it, else time and material. */
export async function basisOf(
  stores: Stores,
  siteId: string,
  tasks: readonly Task[],
  today: IsoDate,
): Promise<PriceBasis> {
  const terms = await stores.rows.all('care_terms', [{ column: 'site_id', is: '=', value: siteId }]);
  const now = terms.filter((row) =>
    inForce({ fromDay: String(row['from_day']), toDay: row['to_day'] as IsoDate | null }, today),
  );
  if (now.length === 0) return 'time_and_material';
  const lines = await stores.rows.all('line', [{ column: 'site_id', is: '=', value: siteId }]);
  const pits = await stores.rows.all('pit', [{ column: 'site_id', is: '=', value: siteId }]);
  const ofPit = (pitId: string | null) => {
    const systemId = pits.find((pit) => pit['id'] === pitId)?.['system_id'];
    return lines.filter((line) => line['system_id'] === systemId).map((line) => String(line['id']));
  };
  return basisByTerms(
    now.map((row) => ({ lineIds: row['line_ids'] as string[] })),
    tasks.map(({ kind, lineId, pitId }) => ({ kind, lineIds: lineId === null ? ofPit(pitId) : [lineId] })),
  );
}

/** A plug this soon after a clean that proved flow is ours to open (common practice, no source). */
const WARRANTY_DAYS = 30;

/**
 * What the next rung on a line is paid by, by its task: warranty soon after a clean that proved flow where what fouls
 * plugged it, a quote where the ground is opened, else as for any work on it.
 */
export async function rungPrice(
  stores: Stores,
  line: Row,
  plugged: PlugCause | null,
  today: IsoDate,
): Promise<(task: TaskKind) => Promise<PriceBasis>> {
  const cleans = await stores.rows.all('clean', [
    { column: 'line_id', is: '=', value: line['id'] },
    { column: 'flow_proven', is: '=', value: 'yes' },
    { column: 'withdrawn_at', is: 'null' },
  ]);
  const soon = Date.parse(`${addDays(today, -WARRANTY_DAYS)}T00:00:00Z`);
  const isOurs = isWarranty(plugged) && cleans.some((row) => Date.parse(String(row['cleaned_at'])) >= soon);
  const lineId = String(line['id']);
  return async (kind) => {
    if (opensGround([kind])) return 'quote';
    if (isOurs) return 'warranty';
    return basisOf(stores, String(line['site_id']), [{ kind, lineId, pitId: null }], today);
  };
}
