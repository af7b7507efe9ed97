import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { dayNumber } from '../../src/domain/calendar/isoDate.js';
import { fitBase } from '../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../src/domain/fouling/forecastLine.js';
import { readClientBase } from '../../src/files/books/readBooks.js';
import { csvFromPath } from '../../src/files/csvSource.js';
import { evidenceFromRows } from '../../src/files/evidenceFromRows.js';

// Scores the forecast against bases whose truth is known: share crossed before the 10 % date, coverage of the
// 80 % interval, median error, pinball loss; by number of readings, beside a forecast without skill.
//   npm run bench:fouling -- FOLDER …     (default: ../shared/data/fouling/dev_a and dev_b, where present)

const CLASSES = [
  ['all', 0, Infinity],
  ['0', 0, 0],
  ['1-2', 1, 2],
  ['3-5', 3, 5],
  ['6+', 6, Infinity],
] as const;

interface Scored {
  readings: number;
  truth: number;
  quantiles: [number, number, number];
  over: boolean;
}

const given = process.argv.slice(2).filter((argument) => !argument.startsWith('-'));
const folders = (
  given.length > 0 ? given : ['dev_a', 'dev_b'].map((name) => join('../shared/data/fouling', name))
).filter((folder) => existsSync(folder));
if (folders.length === 0) console.log('no base with known truth at hand: give its folder');
for (const folder of folders) await score(folder);

async function score(folder: string): Promise<void> {
  const meta = JSON.parse(readFileSync(join(folder, 'meta.json'), 'utf8')) as {
    as_of: string;
    horizon_days: number;
    process: string;
  };
  const read = await readClientBase(
    { lines: csvFromPath(join(folder, 'lines.csv')), readings: csvFromPath(join(folder, 'readings.csv')) },
    meta.as_of,
    { sitesFollow: false },
  );
  if ('faults' in read) throw new Error(JSON.stringify(read.faults[0]));
  const evidence = evidenceFromRows(read.base.lines, read.base.readings, meta.as_of);
  const asOfDay = dayNumber(meta.as_of);
  const t0 = process.hrtime.bigint();
  const fit = fitBase(evidence, asOfDay);
  const t1 = process.hrtime.bigint();
  const truth = truthOf(join(folder, 'truth.csv'), meta.horizon_days);
  const limits = new Map(read.base.lines.map((line) => [line.lineId, line.threshold ?? 0.45]));
  const scored = evidence.map((line): Scored => {
    const passage = forecastLine(fit, line, asOfDay).passage(limits.get(line.lineId) ?? 0.45);
    const at = (p: number) => passage.quantile(p) ?? meta.horizon_days;
    const known = truth.get(line.lineId);
    if (!known) throw new Error(`no truth for ${line.lineId}`);
    return {
      readings: known.readings,
      truth: known.days,
      quantiles: [at(0.1), at(0.5), at(0.9)],
      over: known.over,
    };
  });
  const t2 = process.hrtime.bigint();
  const perThousand = (ns: bigint) => ((Number(ns) / 1e9 / evidence.length) * 1000).toFixed(2);
  console.log(
    `\n${folder} (${meta.process}, ${evidence.length} lines): fit ${perThousand(t1 - t0)} s, forecast ${perThousand(t2 - t1)} s per 1,000 lines`,
  );
  console.log(
    `shapes ${fit.shapes.map(({ k1, k2, weight }) => `k1 ${k1} k2 ${k2} (${weight.toFixed(2)})`).join(', ')}; visits b ${fit.shapes[0]?.visitTimes.b.toFixed(2)}`,
  );
  console.log('readings   lines  crossed  coverage  error  pinball | no skill: crossed  coverage  pinball');
  for (const [name, low, high] of CLASSES) {
    const some = scored.filter(({ readings }) => readings >= low && readings <= high);
    const own = summary(some, meta.horizon_days);
    const without = summary(noSkill(some), meta.horizon_days);
    console.log(
      `${name.padEnd(9)} ${String(some.length).padStart(6)}  ${own.crossed.toFixed(3).padStart(7)}  ${own.coverage.toFixed(3).padStart(8)}  ${own.error.toFixed(3)}  ${own.pinball.toFixed(3).padStart(7)} | ${without.crossed.toFixed(3).padStart(17)}  ${without.coverage.toFixed(3).padStart(8)}  ${without.pinball.toFixed(3).padStart(7)}`,
    );
  }
  const now = scored.filter(({ quantiles }) => quantiles[0] < 1);
  const overSoon = now.filter(({ truth: days }) => days <= 30).length;
  console.log(
    `due at once: ${now.length}, truly over within 30 days ${(overSoon / Math.max(1, now.length)).toFixed(3)}`,
  );
}

function truthOf(
  path: string,
  horizon: number,
): Map<string, { days: number; over: boolean; readings: number }> {
  const [head = '', ...rows] = readFileSync(path, 'utf8').trim().split('\n');
  const names = head.split(',');
  return new Map(
    rows.map((row) => {
      const cells = row.split(',');
      const cell = (name: string) => cells[names.indexOf(name)] ?? '';
      const days = cell('beyond_horizon') === '1' ? horizon * 10 : Number(cell('remaining_days'));
      return [
        cell('line_id'),
        { days, over: cell('already_over') === '1', readings: Number(cell('readings')) },
      ];
    }),
  );
}

/** Every line gets its class's own quantiles, fitted on the other half. */
function noSkill(lines: readonly Scored[]): Scored[] {
  const halves = [0, 1].map((half) => lines.filter((_, i) => i % 2 === half));
  return [0, 1].flatMap((half) => {
    const sorted = (halves[1 - half] ?? []).map(({ truth }) => truth).sort((a, b) => a - b);
    const at = (p: number) => sorted[Math.floor(p * (sorted.length - 1))] ?? 0;
    return (halves[half] ?? []).map((line) => ({
      ...line,
      quantiles: [at(0.1), at(0.5), at(0.9)] as [number, number, number],
    }));
  });
}

function summary(lines: readonly Scored[], horizon: number) {
  const bound = (days: number) => Math.min(horizon, Math.max(7, days));
  const dated = lines.filter(({ quantiles }) => quantiles[0] > 1 && quantiles[0] < horizon - 30);
  const crossed =
    dated.filter(({ truth, quantiles }) => truth <= quantiles[0]).length / Math.max(1, dated.length);
  const covered =
    lines.filter(({ truth, quantiles: [q10, , q90] }) => truth >= q10 && (truth <= q90 || q90 >= horizon))
      .length / Math.max(1, lines.length);
  const errors = lines
    .map(({ truth, quantiles }) => Math.abs(Math.log(bound(quantiles[1]) / bound(truth))))
    .sort((a, b) => a - b);
  let pinball = 0;
  for (const { truth, quantiles } of lines) {
    [0.1, 0.5, 0.9].forEach((p, i) => {
      const e = Math.log(bound(truth)) - Math.log(bound(quantiles[i] ?? 0));
      pinball += Math.max(p * e, (p - 1) * e) / 3;
    });
  }
  return {
    crossed,
    coverage: covered,
    error: errors[Math.floor(errors.length / 2)] ?? 0,
    pinball: pinball / Math.max(1, lines.length),
  };
}
