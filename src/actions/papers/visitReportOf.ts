import { buffer } from 'node:stream/consumers';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import type { UnitSystem } from '../../domain/units/quantity.js';
import type {
  AttemptResult,
  CameBack,
  FlowProven,
  LineKind,
  NotDoneReason,
  Phase,
  TaskKind,
} from '../../domain/words.js';
import { currencyOf } from '../../papers/money.js';
import type { Photograph } from '../../papers/paper.js';
import { theirs } from '../../papers/paper.js';
import { dayText } from '../../papers/printed.js';
import { trendChart } from '../../papers/trendChart.js';
import type { ReportedAhead, ReportedLine, ReportedTask, VisitReportData } from '../../papers/visitReport.js';
import { PHASE_TEXT } from '../../papers/wording.js';
import type { House } from '../house.js';
import { lineTrend } from '../lineTrend.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import {
  dayOf,
  decisionOf,
  declinedProposals,
  doubtsOf,
  IN_FORCE,
  is,
  isIn,
  lastOf,
  nextOf,
  readingOf,
  waterOf,
} from './clientRecords.js';
import { letterhead } from './letterhead.js';
import { type KeptReason, reasonTexts } from './reasonTexts.js';
import { taskTarget } from './sheetTask.js';

/** A report holds so many pictures; more make it too heavy to send. */
const MOST_PHOTOGRAPHS = 8;
const MOST_CHARTS = 4;

/**
 * What a client is told of an order that was tried.
 *
 * @throws {Refused} `not-found`; `rule-broken` where nobody has been there yet.
 */
export async function visitReportOf(
  house: House,
  orderId: string,
  units: UnitSystem,
): Promise<VisitReportData> {
  const { rows } = house.stores;
  const order = await rows.get('work_order', orderId);
  if (!order) throw new Refused({ code: 'not-found', resource: 'work_order', id: orderId });
  const attempts = await rows.all('attempt', [is('work_order_id', orderId)], 'started_at');
  const lastTry = attempts.at(-1);
  if (!lastTry)
    throw ruleBroken(
      'report',
      '#',
      'nobody has been there for this order yet',
      'an order that was begun or tried',
    );
  const day = dayOf(house, lastTry['ended_at'] ?? lastTry['started_at']);
  const siteId = String(order['site_id']);
  const site = (await rows.get('site', siteId)) ?? {};
  const lines = await rows.all('line', [is('site_id', siteId)], 'name');
  const pits = await rows.all('pit', [is('site_id', siteId)]);
  const tasks = await rows.all('work_order_task', [is('work_order_id', orderId)], 'position');
  const crews = await rows.all('crew', [
    isIn(
      'id',
      attempts.map((each) => each['crew_id']).filter((id) => id !== null),
    ),
  ]);
  const crewNames = new Map(crews.map((crew) => [crew['id'], String(crew['name'])]));
  const lineNames = new Map(lines.map((line) => [line['id'], String(line['name'])]));
  return {
    ...(await letterhead(house.stores)),
    units,
    currency: currencyOf(house.currency),
    orderNumber: Number(order['number']),
    clientName: await clientName(house, siteId, day),
    address: `${String(site['address'])}, ${String(site['town'])}`,
    because: reasonTexts((order['because_of'] ?? []) as KeptReason[], lineNames),
    tries: attempts.map((row) => ({
      on: dayOf(house, row['started_at']),
      crew: crewNames.get(row['crew_id']) ?? null,
      result: row['result'] as AttemptResult | null,
      reason: row['reason'] as NotDoneReason | null,
      flowProven: row['flow_proven'] as FlowProven | null,
    })),
    tasks: tasks.map((task) => reportedTask(task, lines, pits)),
    lines: await reportedLines(house, orderId, lines, tasks, day, units),
    water: (
      await rows.all('water_record', [is('work_order_id', orderId), is('phase', 'recorded')], 'at')
    ).map(waterOf),
    ahead: await ahead(house, siteId, orderId),
    declined: (await rows.all('decision', [is('site_id', siteId)], 'decided_on'))
      .filter((row) => row['ended_on'] === null || String(row['ended_on']) > day)
      .map((row) => decisionOf(row, lineNames)),
    declinedProposals: await declinedProposals(house, siteId, lineNames, {
      from: await ownedFrom(house, siteId, day),
      to: day,
    }),
    ...(await photographs(house, orderId, lineNames)),
  };
}

async function ownerOn(house: House, siteId: string, day: IsoDate): Promise<Row | undefined> {
  const owners = await house.stores.rows.all('site_client', [is('site_id', siteId)]);
  return owners
    .filter((row) => row['from_day'] === null || String(row['from_day']) <= day)
    .find((row) => row['to_day'] === null || String(row['to_day']) > day);
}

/** What the owner before said is none of this client's business. */
const ownedFrom = async (house: House, siteId: string, day: IsoDate) =>
  ((await ownerOn(house, siteId, day))?.['from_day'] ?? null) as IsoDate | null;

async function clientName(house: House, siteId: string, day: IsoDate): Promise<string | null> {
  const owner = await ownerOn(house, siteId, day);
  const client = owner && (await house.stores.rows.get('client', String(owner['client_id'])));
  return client ? String(client['name']) : null;
}

function reportedTask(task: Row, lines: readonly Row[], pits: readonly Row[]): ReportedTask {
  const of = (all: readonly Row[], id: unknown) => all.find((row) => row['id'] === id) ?? null;
  return {
    kind: task['kind'] as TaskKind,
    target: taskTarget({ line: of(lines, task['line_id']), pit: of(pits, task['pit_id']) }),
    result: task['result'] as AttemptResult | null,
    reason: task['reason'] as NotDoneReason | null,
    added:
      task['added_by'] === null
        ? null
        : { priceMinor: task['price_minor'] as number | null, by: task['accepted_by'] as string | null },
    declinedBy: task['declined_by'] as string | null,
  };
}

