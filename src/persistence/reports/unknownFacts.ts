import type { Row } from '../../actions/ports.js';
import type { DueRule } from '../../domain/fouling/dueDateReason.js';

/** A fact, the condition under which it is unknown, and the name it has in the line's list of assumed facts. */
interface Fact {
  fact: string;
  unknown: string;
  assumedAs?: string;
  /** The rules of due dates that go by it; absent: none does. */
  rules?: readonly DueRule[];
}

const BY_THE_RATE: readonly DueRule[] = ['over_limit', 'risk', 'cost_least'];

const OF_LINES: readonly Fact[] = [
  { fact: 'material', unknown: `l.main_material = 'unknown'`, assumedAs: 'material', rules: BY_THE_RATE },
  { fact: 'bore', unknown: 'l.main_bore_mm IS NULL', assumedAs: 'bore', rules: BY_THE_RATE },
  { fact: 'length', unknown: 'l.length_m IS NULL', assumedAs: 'length' },
  { fact: 'day_laid', unknown: 'l.installed_on IS NULL' },
  { fact: 'drains_to', unknown: `l.drains_to = 'unknown'`, assumedAs: 'drains_to', rules: ['risk'] },
  { fact: 'outlet', unknown: `l.outlet = 'unknown' AND l.drains_to IN ('outlet', 'unknown')` },
  {
    fact: 'iron',
    unknown: 'coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l) IS NULL',
    rules: [...BY_THE_RATE, 'first_interval'],
  },
  { fact: 'stays_wet', unknown: 'l.stays_wet IS NULL', rules: ['hardening'] },
  { fact: 'perforated', unknown: 'l.perforated IS NULL' },
  { fact: 'deposit', unknown: `l.deposit = 'unknown'`, rules: ['first_interval'] },
  {
    fact: 'ever_measured',
    unknown: 'coalesce(t.readings_used, 0) = 0',
    rules: [...BY_THE_RATE, 'first_interval'],
  },
  {
    fact: 'ever_cleaned',
    unknown: 'NOT EXISTS (SELECT FROM clean c WHERE c.line_id = l.id AND c.withdrawn_at IS NULL)',
    rules: ['first_interval', 'max_interval'],
  },
  {
    fact: 'way_in',
    unknown: 'NOT EXISTS (SELECT FROM access_point p WHERE p.line_id = l.id AND p.archived_on IS NULL)',
  },
];

const OF_SITES: readonly Fact[] = [
  { fact: 'basement', unknown: `s.basement = 'unknown'`, rules: ['risk'] },
  { fact: 'tap', unknown: `s.tap = 'unknown'` },
  { fact: 'place_on_map', unknown: 's.latitude IS NULL' },
  { fact: 'builder', unknown: 's.builder IS NULL' },
  {
    fact: 'who_to_phone',
    unknown:
      'NOT EXISTS (SELECT FROM contact c WHERE c.site_id = s.id AND c.archived_on IS NULL AND c.phone IS NOT NULL)',
  },
];

const pumpWith = (what: string): string =>
  `NOT EXISTS (SELECT FROM pump u WHERE u.pit_id = p.id AND u.removed_on IS NULL AND u.${what} IS NOT NULL)`;

const OF_PITS: readonly Fact[] = [
  { fact: 'pit_depth', unknown: 'p.depth_mm IS NULL' },
  { fact: 'pit_inflow', unknown: 'p.inflow_lps IS NULL' },
  { fact: 'pump_curve', unknown: pumpWith('curve') },
  { fact: 'pump_alarm', unknown: pumpWith('alarm') },
];

const SUBJECTS = [
  {
    of: 'line',
    facts: OF_LINES,
    // Lines whose date was set by one of the rules.
    dated: (rules: string) => `(t.due_rule IN (${rules}))::int`,
    from: 'asked a JOIN line l ON l.id = a.id JOIN site s ON s.id = l.site_id LEFT JOIN trend t ON t.line_id = l.id',
  },
  {
    of: 'site',
    facts: OF_SITES,
    dated: (rules: string) =>
      `(SELECT count(*) FROM asked b JOIN trend t ON t.line_id = b.id WHERE b.site_id = s.id AND t.due_rule IN (${rules}))`,
    from: '(SELECT DISTINCT site_id FROM asked) a JOIN site s ON s.id = a.site_id',
  },
  {
    of: 'pit',
    facts: OF_PITS,
    dated: () => '0',
    from: '(SELECT DISTINCT system_id FROM asked) a JOIN pit p ON p.system_id = a.system_id AND p.archived_on IS NULL',
  },
] as const;

const listOf = (rules: readonly DueRule[]): string => rules.map((rule) => `'${rule}'`).join(', ');

/** One query a subject over the CTE `asked`: how many there are, of each fact how many unknown and assumed, and how many lines' dates rest on it. */
export const FACT_COUNTS = SUBJECTS.map(({ of, facts, from, dated }) => ({
  of,
  sql: `SELECT count(*)::int AS n, ${facts
    .flatMap(({ fact, unknown, assumedAs, rules = [] }) => {
      const assumed =
        assumedAs === undefined ? 'false' : `'${assumedAs}' = ANY (l.assumed) AND NOT (${unknown})`;
      const moved = rules.length === 0 ? '0' : dated(listOf(rules));
      return [
        `count(*) FILTER (WHERE ${unknown})::int AS unknown_${fact}`,
        `count(*) FILTER (WHERE ${assumed})::int AS assumed_${fact}`,
        `coalesce(sum(${moved}) FILTER (WHERE (${unknown}) OR (${assumed})), 0)::int AS dates_${fact}`,
      ];
    })
    .join(', ')} FROM ${from}`,
  rowsOf: (counts: Row): Row[] =>
    facts.map(({ fact }) => ({
      of,
      fact,
      asked: counts['n'],
      unknown: counts[`unknown_${fact}`],
      assumed: counts[`assumed_${fact}`],
      dates: counts[`dates_${fact}`],
    })),
}));
