import { CLASSES, dueAtOnce, noSkill, type Scored, type Summary, summary } from './score.js';

/** Lines of one base with their scores, and how far ahead its truth is known. */
export interface ScoredBase {
  lines: readonly Scored[];
  /** Of the same lines, by one who knows their true rates and levels; none where the truth is not our own. */
  known?: readonly Scored[];
  horizonDays: number;
}

/** A mean over bases with its standard error: the larger of what bases differ by and what counting alone gives. */
export interface Estimate {
  mean: number;
  error: number;
}

/** One history class of one process, mean over its bases. */
export interface ClassRow {
  name: string;
  lines: number;
  crossed: Estimate;
  coverage: Estimate;
  medianError: number;
  pinball: number;
  bare: { crossed: number; coverage: number; pinball: number };
  /** Of a forecast from the true rate and level. */
  known: { crossed: number; coverage: number; pinball: number } | null;
}

const SHARE_SLACK = 0.02;
export const TARGETS = { crossed: 0.1, coverage: 0.8, pinball: 0.137, ofNoSkill: 0.5 };

const mean = (values: readonly number[]): number =>
  values.reduce((sum, x) => sum + x, 0) / Math.max(1, values.length);

function estimate(parts: readonly { share: number; count: number }[], target: number): Estimate {
  const middle = mean(parts.map(({ share }) => share));
  const spread = parts.reduce((sum, { share }) => sum + (share - middle) ** 2, 0);
  const between = parts.length > 1 ? Math.sqrt(spread / (parts.length - 1) / parts.length) : 0;
  const counting =
    Math.sqrt(parts.reduce((sum, { count }) => sum + (target * (1 - target)) / Math.max(1, count), 0)) /
    Math.max(1, parts.length);
  return { mean: middle, error: Math.max(between, counting) };
}

/** |share − target| ≤ max(.02, two standard errors). */
export const isMet = ({ mean: share, error }: Estimate, target: number): boolean =>
  Math.abs(share - target) <= Math.max(SHARE_SLACK, 2 * error);

/** Rows by history class, the first over all lines. */
export function classRows(bases: readonly ScoredBase[]): ClassRow[] {
  const bare = bases.map(({ lines, horizonDays }) => ({ lines: noSkill(lines), horizonDays }));
  const knowing = bases.flatMap(({ known, horizonDays }) => (known ? [{ lines: known, horizonDays }] : []));
  return CLASSES.map(([name, low, high]) => {
    const of = ({ lines, horizonDays }: ScoredBase): Summary =>
      summary(
        lines.filter(({ readings }) => readings >= low && readings <= high),
        horizonDays,
      );
    const own = bases.map(of).filter(({ lines }) => lines > 0);
    const without = bare.map(of).filter(({ lines }) => lines > 0);
    const known = knowing.map(of).filter(({ lines }) => lines > 0);
    return {
      name,
      lines: own.reduce((sum, { lines }) => sum + lines, 0),
      crossed: estimate(
        own.map(({ crossed, dated }) => ({ share: crossed, count: dated })),
        TARGETS.crossed,
      ),
      coverage: estimate(
        own.map(({ coverage, lines }) => ({ share: coverage, count: lines })),
        TARGETS.coverage,
      ),
      medianError: mean(own.map(({ error }) => error)),
      pinball: mean(own.map(({ pinball }) => pinball)),
      bare: meanScores(without),
      known: known.length > 0 ? meanScores(known) : null,
    };
  });
}

function meanScores(of: readonly { crossed: number; coverage: number; pinball: number }[]) {
  return {
    crossed: mean(of.map(({ crossed }) => crossed)),
    coverage: mean(of.map(({ coverage }) => coverage)),
    pinball: mean(of.map(({ pinball }) => pinball)),
  };
}

export const TABLE_HEAD =
  'readings   lines   crossed ± SE     coverage ± SE    error  pinball | no skill: crossed  coverage  pinball  ours/no skill | true rate: crossed  coverage  pinball';