async function reportedLines(
  house: House,
  orderId: string,
  lines: readonly Row[],
  tasks: readonly Row[],
  day: IsoDate,
  units: UnitSystem,
): Promise<ReportedLine[]> {
  const { rows } = house.stores;
  const touched = lines.filter((line) => tasks.some((task) => task['line_id'] === line['id']));
  const ids = touched.map((line) => line['id']);
  const readings = await rows.all(
    'inspection',
    [is('work_order_id', orderId), isIn('line_id', ids), ...IN_FORCE],
    'observed_at',
  );
  const doubts = await doubtsOf(house, ids);
  const cleans = await rows.all(
    'clean',
    [is('work_order_id', orderId), isIn('line_id', ids), { column: 'withdrawn_at', is: 'null' }],
    'cleaned_at',
  );
  const trends = new Map((await rows.all('trend_list', [isIn('id', ids)])).map((row) => [row['id'], row]));
  const out: ReportedLine[] = [];
  for (const line of touched) {
    const own = readings.filter(
      (row) => row['line_id'] === line['id'] && doubts.get(row['id']) !== 'dismissed',
    );
    const ofPhase =
      (...phases: Phase[]) =>
      (row: Row) =>
        phases.includes(row['phase'] as Phase);
    const clean = lastOf(cleans, (row) => row['line_id'] === line['id']);
    const trend = trends.get(line['id']);
    const next = nextOf(trend, day);
    out.push({
      name: String(line['name']),
      kind: line['kind'] as LineKind,
      before: readingOf(house, own.find(ofPhase('before_cleaning', 'no_cleaning')) ?? null, doubts),
      after: readingOf(house, lastOf(own, ofPhase('after_cleaning')), doubts),
      passes: (clean?.['passes'] ?? null) as number | null,
      cameBack: (clean?.['came_back'] ?? null) as CameBack | null,
      next,
      chart: next === null || out.length >= MOST_CHARTS ? null : await chartOf(house, trend as Row, units),
    });
  }
  return out;
}

async function chartOf(house: House, trend: Row, units: UnitSystem): Promise<string | null> {
  const picture = await lineTrend(house, trend, units);
  return picture && trendChart(picture);
}

/** Orders for the house that are not done. */
async function ahead(house: House, siteId: string, orderId: string): Promise<ReportedAhead[]> {
  const { rows } = house.stores;
  const open = await rows.all(
    'work_order',
    [
      is('site_id', siteId),
      isIn('state', ['wanted', 'placed', 'under_way']),
      { column: 'id', is: '<>', value: orderId },
    ],
    'number',
  );
  const ids = open.map((order) => order['id']);
  const tasks = await rows.all('work_order_task', [isIn('work_order_id', ids)], 'position');
  const promises = await rows.all(
    'promise',
    [isIn('work_order_id', ids), { column: 'ended_at', is: 'null' }],
    'told_at',
  );
  return open.map((order) => ({
    orderNumber: Number(order['number']),
    tasks: tasks
      .filter((task) => task['work_order_id'] === order['id'])
      .map((task) => task['kind'] as TaskKind),
    because: ((order['because_of'] ?? []) as { text: string }[])[0]?.text ?? null,
    promisedOn: (lastOf(promises, (row) => row['work_order_id'] === order['id'])?.['day'] ??
      null) as IsoDate | null,
  }));
}

/** The copies for clients: they tell neither place nor device. */
async function photographs(
  house: House,
  orderId: string,
  lineNames: ReadonlyMap<unknown, string>,
): Promise<Pick<VisitReportData, 'photographs' | 'morePhotographs'>> {
  const { rows } = house.stores;
  const { files } = house;
  if (!files) return { photographs: [], morePhotographs: 0 };
  const shown = await rows.all(
    'attachment',
    [is('work_order_id', orderId), is('for_client', true), { column: 'archived_on', is: 'null' }],
    'taken_at',
  );
  const stored = await rows.all('stored_file', [
    isIn(
      'id',
      shown.map((row) => row['id']),
    ),
  ]);
  const keys = new Map(
    stored.map((row) => [row['id'], row['kind'] === 'photograph' ? row['public_key'] : null]),
  );
  const phases = new Map(
    (
      await rows.all('inspection', [
        isIn(
          'id',
          shown.map((row) => row['inspection_id']).filter((id) => id !== null),
        ),
      ])
    ).map((row) => [row['id'], PHASE_TEXT[row['phase'] as Phase]]),
  );
  const withCopy = shown.filter((row) => typeof keys.get(row['id']) === 'string');
  const printed: Photograph[] = [];
  for (const row of withCopy.slice(0, MOST_PHOTOGRAPHS)) {
    const bytes = await files.store.read(String(keys.get(row['id'])));
    if (bytes === null) continue;
    const facts = [
      lineNames.get(row['line_id']),
      phases.get(row['inspection_id']),
      dayText(dayOf(house, row['taken_at'])),
    ];
    const caption = [row['caption'], ...facts].filter(
      (each): each is string => typeof each === 'string' && each !== '',
    );
    printed.push({ jpeg: await buffer(bytes), caption: [theirs(caption.join(' · '))] });
  }
  return { photographs: printed, morePhotographs: Math.max(0, withCopy.length - MOST_PHOTOGRAPHS) };
}
