import { dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import { USUAL_FITTINGS } from '../domain/hydraulics/dischargeLimit.js';
import { pressureC, ROUGHNESS_N } from '../domain/hydraulics/pipes.js';
import { type PumpPoint, pumpCurve, pumpCurveFault } from '../domain/hydraulics/pumpCurve.js';
import type { LineRecord, SectionRecord } from '../domain/readings/lineRecord.js';
import { sectionAt } from '../domain/readings/lineRecord.js';
import type { UnitSystem } from '../domain/units/quantity.js';
import type { CapacityChartData } from '../papers/capacityChart.js';
import { bookedCapacityData } from '../papers/capacityChartData.js';
import type { PumpChartData } from '../papers/pumpChart.js';
import { pumpChartData } from '../papers/pumpChartData.js';
import type { Stores } from './house.js';
import { lineRecords } from './lineRecords.js';
import type { Row } from './ports.js';
import { Refused } from './problems.js';

/**
 * Capacity left in a line on the books against the depth of deposit, with what is believed of it now.
 *
 * @throws {Refused} `rule-broken` while its bore is unknown: nothing is drawn on an assumption.
 */
export async function capacityFigure(
  stores: Stores,
  line: Row,
  today: IsoDate,
  units: UnitSystem,
): Promise<CapacityChartData> {
  const { section } = await recordOf(stores, line, today);
  const boreMm = section?.boreMm ?? null;
  if (section === null || boreMm === null)
    throw missing([['bore', 'the bore of the line is unknown', 'record a line section with its bore']]);
  const [pit] = await stores.rows.all('pit', [{ column: 'discharge_line_id', is: '=', value: line['id'] }]);
  const trend = await trendOf(stores, line);
  const marks =
    trend === null
      ? []
      : [
          { name: 'believed now', occlusion: drawnOcclusion(trend) },
          { name: 'action limit', occlusion: Number(trend['action_limit']) },
        ];
  const { c, assumed } = pressureC(section.roughness);
  return bookedCapacityData(
    {
      name: String(line['name']),
      boreMm,
      isPumped: pit !== undefined,
      n: section.roughness.n,
      c,
      cAssumed: assumed,
      slope: section.slope,
    },
    marks,
    units,
  );
}

/**
 * The curve of a pit's main pump against its discharge, clean and as it is believed to be fouled.
 *
 * @throws {Refused} `rule-broken`, naming everything that is not known.
 */
export async function pumpFigure(
  stores: Stores,
  pit: Row,
  today: IsoDate,
  units: UnitSystem,
): Promise<PumpChartData> {
  const line =
    pit['discharge_line_id'] === null
      ? null
      : await stores.rows.get('line', String(pit['discharge_line_id']));
  if (line === null)
    throw missing([
      ['dischargeLineId', 'the pit has no discharge on the books', 'record the line that empties it'],
    ]);
  const { record, section } = await recordOf(stores, line, today);
  const day = dayNumber(today);
  const curve =
    record.pumps.find((pump) => (pump.removedDay ?? day + 1) > day && pump.curve !== null)?.curve ?? null;
  const [boreMm, { lengthM, liftM }] = [section?.boreMm ?? null, record];
  if (boreMm === null || lengthM === null || liftM === null || curve === null)
    throw missing([
      ...(boreMm === null
        ? [['bore', 'the bore of the discharge is unknown', 'record its section'] as const]
        : []),
      ...(lengthM === null
        ? [['length', 'the length of the discharge is unknown', 'record it'] as const]
        : []),
      ...(liftM === null
        ? [['lift', 'how high the pump lifts is unknown', 'record it on the line'] as const]
        : []),
      ...(curve === null
        ? [['curve', 'no main pump with a curve is on the books', 'record its points'] as const]
        : []),
    ]);
  const trend = await trendOf(stores, line);
  const { c, assumed } = pressureC(section?.roughness ?? { n: ROUGHNESS_N.unknown, c: null });
  return pumpChartData(
    pumpCurve(curveOf(curve)),
    {
      boreMm,
      lengthM,
      liftM,
      friction: { law: 'hazen_williams', c },
      fittings: USUAL_FITTINGS,
    },
    { occlusion: trend === null ? 0 : drawnOcclusion(trend), shape: 'even_coat' },
    pit['inflow_lps'] === null ? null : Number(pit['inflow_lps']),
    String(pit['place'] ?? 'pump'),
    units,
    assumed,
  );
}

function curveOf(points: readonly PumpPoint[]): readonly PumpPoint[] {
  const fault = pumpCurveFault(points);
  if (fault !== null) throw missing([['curve', fault, 'points whose head falls as their flow rises']]);
  return points;
}

async function recordOf(
  stores: Stores,
  line: Row,
  today: IsoDate,
): Promise<{ record: LineRecord; section: SectionRecord | null }> {
  const record = (await lineRecords(stores, [line])).get(String(line['id']));
  if (!record) throw new RangeError(`line ${String(line['id'])} has no record`);
  return { record, section: sectionAt(record.sections, dayNumber(today)) };
}

/** Nothing flows through a line that is plugged: it is drawn as nearly so. */
const drawnOcclusion = (trend: Row): number => Math.min(0.99, Number(trend['occlusion']));

async function trendOf(stores: Stores, line: Row): Promise<Row | null> {
  const [trend] = await stores.rows.all(
    'trend',
    [{ column: 'line_id', is: '=', value: line['id'] }],
    'line_id',
  );
  return trend ?? null;
}

const missing = (faults: readonly (readonly [field: string, detail: string, remedy: string])[]) =>
  new Refused({
    code: 'rule-broken',
    rule: 'figure',
    faults: faults.map(([field, detail, remedy]) => ({ pointer: `#/${field}`, detail, remedy })),
  });
