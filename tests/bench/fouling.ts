import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { type BaseFit, fitBase } from '../../src/domain/fouling/fitBase.js';
import { forecastLine } from '../../src/domain/fouling/forecastLine.js';
import { devBase, type KnownBase } from './fouling/devBase.js';
import { PROCESSES } from './fouling/growth.js';
import { CLASSES, dueAtOnce, type Scored, summary, table } from './fouling/score.js';
import { HORIZON_DAYS, simulatedBase } from './fouling/simulatedBase.js';

// Scores the forecast against bases whose truth is known: share crossed before the 10 % date, coverage of the 80 %
// interval, median error, pinball loss; by number of readings, beside a forecast without skill (each class's own
// quantiles). A mark (!) stands where a share is off by more than .02 and by more than two standard errors.
//
//   npm run bench:fouling -- FOLDER …                     default: ../shared/data/fouling/dev_a and dev_b, where present
//   npm run bench:fouling -- --simulate 1000 --seeds 1,2,3 --processes gamma,lag

const { values, positionals } = parseArgs({
  allowPositionals: true,
  options: {
    simulate: { type: 'string', default: '0' },
    seeds: { type: 'string', default: '1,2,3' },
    processes: { type: 'string', default: PROCESSES.join(',') },
    brief: { type: 'boolean', default: false },
  },
});

const simulated = Number(values.simulate);
const folders = positionals.length > 0 || simulated > 0 ? positionals : ['dev_a', 'dev_b'].map(besideUs);
for (const folder of folders.filter(existsSync)) {
  const base = await devBase(folder);
  show(base.name, forecasts(base), base.horizonDays);
}
if (simulated > 0) simulateAll();
else if (!folders.some(existsSync))
  console.log('no base with known truth at hand: give its folder, or --simulate 1000');

function besideUs(name: string): string {
  return join('../shared/data/fouling', name);
}

function simulateAll(): void {
  const rows: { process: string; pinball: number; crossed: number; coverage: number; bare: number }[] = [];
  for (const process of PROCESSES.filter((each) => values.processes.split(',').includes(each))) {
    const all: Scored[] = [];
    for (const seed of values.seeds.split(',').map(Number)) {
      const { asOfDay, lines } = simulatedBase(process, simulated, seed);
      const known = lines.map(({ evidence, limit, crossingDays }) => ({
        evidence,
        limit,
        crossingDays,
        readings: evidence.events.filter(({ kind }) => kind === 'reading' || kind === 'plugged').length,
      }));
      all.push(
        ...forecasts({ name: `${process} ${seed}`, asOfDay, horizonDays: HORIZON_DAYS, lines: known }),
      );
    }
    show(process, all, HORIZON_DAYS);
    const { crossed, coverage, pinball } = summary(all, HORIZON_DAYS);
    rows.push({ process, crossed, coverage, pinball, bare: 0 });
  }
  const mean = (of: (row: (typeof rows)[number]) => number): string =>
    (rows.reduce((sum, row) => sum + of(row), 0) / rows.length).toFixed(4);
  console.log(
    `\nmean over processes: crossed ${mean((r) => r.crossed)}, coverage ${mean((r) => r.coverage)}, pinball ${mean((r) => r.pinball)}`,
  );
}

function forecasts({ name, asOfDay, horizonDays, lines }: KnownBase): Scored[] {
  const t0 = performance.now();
  const fit = fitBase(
    lines.map(({ evidence }) => evidence),
    asOfDay,
  );
  const t1 = performance.now();
  const scored = lines.map(({ evidence, limit, crossingDays, readings }): Scored => {
    const passage = forecastLine(fit, evidence, asOfDay).passage(limit);
    const at = (p: number): number => passage.quantile(p) ?? horizonDays;
    return {
      readings,
      truth: Math.min(crossingDays, horizonDays * 10),
      quantiles: [at(0.1), at(0.5), at(0.9)],
    };
  });
  const perThousand = (ms: number): string => (ms / lines.length).toFixed(2);
  const { crossed, coverage, pinball } = summary(scored, horizonDays);
  console.log(
    `${name}, ${lines.length} lines: crossed ${crossed.toFixed(3)} coverage ${coverage.toFixed(3)} pinball ${pinball.toFixed(4)}; fit ${perThousand(t1 - t0)} s, forecast ${perThousand(performance.now() - t1)} s per 1,000 lines`,
  );
  if (!values.brief) console.log(`   ${lawsOf(fit)}`);
  return scored;
}

function lawsOf(fit: BaseFit): string {
  const [best] = fit.shapes;
  const laws = fit.shapes
    .map(({ k1, k2, weight }) => `k1 ${k1.toFixed(1)} k2 ${k2} (${weight.toFixed(2)})`)
    .join(', ');
  const parameters = Object.entries(best?.parameters ?? {}).map(
    ([key, value]) => `${key} ${value.toPrecision(2)}`,
  );
  return `laws ${laws}; visits ${best?.visitTimes.nodes.map((x) => Math.exp(x).toFixed(0)).join(' ')}; ${parameters.join(', ')}`;
}

function show(name: string, scored: Scored[], horizonDays: number): void {
  if (values.brief) {
    const bands = CLASSES.slice(1).map(([, low, high]) =>
      summary(
        scored.filter(({ readings }) => readings >= low && readings <= high),
        horizonDays,
      ),
    );
    const all = summary(scored, horizonDays);
    const now = dueAtOnce(scored);
    console.log(
      `${name.padEnd(14)} ${scored.length} crossed ${all.crossed.toFixed(3)} (${bands.map(({ crossed }) => crossed.toFixed(3)).join(' ')}) coverage ${all.coverage.toFixed(3)} (${bands.map(({ coverage }) => coverage.toFixed(3)).join(' ')}) below50 ${all.below50.toFixed(3)} below90 ${all.below90.toFixed(3)} error ${all.error.toFixed(3)} pinball ${all.pinball.toFixed(4)} now ${now.lines} ${now.over.toFixed(2)}`,
    );
    return;
  }
  console.log(`\n${name}, ${scored.length} lines`);
  for (const row of table(scored, horizonDays)) console.log(row);
}
