import { buffer } from 'node:stream/consumers';
import type { IsoDate } from '../../domain/calendar/isoDate.js';
import { limitsOf, type PolicyLine } from '../../domain/fouling/policy.js';
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
import { type Finding, type LineStoryData, lineStory } from '../../papers/lineStory.js';
import { currencyOf } from '../../papers/money.js';
import type { Photograph } from '../../papers/paper.js';
import { theirs } from '../../papers/paper.js';
import { dayText } from '../../papers/printed.js';
import type {
  ReportedAhead,
  ReportedLine,
  ReportedNext,
  ReportedTask,
  VisitReportData,
} from '../../papers/visitReport.js';
import { PHASE_TEXT } from '../../papers/wording.js';
import type { House } from '../house.js';
import { ownerSettings } from '../ownerSettings.js';
import type { Row } from '../ports.js';
import { Refused, ruleBroken } from '../problems.js';
import {
  dayOf,
  decisionOf,
  declinedProposals,
  doubtsOf,
  is,
  isIn,
  lastOf,
  readingOf,
  waterOf,
} from './clientRecords.js';
import { comingNow, comingThen, houseDays } from './comingVisitsOf.js';
import { letterhead } from './letterhead.js';
import { type KeptReason, reasonTexts } from './reasonTexts.js';
import { taskTarget } from './sheetTask.js';

