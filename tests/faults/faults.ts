import { parseArgs } from 'node:util';
import { breakAndJudge, type Outcome } from './breaking.js';

// Exit 0: every acknowledged write is there, once. With --control the door acknowledges before it knows, and the
// checks must find what is lost: exit 0 only then.

const { values } = parseArgs({
  options: {
    kills: { type: 'string', default: '100' },
    seconds: { type: 'string', default: '600' },
    writers: { type: 'string', default: '12' },
    seed: { type: 'string', default: '1' },
    least: { type: 'string', default: '30' },
    most: { type: 'string', default: '90' },
    round: { type: 'string', default: '50' },
    only: { type: 'string', default: '' },
    disk: { type: 'string', default: '0' },
    control: { type: 'boolean', default: false },
    keep: { type: 'boolean', default: false },
  },
});
let isCut = false;
for (const signal of ['SIGINT', 'SIGTERM'] as const)
  process.once(signal, () => {
    isCut = true;
  });

const began = Date.now();
const outcome = await breakAndJudge({
  root: process.cwd(),
  kills: Number(values.kills),
  seconds: Number(values.seconds),
  writers: Number(values.writers),
  seed: Number(values.seed),
  least: Number(values.least),
  most: Number(values.most),
  round: Number(values.round),
  only: values.only,
  disk: Number(values.disk),
  control: values.control,
  keep: values.keep,
  say: (line) => console.log(`${new Date().toISOString()} ${line}`),
  isCut: () => isCut,
});
report(outcome);
console.log(
  values.control
    ? outcome.red
      ? 'control: red, as it must be'
      : 'control: GREEN, so the checks prove nothing'
    : outcome.red
      ? 'RED'
      : 'green',
);
process.exitCode = outcome.red === values.control ? 0 : 1;

function report({ tallies, kills, starts, ledger, verdict, constraints }: Outcome): void {
  console.log('fault              times  kills  with none in flight  in flight (mean)  slowest until ready');
  for (const [name, { times, kills: killed, idle, inFlight, slowestS }] of tallies)
    console.log(
      [
        name.padEnd(17),
        String(times).padStart(6),
        String(killed).padStart(6),
        String(idle).padStart(20),
        (inFlight / Math.max(1, times)).toFixed(1).padStart(17),
        `${slowestS.toFixed(1)} s`.padStart(20),
      ].join(' '),
    );
  const seconds = Math.round((Date.now() - began) / 1000);
  console.log(`kills ${kills} in ${seconds} s, service started ${starts} times`);
  console.log(
    `sent ${ledger.attempts}, of these ${ledger.late} late copies and ${ledger.early} ahead of their turn; acknowledged ${ledger.acknowledged}`,
  );
  const refusals = [...ledger.refusals].sort(([a], [b]) => a - b);
  console.log(`refused: ${refusals.map(([status, n]) => `${status} ${n} times`).join(', ')}`);
  for (const [what, found] of Object.entries(verdict) as [string, string[]][])
    console.log(`${what} ${found.length}${list(found, '; ')}`);
  console.log(`every constraint holds: ${constraints}`);
  console.log(`strange answers ${ledger.strange.length}${list(ledger.strange, '\n  ')}`);
}

function list(found: readonly string[], between: string): string {
  return found.length > 0 ? `: ${found.slice(0, 5).join(between)}` : '';
}
