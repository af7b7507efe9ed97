import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import { publishDay } from '../desk/publishing.js';
import type { House, Stores } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { tellWaiting } from '../telling/syncWaiting.js';
import { newEvent, tell } from '../telling/tell.js';
import { tellReminders } from '../telling/visits.js';
import { forgetOld } from './forgetOld.js';
import { firstPlannedDay } from './routeDays.js';
import { scoreForecasts } from './scoreForecasts.js';

/**
 * Step `tell`: how past forecasts fared, and events others may subscribe to, each once; what need not be remembered
 * is forgotten.
 */
export async function tellNight(
  house: House,
  stores: Stores,
  day: IsoDate,
  runId: string,
  onFailed?: (error: unknown, what: string) => void,
): Promise<Record<string, number>> {
  const settings = await ownerSettings(stores);
  const { judged, report } = await scoreForecasts(house, stores, day);
  // Once a month as long as it is off.
  if (report.off)
    await tell(stores, {
      type: 'model_off',
      subjectId: runId,
      once: day.slice(0, 7),
      facts: { findings: report.findings },
    });
  // Crews hear of their next day; days further on may still change in silence.
  const [next] = await stores.rows.page('route', {
    where: [
      { column: 'state', is: '=', value: 'live' },
      { column: 'on_call', is: '=', value: false },
      { column: 'day', is: '>=', value: firstPlannedDay(house) },
    ],
    sort: { column: 'day', descending: false },
    limit: 1,
  });
  const published = next ? await publishDay(house, stores, 'night', String(next['day'])) : 0;
  const reminders = await tellReminders(stores, addDays(day, 1), addDays(day, settings.telling.reminderDays));
  // A line nobody has read yet is a guess: a book that moves in is no news of hundreds of lines.
  const over = await stores.rows.all(
    'trend_list',
    [
      { column: 'action_chance_30d', is: '>=', value: settings.intervals.overLimitChance },
      { column: 'readings_used', is: '>', value: 0 },
    ],
    'id',
  );
  await stores.events.tell(over.map(pastLimit));
  await tellWaiting(house, stores, day);
  const forgotten = await forgetIfItGoes(house, stores, settings, onFailed);
  return {
    published,
    reminders,
    linesPastLimit: over.length,
    judged,
    modelOff: report.off ? 1 : 0,
    ...forgotten,
  };
}

/** Nobody goes without word because something old could not be forgotten: that is the next night's turn. */
async function forgetIfItGoes(
  house: House,
  stores: Stores,
  settings: OwnerSettings,
  onFailed?: (error: unknown, what: string) => void,
): Promise<Record<string, number>> {
  try {
    const counts = await stores.within(() => forgetOld(stores, settings, house.clock.now()));
    return { ...counts, forgettingFailed: 0 };
  } catch (error) {
    onFailed?.(error, 'what is old was not forgotten; the next night tries again');
    return { forgettingFailed: 1 };
  }
}

/** Told anew when new evidence puts the line there. */
const pastLimit = (trend: Row) =>
  newEvent({
    type: 'line_past_limit',
    subjectId: String(trend['id']),
    once: `${String(trend['id'])}:${String(trend['last_evidence_at'])}`,
    facts: {
      lineName: String(trend['name']),
      address: String(trend['address']),
      occlusion: Number(trend['occlusion']),
      actionLimit: Number(trend['action_limit']),
      dueOn: trend['due_on'] as IsoDate | null,
    },
    about: { lineId: String(trend['id']), siteId: String(trend['site_id']) },
  });
