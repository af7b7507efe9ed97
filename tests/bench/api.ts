import { type ChildProcess, fork } from 'node:child_process';
import { once } from 'node:events';
import { Agent, request as send } from 'node:http';
import { join } from 'node:path';
import { parseArgs } from 'node:util';
import { benchBase } from './api/base.js';
import { type Ground, type Request, WORK } from './api/work.js';
import { noiseText, spreadOf, spreadText } from './machine/noise.js';

// The requests of a day by HTTP, ours beside a bare Fastify handler with the same statements: server CPU a request and
// requests a second, in turn, in one run. Target: at most twice the bare CPU. With --night also while the night runs, with
// --instances also one process beside two that are asked in turn. --rounds 0 leaves the comparison with the bare one out;
// --base FOLDER keeps the base for the next run, --only WORD leaves requests out.
//
//   node tests/bench/run.mjs api --lines 10000 --seconds 5 --rounds 3 --night

const { values } = parseArgs({
  options: {
    lines: { type: 'string', default: '1000' },
    seconds: { type: 'string', default: '4' },
    rounds: { type: 'string', default: '3' },
    callers: { type: 'string', default: '8' },
    night: { type: 'boolean', default: false },
    instances: { type: 'boolean', default: false },
    base: { type: 'string' },
    only: { type: 'string', default: '' },
  },
});
const PAIRS = 5;
const works = Object.keys(WORK).filter((name) => name.includes(values.only));
const agent = new Agent({ keepAlive: true, maxSockets: 64 });
const base = await benchBase(Number(values.lines), values.base);
const children: ChildProcess[] = [];
try {
  console.log(noiseText());
  const { ground, key } = base;
  console.log(`${values.lines} lines, ${values.callers} callers, ${values.seconds} s a round, in turn`);
  if (Number(values.rounds) > 0) for (const name of works) await compare(name, ground, key);
  if (values.instances) await besideAnother(ground, key);
  if (values.night) await underTheNight(ground, key);
  console.log(noiseText());
} finally {
  for (const child of children) child.kill('SIGKILL');
  await base.end();
}

interface Served {
  url: string;
  cpuMs(): Promise<number>;
  end(): void;
}

async function serving(
  mode: 'ours' | 'bare' | 'night',
  name: string,
  ground: Ground,
  key: string,
): Promise<Served> {
  const child = fork(join(import.meta.dirname, 'api/server.js'), [
    JSON.stringify({ mode, url: base.url, key, work: name, ground }),
  ]);
  children.push(child);
  const [{ url }] = (await once(child, 'message')) as [{ url: string }];
  return {
    url,
    async cpuMs() {
      child.send('cpu');
      const [{ cpu }] = (await once(child, 'message')) as [{ cpu: NodeJS.CpuUsage }];
      return (cpu.user + cpu.system) / 1000;
    },
    end: () => void child.kill('SIGKILL'),
  };
}

interface Round {
  perSecond: number;
  cpuMs: number;
  p99Ms: number;
}

function ask(url: string, key: string, { method, path, body }: Request): Promise<void> {
  return new Promise((resolve, reject) => {
    const payload = body === undefined ? undefined : JSON.stringify(body);
    const out = send(
      `${url}${path}`,
      {
        method,
        agent,
        headers: {
          authorization: `Bearer ${key}`,
          ...(payload === undefined
            ? {}
            : { 'content-type': 'application/json', 'content-length': Buffer.byteLength(payload) }),
        },
      },
      (answer) => {
        const { statusCode = 0 } = answer;
        const told: Buffer[] = [];
        answer.on('data', (chunk: Buffer) => {
          if (statusCode >= 300) told.push(chunk);
        });
        answer.on('end', () =>
          statusCode < 300 ? resolve() : reject(new Error(`${path}: ${statusCode} ${Buffer.concat(told)}`)),
        );
        answer.on('error', reject);
      },
    );
    out.on('error', reject);
    out.end(payload);
  });
}