/** A report holds so many pictures; more make it too heavy to send. */
const MOST_PHOTOGRAPHS = 8;
const MOST_CHARTS = 8;

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
  const end = String(lastTry['ended_at'] ?? lastTry['started_at']);
  const day = dayOf(house, end);
  const printedOn = dayOf(house, house.clock.now().toISOString());
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
  const client = await ownerOn(house, siteId, day);
  const isStillTheirs = (await ownerOn(house, siteId, printedOn))?.['client_id'] === client?.['client_id'];
  const decisions = await rows.all('decision', [is('site_id', siteId)], 'decided_on');
  return {
    ...(await letterhead(house.stores)),
    printedOn,
    units,
    currency: currencyOf(house.currency),
    orderNumber: Number(order['number']),
    clientName: await clientName(house, client),
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
    ...(await reportedLines(house, orderId, lines, tasks, { day, end })),
    water: (
      await rows.all('water_record', [is('work_order_id', orderId), is('phase', 'recorded')], 'at')
    ).map(waterOf),
    next: await comingNext(house, orderId, lines, { day, printedOn, isStillTheirs }),
    ahead: isStillTheirs ? await ahead(house, siteId, orderId, lineNames) : [],
    declined: decisions
      .filter((row) => String(row['decided_on']) <= day)
      .filter((row) => row['ended_on'] === null || String(row['ended_on']) > day)
      .map((row) => decisionOf(row, lineNames)),
    // What the owner before said is none of this client's business.
    declinedProposals: await declinedProposals(house, siteId, lineNames, {
      from: (client?.['from_day'] ?? null) as IsoDate | null,
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

async function clientName(house: House, owner: Row | undefined): Promise<string | null> {
  const client = owner && (await house.stores.rows.get('client', String(owner['client_id'])));
  return client ? String(client['name']) : null;
}

/** The day told after the visit stays what it was; what is known today stands beside it, for whose house it still is. */
async function comingNext(
  house: House,
  orderId: string,
  lines: readonly Row[],
  { day, printedOn, isStillTheirs }: { day: IsoDate; printedOn: IsoDate; isStillTheirs: boolean },
): Promise<ReportedNext> {
  const { rows } = house.stores;
  const inService = lines.filter((line) => line['archived_on'] === null || String(line['archived_on']) > day);
  const days = await houseDays(house, inService);
  const ofOrder = is('work_order_id', orderId);
  const left = (await rows.count('inspection', [ofOrder])) + (await rows.count('clean', [ofOrder])) > 0;
  const still = lines.filter((line) => line['archived_on'] === null);
  return {
    told: await comingThen(house, inService, days, { day, left }),
    known: isStillTheirs ? await comingNow(house, still, days, printedOn) : null,
    seenAgain: isStillTheirs ? days.evidence.filter((each) => each > day) : [],
  };
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

/** @param visit Its day, and the instant after which nothing counts. */
async function reportedLines(
  house: House,
  orderId: string,
  lines: readonly Row[],
  tasks: readonly Row[],
  visit: { day: IsoDate; end: string },
): Promise<Pick<VisitReportData, 'lines' | 'moreCharts'>> {
  const { rows } = house.stores;
  const touched = lines.filter((line) => tasks.some((task) => task['line_id'] === line['id']));
  const ids = touched.map((line) => line['id']);
  const readings = await rows.all(
    'inspection',
    [isIn('line_id', ids), { column: 'replaced_at', is: 'null' }],
    'observed_at',
  );
  const doubts = await doubtsOf(house, ids);
  const cleans = await rows.all(
    'clean',
    [isIn('line_id', ids), { column: 'withdrawn_at', is: 'null' }],
    'cleaned_at',
  );
  const settings = await ownerSettings(house.stores);
  const toldThen = (row: Row) =>
    row['withdrawn_at'] === null || dayOf(house, row['withdrawn_at']) > visit.day;
  let charts = 0;
  const reported = touched.map((line): ReportedLine => {
    const ofLine = (row: Row) => row['line_id'] === line['id'];
    const ofVisit = (row: Row) => ofLine(row) && row['work_order_id'] === orderId;
    const own = readings.filter(ofVisit).filter(toldThen);
    const clean = lastOf(cleans, ofVisit);
    const isKnown = (column: string) => (row: Row) =>
      ofLine(row) && (ofVisit(row) || Date.parse(String(row[column])) <= Date.parse(visit.end));
    const story: LineStoryData = {
      name: String(line['name']),
      kind: line['kind'] as LineKind,
      until: visit.day,
      findings: findings(house, readings.filter(isKnown('observed_at')), doubts),
      cleans: cleans.filter(isKnown('cleaned_at')).map((row) => dayOf(house, row['cleaned_at'])),
      tooFull: limitsOf(policyLine(line), settings).action,
    };
    const hasStory = story.findings.length > 0;
    if (hasStory) charts += 1;
    return {
      name: String(line['name']),
      kind: line['kind'] as LineKind,
      before: readingOf(house, inForce(own, 'before_cleaning', 'no_cleaning')[0] ?? null, doubts, visit.day),
      after: readingOf(house, inForce(own, 'after_cleaning').at(-1) ?? null, doubts, visit.day),
      passes: (clean?.['passes'] ?? null) as number | null,
      cameBack: (clean?.['came_back'] ?? null) as CameBack | null,
      chart: hasStory && charts <= MOST_CHARTS ? lineStory(story) : null,
    };
  });
  return { lines: reported, moreCharts: Math.max(0, charts - MOST_CHARTS) };
}

/** Readings of some phases; those that were taken back only where there are no others. */
function inForce(readings: readonly Row[], ...phases: Phase[]): Row[] {
  const own = readings.filter((row) => phases.includes(row['phase'] as Phase));
  const kept = own.filter((row) => row['withdrawn_at'] === null);
  return kept.length > 0 ? kept : own;
}

/** What is drawn of readings: nothing that is doubted or was taken back. */
const findings = (
  house: House,
  readings: readonly Row[],
  doubts: ReadonlyMap<unknown, 'open' | 'dismissed'>,
): Finding[] =>
  readings
    .filter((row) => row['withdrawn_at'] === null && !doubts.has(row['id']))
    .filter((row) => row['plugged'] === true || typeof row['occlusion'] === 'number')
    .map((row) => ({
      on: dayOf(house, row['observed_at']),
      isAfterClean: row['phase'] === 'after_cleaning',
      share: row['plugged'] === true ? 1 : Number(row['occlusion']),
      plugged: row['plugged'] === true,
    }));

const policyLine = (line: Row): PolicyLine => ({
  kind: line['kind'] as LineKind,
  underSlab: line['under_slab'] === true,
  actionLimit: line['action_limit'] as number | null,
  plugLimit: line['plug_limit'] as number | null,
});

/** Orders for the house that are not done. */
async function ahead(
  house: House,
  siteId: string,
  orderId: string,
  lineNames: ReadonlyMap<unknown, string>,
): Promise<ReportedAhead[]> {
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
  const all = open.map((order) => ({
    orderNumber: Number(order['number']),
    tasks: tasks
      .filter((task) => task['work_order_id'] === order['id'])
      .map((task) => task['kind'] as TaskKind),
    because: reasonTexts(((order['because_of'] ?? []) as KeptReason[]).slice(0, 1), lineNames)[0] ?? null,
    promisedOn: (lastOf(promises, (row) => row['work_order_id'] === order['id'])?.['day'] ??
      null) as IsoDate | null,
  }));
  const together = new Map<string, ReportedAhead>();
  for (const { orderNumber, tasks: own, because, promisedOn } of all) {
    const key = `${promisedOn} ${because?.replace(PART, '')}`;
    const before = together.get(key);
    together.set(key, {
      orderNumbers: [...(before?.orderNumbers ?? []), orderNumber],
      tasks: [...(before?.tasks ?? []), ...own],
      because: before === undefined ? because : (because?.replace(PART, '') ?? null),
      promisedOn,
    });
  }
  return [...together.values()];
}

/** Of a reason that several orders share. */
const PART = /, part \d+ of \d+/;

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
  // Line by line, so that before and after stand side by side.
  const places = [...lineNames.keys()];
  const withCopy = shown
    .filter((row) => typeof keys.get(row['id']) === 'string')
    .sort((a, b) => places.indexOf(a['line_id']) - places.indexOf(b['line_id']));
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
