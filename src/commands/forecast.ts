import { createWriteStream } from 'node:fs';
import { finished } from 'node:stream/promises';
import { parseArgs } from 'node:util';
import { stringify } from 'csv-stringify/sync';
import type { LineRow } from '../actions/clientBase.js';
import { addDays, dayNumber, type IsoDate } from '../domain/calendar/isoDate.js';
import type { LineForecast } from '../domain/fouling/evidence.js';
import { fitBase } from '../domain/fouling/fitBase.js';
import { forecastLine } from '../domain/fouling/forecastLine.js';
import { riskDate } from '../domain/fouling/passage.js';
import { limitsOf } from '../domain/fouling/policy.js';
import { DEFAULT_SETTINGS } from '../domain/work/settings.js';
import { readClientBase } from '../files/clientBase.js';
import { faultText } from '../files/csvFault.js';
import { csvFromPath } from '../files/csvSource.js';
import { evidenceFromRows } from '../files/evidenceFromRows.js';
import { bookPolicy } from './forecastPolicy.js';
import { progressLine } from './progress.js';

export const USAGE =
  'npm run forecast -- --lines lines.csv --readings readings.csv --as-of YYYY-MM-DD [--risk 0.1 | --policy] --out due.csv';
const COLUMNS = [
  'line_id',
  'due_on',
  'q10_on',
  'q50_on',
  'q90_on',
  'occlusion_now',
  'rate_per_month',
  'readings_used',
  'reasons',
];
const MONTH_DAYS = 365.25 / 12;

/**
 * Forecasts a spreadsheet without a database. `due_on` is the raw date at which the chance of passing the line's
 * action limit reaches the risk: the as-of day when it may be over already, empty beyond about twelve years. With
 * `--policy` it is the day the service would set by all its rules, as far as the spreadsheet tells.
 */
export async function forecastCommand(args: string[]): Promise<number> {
  const { values } = parseArgs({
    args,
    options: {
      lines: { type: 'string' },
      readings: { type: 'string' },
      'as-of': { type: 'string' },
      risk: { type: 'string', default: '0.1' },
      out: { type: 'string' },
      policy: { type: 'boolean', default: false },
    },
  });
  const { lines, readings, out, 'as-of': asOf } = values;
  const risk = Number(values.risk);
  const wrong =
    lines === undefined || readings === undefined || out === undefined || asOf === undefined
      ? 'files, day or output missing'
      : !isDay(asOf)
        ? `--as-of ${asOf} is not a calendar day YYYY-MM-DD`
        : !(risk > 0 && risk < 1)
          ? `--risk ${values.risk} is not between 0 and 1`
          : null;
  if (
    wrong !== null ||
    lines === undefined ||
    readings === undefined ||
    out === undefined ||
    asOf === undefined
  ) {
    console.error(`${wrong}\n${USAGE}`);
    return 2;
  }
  const reading = progressLine('reading');
  const got = await readClientBase({ lines: csvFromPath(lines), readings: csvFromPath(readings) }, asOf, {
    onProgress: ({ file, bytesRead, bytesTotal }) =>
      reading.at(bytesTotal ? bytesRead / bytesTotal : 0, file),
  });
  reading.end();
  if ('faults' in got) {
    for (const fault of got.faults) console.error(faultText(fault));
    console.error(`${got.total} faults; nothing was forecast.`);
    return 1;
  }
  const evidence = evidenceFromRows(got.base.lines, got.base.readings, asOf);
  const fitting = progressLine('fitting');
  const fit = fitBase(evidence, dayNumber(asOf), {
    onProgress: (share) => fitting.at(share, `${evidence.length} lines`),
  });
  fitting.end();

  const policy = values.policy ? bookPolicy(got.base, evidence, asOf) : null;
  const writing = progressLine('forecasting');
  const file = createWriteStream(out);
  file.write(stringify([COLUMNS]));
  let soon = 0;
  let never = 0;
  got.base.lines.forEach((line, i) => {
    const own = evidence[i];
    if (!own) throw new RangeError(`no evidence for ${line.lineId}`);
    const forecast = forecastLine(fit, own, dayNumber(asOf));
    const row = rowOf(line, forecast, asOf, policy?.due(i, forecast) ?? riskDue(line, forecast, asOf, risk));
    if (row.dueOn === null) never++;
    else if (row.dueOn <= addDays(asOf, 30)) soon++;
    file.write(stringify([row.cells]));
    if (i % 50 === 0) writing.at(i / got.base.lines.length, line.lineId);
  });
  file.end();
  await finished(file);
  writing.end();
  const size = `${got.base.lines.length} lines, ${got.base.readings.length} readings, as of ${asOf}`;
  console.log(
    policy === null
      ? `${size}, risk ${risk}: ${soon} due within 30 days, ${never} not within twelve years; written to ${out}`
      : `${size}, by the rules for due dates: ${soon} due within 30 days; written to ${out}`,
  );
  for (const note of policy?.notes() ?? []) console.log(note);
  return 0;
}

function isDay(text: string): boolean {
  try {
    return Number.isFinite(dayNumber(text));
  } catch {
    return false;
  }
}

interface RowDue {
  dueOn: IsoDate | null;
  reasons: string[];
}

const actionLimitOf = ({ kind, threshold }: LineRow): number =>
  limitsOf({ kind, underSlab: false, actionLimit: threshold, plugLimit: null }, DEFAULT_SETTINGS).action;

const inPercent = (share: number): string => `${Math.round(share * 100)} %`;

function riskDue(line: LineRow, forecast: LineForecast, asOf: IsoDate, risk: number): RowDue {
  const action = actionLimitOf(line);
  const dueOn = riskDate(asOf, forecast.passage(action), risk);
  const when = dueOn === null ? 'not within twelve years' : `by ${dueOn}`;
  return { dueOn, reasons: [`${inPercent(risk)} chance of passing ${inPercent(action)} blocked ${when}`] };
}

function rowOf(
  line: LineRow,
  forecast: LineForecast,
  asOf: IsoDate,
  due: RowDue,
): { dueOn: IsoDate | null; cells: (string | number)[] } {
  const passage = forecast.passage(actionLimitOf(line));
  const on = (p: number) => riskDate(asOf, passage, p) ?? '';
  const reasons = [
    ...due.reasons,
    `about ${inPercent(forecast.occlusionNow.mean)} now, ${(forecast.ratePerDay.median * MONTH_DAYS * 100).toFixed(1)} points a month`,
    ...(forecast.readingsUsed === 0 ? ['no reading: comparable lines stand in'] : []),
    ...(forecast.doubts.length > 0
      ? [`${forecast.doubts.length} reading${forecast.doubts.length === 1 ? '' : 's'} doubted`]
      : []),
  ];
  return {
    dueOn: due.dueOn,
    cells: [
      line.lineId,
      due.dueOn ?? '',
      on(0.1),
      on(0.5),
      on(0.9),
      forecast.occlusionNow.mean.toFixed(4),
      (forecast.ratePerDay.median * MONTH_DAYS).toFixed(5),
      forecast.readingsUsed,
      reasons.join('; '),
    ],
  };
}