/** A share outside its target carries a mark. */
export function rowText(row: ClassRow): string {
  const cell = (x: number, width: number): string => x.toFixed(3).padStart(width);
  const share = (each: Estimate, target: number): string =>
    `${cell(each.mean, 8)} ±${cell(each.error, 5)}${isMet(each, target) ? ' ' : '!'}`;
  return (
    `${row.name.padEnd(9)} ${String(row.lines).padStart(6)} ${share(row.crossed, TARGETS.crossed)} ${share(row.coverage, TARGETS.coverage)} ` +
    `${cell(row.medianError, 8)} ${cell(row.pinball, 8)} | ${cell(row.bare.crossed, 17)} ${cell(row.bare.coverage, 9)} ${cell(row.bare.pinball, 8)} ` +
    `${cell(row.pinball / row.bare.pinball, 10)}${' '.repeat(5)}|` +
    (row.known === null
      ? ''
      : `${cell(row.known.crossed, 19)} ${cell(row.known.coverage, 9)} ${cell(row.known.pinball, 8)}`)
  );
}

/** Lines said to be due at once: truly over within 30 days at least as often as the risk of the date. */
export function dueAtOnceText(bases: readonly ScoredBase[]): string {
  const { lines, over } = dueAtOnce(bases.flatMap(({ lines }) => lines));
  if (lines === 0) return 'due at once: none';
  const error = Math.sqrt((over * (1 - over)) / lines);
  return `due at once: ${lines} lines, truly over within 30 days ${over.toFixed(3)} ± ${error.toFixed(3)} (at least ${TARGETS.crossed})`;
}

/** What the targets say of the tables of all processes, in words. */
export function verdicts(tables: ReadonlyMap<string, readonly ClassRow[]>): string[] {
  const all = [...tables].flatMap(([process, rows]) => rows.map((row) => ({ process, row })));
  const off = (of: 'crossed' | 'coverage'): string => {
    const missed = all.filter(({ row }) => !isMet(row[of], TARGETS[of]));
    const names = missed.map(
      ({ process, row }) => `${process} ${row.name} ${row[of].mean.toFixed(3)} ± ${row[of].error.toFixed(3)}`,
    );
    return `${of}: ${all.length - missed.length} of ${all.length} rows within max(.02, 2 SE) of ${TARGETS[of]}${names.length > 0 ? `; off: ${names.join(', ')}` : ''}`;
  };
  const whole = [...tables.values()].map(([first]) => first).filter((row) => row !== undefined);
  const pinball = mean(whole.map((row) => row.pinball));
  const worst = Math.max(...whole.map((row) => row.pinball / row.bare.pinball));
  const met = (is: boolean): string => (is ? 'met' : 'not met');
  return [
    off('crossed'),
    off('coverage'),
    `pinball in the mean over processes ${pinball.toFixed(4)}, target ${TARGETS.pinball}: ${met(pinball <= TARGETS.pinball)}`,
    `largest share of the no-skill pinball ${worst.toFixed(3)}, target ${TARGETS.ofNoSkill}: ${met(worst <= TARGETS.ofNoSkill)}`,
  ];
}

/** Mean of the processes' rows, class by class. */
export function meanRows(tables: ReadonlyMap<string, readonly ClassRow[]>): ClassRow[] {
  return CLASSES.map(([name], k) => {
    const rows = [...tables.values()].map((table) => table[k]).filter((row) => row !== undefined);
    const known = rows.flatMap((row) => row.known ?? []);
    const over = (of: 'crossed' | 'coverage'): Estimate => ({
      mean: mean(rows.map((row) => row[of].mean)),
      error: Math.sqrt(rows.reduce((sum, row) => sum + row[of].error ** 2, 0)) / Math.max(1, rows.length),
    });
    return {
      name,
      lines: rows.reduce((sum, { lines }) => sum + lines, 0),
      crossed: over('crossed'),
      coverage: over('coverage'),
      medianError: mean(rows.map(({ medianError }) => medianError)),
      pinball: mean(rows.map(({ pinball }) => pinball)),
      bare: meanScores(rows.map(({ bare }) => bare)),
      known: known.length > 0 ? meanScores(known) : null,
    };
  });
}
