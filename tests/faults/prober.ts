import { setTimeout as sleep } from 'node:timers/promises';

const PATIENCE_MS = 180_000;

/** Asks the same address again and again, each time whether or not the last was answered, and remembers what came. */
export class Prober {
  readonly byStatus = new Map<number, number>();
  /** Nobody at the door. */
  refused = 0;
  /** Taken on and never answered. */
  cut = 0;
  slowestS = 0;
  /** Refusals that are no problem document. */
  readonly strange: string[] = [];
  /** What was answered with 200, the latest few. */
  readonly seen: string[] = [];
  private readonly path: string;
  private going = true;
  private readonly asking = new Set<Promise<void>>();
  private readonly asks: Promise<void>;

  constructor({ url, key }: { url: string; key: string }, everyMs: number, path = '/v1/sites?limit=1') {
    this.path = path;
    this.asks = (async () => {
      for (; this.going; await sleep(everyMs)) {
        const one = this.ask(url, key).finally(() => this.asking.delete(one));
        this.asking.add(one);
      }
    })();
  }

  private async ask(url: string, key: string): Promise<void> {
    const at = performance.now();
    try {
      const answer = await fetch(`${url}${this.path}`, {
        headers: { authorization: `Bearer ${key}` },
        signal: AbortSignal.timeout(PATIENCE_MS),
      });
      const text = await answer.text();
      this.byStatus.set(answer.status, (this.byStatus.get(answer.status) ?? 0) + 1);
      if (answer.ok) this.seen.push(text);
      else if (
        this.path !== '/ready' &&
        !answer.headers.get('content-type')?.startsWith('application/problem+json')
      )
        this.strange.push(`${answer.status} that is no problem document: ${text.slice(0, 200)}`);
    } catch (error) {
      if (((error as Error).cause as { code?: string } | undefined)?.code === 'ECONNREFUSED')
        this.refused += 1;
      else this.cut += 1;
    }
    this.slowestS = Math.max(this.slowestS, (performance.now() - at) / 1000);
  }

  async end(): Promise<void> {
    this.going = false;
    await this.asks;
    await Promise.all(this.asking);
  }

  words(): string {
    const answers = [...this.byStatus].sort(([a], [b]) => a - b).map(([status, n]) => `${status} ${n} times`);
    const rest = [
      ...(this.refused > 0 ? [`no door ${this.refused}`] : []),
      ...(this.cut > 0 ? [`cut ${this.cut}`] : []),
    ];
    return `${[...answers, ...rest].join(', ')}, slowest ${this.slowestS.toFixed(1)} s`;
  }
}
