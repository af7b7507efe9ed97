import type { Pool, PoolClient } from 'pg';

/** A statement as it was run. */
export interface Told {
  text: string;
  ms: number;
  pages: number;
  /** Run by a trigger or a function. */
  nested: boolean;
  plan: PlanNode;
}

interface PlanNode {
  'Node Type': string;
  'Relation Name'?: string;
  'Actual Rows'?: number;
  'Actual Loops'?: number;
  'Rows Removed by Filter'?: number;
  'Rows Removed by Index Recheck'?: number;
  'Shared Hit Blocks'?: number;
  'Shared Read Blocks'?: number;
  'Sort Key'?: string[];
  Plans?: PlanNode[];
}

const LARGE = 5_000;

/** Has PostgreSQL explain every statement of the pool as it is run, to the session itself. */
export function explainAll(pool: Pool, told: Told[]): void {
  pool.on('connect', (client: PoolClient) => {
    client.on('notice', ({ message = '' }) => {
      const [, ms, json] = /^duration: ([\d.]+) ms +plan:\n([\s\S]*)$/.exec(message) ?? [];
      if (!json) return;
      const { 'Query Text': text, Plan: plan } = JSON.parse(json) as { 'Query Text': string; Plan: PlanNode };
      const pages = (plan['Shared Hit Blocks'] ?? 0) + (plan['Shared Read Blocks'] ?? 0);
      told.push({ text, ms: Number(ms), pages, nested: !/\$\d|^\s*(BEGIN|COMMIT)/.test(text), plan });
    });
    void client.query(
      `LOAD 'auto_explain'; SET auto_explain.log_min_duration = 0; SET auto_explain.log_analyze = on; SET auto_explain.log_buffers = on;
       SET auto_explain.log_timing = off; SET auto_explain.log_format = json; SET auto_explain.log_nested_statements = on; SET auto_explain.log_level = notice`,
    );
  });
}

const nodesOf = (node: PlanNode): PlanNode[] => [node, ...(node.Plans ?? []).flatMap(nodesOf)];

/** What of a plan grows with the base: tables read whole, all rows sorted, many rows read for few. */
export function faultsOf({ plan, ms }: Told, sizes: ReadonlyMap<string, number>): string[] {
  return nodesOf(plan).flatMap((node) => {
    const rows = (node['Actual Rows'] ?? 0) * (node['Actual Loops'] ?? 1);
    const dropped = (node['Rows Removed by Filter'] ?? 0) * (node['Actual Loops'] ?? 1);
    const table = node['Relation Name'] ?? '';
    const of = `of ${ms.toFixed(0)} ms: ${node['Node Type']} ${table}`;
    if (/Seq Scan/.test(node['Node Type']) && (sizes.get(table) ?? 0) > LARGE)
      return [`${of}, ${rows} rows and ${dropped} thrown away`];
    if (/Sort/.test(node['Node Type'])) {
      const sorted = (node.Plans ?? []).reduce((sum, each) => sum + (each['Actual Rows'] ?? 0), 0);
      return sorted > LARGE ? [`${of}${node['Sort Key']?.join(', ')}, ${sorted} rows`] : [];
    }
    return dropped > LARGE ? [`${of}, ${dropped} rows thrown away for ${rows}`] : [];
  });
}