/** @param served Instances, asked in turn. */
async function round(
  served: Served | readonly Served[],
  name: string,
  ground: Ground,
  key: string,
): Promise<Round> {
  const instances = [served].flat();
  const spent = async () => {
    let sum = 0;
    for (const each of instances) sum += await each.cpuMs();
    return sum;
  };
  const make = WORK[name] as (ground: Ground) => Request;
  const took: number[] = [];
  let asked = 0;
  const cpu = await spent();
  const startedAt = performance.now();
  const until = startedAt + Number(values.seconds) * 1000;
  await Promise.all(
    Array.from({ length: Number(values.callers) }, async () => {
      while (performance.now() < until) {
        const at = performance.now();
        await ask((instances[asked++ % instances.length] as Served).url, key, make(ground));
        took.push(performance.now() - at);
      }
    }),
  );
  const seconds = (performance.now() - startedAt) / 1000;
  took.sort((a, b) => a - b);
  return {
    perSecond: took.length / seconds,
    cpuMs: ((await spent()) - cpu) / took.length,
    p99Ms: took[Math.floor(took.length * 0.99)] ?? 0,
  };
}

async function compare(name: string, ground: Ground, key: string): Promise<void> {
  const both = { ours: [] as Round[], bare: [] as Round[] };
  const [ours, bare] = [await serving('ours', name, ground, key), await serving('bare', name, ground, key)];
  for (const served of [ours, bare]) await round(served, name, ground, key); // warms up
  for (let n = 0; n < Number(values.rounds); n++) {
    both.ours.push(await round(ours, name, ground, key));
    both.bare.push(await round(bare, name, ground, key));
  }
  ours.end();
  bare.end();
  const ratios = both.ours.map((each, i) => each.cpuMs / (both.bare[i]?.cpuMs ?? Number.NaN));
  const middle = (rounds: Round[], of: (one: Round) => number) => spreadOf(rounds.map(of)).median;
  console.log(
    `${name.padEnd(16)} CPU ${spreadText(ratios, '× bare')}; ${middle(both.ours, (r) => r.cpuMs).toFixed(2)} against ${middle(both.bare, (r) => r.cpuMs).toFixed(2)} ms a request, ${middle(both.ours, (r) => r.perSecond).toFixed(0)} against ${middle(both.bare, (r) => r.perSecond).toFixed(0)} a second`,
  );
}

/** Requests a second of one process and of two, in pairs. */
async function besideAnother(ground: Ground, key: string): Promise<void> {
  for (const name of works) {
    const two = [await serving('ours', name, ground, key), await serving('ours', name, ground, key)];
    await round(two, name, ground, key);
    const [alone, both, ratios]: [number[], number[], number[]] = [[], [], []];
    for (let n = 0; n < PAIRS; n++) {
      alone.push((await round(two.slice(0, 1), name, ground, key)).perSecond);
      both.push((await round(two, name, ground, key)).perSecond);
      ratios.push((both.at(-1) ?? 0) / (alone.at(-1) ?? 0));
    }
    for (const each of two) each.end();
    console.log(
      `${name.padEnd(16)} two instances ${spreadText(ratios, '× one')}: ${spreadOf(both).median.toFixed(0)} against ${spreadOf(alone).median.toFixed(0)} a second`,
    );
  }
}

/** p99 while a night runs in another process against quiet, in pairs. */
async function underTheNight(ground: Ground, key: string): Promise<void> {
  for (const name of works) {
    const served = await serving('ours', name, ground, key);
    await round(served, name, ground, key);
    const ratios: number[] = [];
    for (let n = 0; n < PAIRS; n++) {
      const quiet = await round(served, name, ground, key);
      const night = await serving('night', name, ground, key);
      const busy = await round(served, name, ground, key);
      night.end();
      await base.pool.query(`UPDATE nightly_run SET state = 'failed', holder = NULL, lease_until = NULL`);
      ratios.push(busy.p99Ms / quiet.p99Ms);
    }
    served.end();
    console.log(`${name.padEnd(16)} p99 under the night ${spreadText(ratios, '× quiet')}`);
  }
}
