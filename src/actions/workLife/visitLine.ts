import type { JetMeans } from '../../domain/jetting/orderJet.js';
import type { Condition, Deposit, LineKind, Material } from '../../domain/words.js';
import type { OwnerSettings } from '../../domain/work/settings.js';
import type { VisitLine } from '../../domain/work/visitTasks.js';
import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

const number = (value: unknown): number | null =>
  value === null || value === undefined ? null : Number(value);

/** A line as the work on it depends on it; `line` is a row as the night reads it, with `walls` and its `pit`. */
export function visitLine(line: Row): VisitLine {
  const trend = line['trend'] as Row | null | undefined;
  const isDischarge = line['is_discharge'] === true;
  return {
    lineId: String(line['id']),
    systemId: String(line['system_id']),
    kind: line['kind'] as LineKind,
    isDischarge,
    lengthM: number(line['length_m']),
    boreMm: number(line['bore_mm']),
    occlusion: Number(trend?.['occlusion'] ?? 0),
    deposit: line['deposit'] as Deposit,
    unseen: Number(trend?.['readings_used'] ?? 0) === 0,
    stepsToPit: isDischarge ? 0 : line['drains_to'] === 'line' ? 2 : 1,
    walls: (line['walls'] ?? []) as { material: Material; condition: Condition }[],
    perforated: (line['perforated'] ?? null) as boolean | null,
    pit: isDischarge || line['drains_to'] === 'outlet' ? null : receivingPit(line['pit'] as Row | null),
  };
}

const receivingPit = (pit: Row | null | undefined): VisitLine['pit'] =>
  pit == null
    ? null
    : {
        diameterMm: number(pit['diameter_mm']),
        depthMm: number(pit['depth_mm']),
        floatOnMm: number(pit['float_on_mm']),
        inflowLps: number(pit['inflow_lps']),
      };

/** A plugged line is full, whatever the share that was read. */
const saysHowFull = (reading: Row): boolean =>
  reading['plugged'] === true || (reading['occlusion'] !== null && reading['bound'] === 'exact');

/** The trend, and in its stead a reading that no night has reckoned with yet: a plug of today is jetted as one. */
function believedOf(trend: Row | null, reading: Row | undefined): Row | null {
  if (reading === undefined) return trend;
  const known = trend === null ? null : trend['last_evidence_at'];
  const isNews = known === null || Date.parse(String(reading['observed_at'])) > Date.parse(String(known));
  if (!isNews) return trend;
  const readingsUsed = 1 + Number(trend?.['readings_used'] ?? 0);
  return { occlusion: reading['plugged'] ? 1 : reading['occlusion'], readings_used: readingsUsed };
}

/** `now`: with readings that no night has reckoned with; `last-night`: the same whatever came in since, in any order. */
export type Believed = 'now' | 'last-night';

/** Lines by id with what is believed of them; ids that are none are left out. */
export async function visitLines(
  stores: Stores,
  lineIds: readonly string[],
  believed: Believed = 'now',
): Promise<Map<string, VisitLine>> {
  if (lineIds.length === 0) return new Map();
  const { rows } = stores;
  const lines = await rows.all('line', [{ column: 'id', is: 'in', value: lineIds }]);
  const of = (column: string) => ({ column, is: 'in' as const, value: lines.map((line) => line['id']) });
  const trends = await rows.all('trend', [of('line_id')], 'line_id');
  const readings =
    believed === 'last-night'
      ? []
      : await rows.all(
          'inspection',
          [of('line_id'), { column: 'replaced_at', is: 'null' }, { column: 'withdrawn_at', is: 'null' }],
          'observed_at',
        );
  const sections = await rows.all('line_section', [of('line_id'), { column: 'removed_on', is: 'null' }]);
  const pits = await rows.all('pit', [
    { column: 'system_id', is: 'in', value: lines.map((line) => line['system_id']) },
  ]);
  const pumps = await rows.all('pump', [
    { column: 'pit_id', is: 'in', value: pits.map((pit) => pit['id']) },
    { column: 'duty', is: '=', value: 'main' },
    { column: 'removed_on', is: 'null' },
  ]);
  return new Map(
    lines.map((line) => {
      const pit = pits.find((each) => each['system_id'] === line['system_id']);
      const floats = pumps
        .filter((pump) => pump['pit_id'] === pit?.['id'])
        .map((pump) => pump['float_on_mm']);
      return [
        String(line['id']),
        visitLine({
          ...line,
          bore_mm: line['main_bore_mm'],
          is_discharge: pits.some((each) => each['discharge_line_id'] === line['id']),
          trend: believedOf(
            trends.find((trend) => trend['line_id'] === line['id']) ?? null,
            readings.findLast((reading) => reading['line_id'] === line['id'] && saysHowFull(reading)),
          ),
          walls: sections.filter((section) => section['line_id'] === line['id']),
          pit: pit && { ...pit, float_on_mm: floats.find((level) => level !== null) ?? null },
        }),
      ];
    }),
  );
}

/** What the firm jets with: its jetters in service with the figures its books have of them. */
export async function jetMeans(stores: Stores, { pits }: Pick<OwnerSettings, 'pits'>): Promise<JetMeans> {
  const jetters = await stores.rows.all(
    'kit_item',
    [
      { column: 'kind', is: '=', value: 'jetter' },
      { column: 'archived_on', is: 'null' },
    ],
    'id',
  );
  const figure = (value: unknown): number | null => {
    const known = number(value);
    return known !== null && known > 0 ? known : null;
  };
  return {
    machines: jetters.map((item) => ({
      name: String(item['name']),
      pressureKpa: figure(item['pressure_kpa']),
      flowLps: figure(item['flow_lps']),
      reachM: figure(item['reach_m']),
    })),
    assumedFreeVolumeL: pits.assumedFreeVolumeL,
  };
}
