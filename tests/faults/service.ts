import { type ChildProcess, execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { openSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { isAlive, readPostmaster } from '../../src/persistence/postmaster.js';

/** The built service as a process of its own, on its own folder and port; whoever kills it, it is started again. */
export class Service {
  private child: ChildProcess | undefined;
  private readonly env: NodeJS.ProcessEnv;
  private stopping = false;
  /** How often it was started. */
  starts = 0;

  private readonly cli: string;
  private readonly folder: string;
  readonly port: number;

  /** @param more Settings beside the usual ones, as another database. */
  constructor(cli: string, folder: string, port: number, more: NodeJS.ProcessEnv = {}) {
    this.cli = cli;
    this.folder = folder;
    this.port = port;
    const { DATABASE_URL: _, ...environment } = process.env;
    this.env = {
      ...environment,
      ...more,
      OPENBORE_DATA: folder,
      PORT: String(port),
      NIGHT: 'off',
      LOG_LEVEL: 'warn',
      REQUESTS_PER_MINUTE: '0',
    };
  }

  get url(): string {
    return `http://127.0.0.1:${this.port}`;
  }

  get hasEnded(): boolean {
    return this.child?.exitCode !== null || this.child.signalCode !== null;
  }

  key(role: string): string {
    return execFileSync(process.execPath, [this.cli, 'key', '--name', 'faults', '--role', role], {
      env: this.env,
      encoding: 'utf8',
    }).trim();
  }

  start(): void {
    this.starts += 1;
    const log = openSync(join(this.folder, '..', 'service.log'), 'a');
    this.child = spawn(process.execPath, [this.cli, 'serve'], { env: this.env, stdio: ['ignore', log, log] });
    this.child.once('exit', () => {
      if (!this.stopping) this.start();
    });
  }

  kill(): boolean {
    return this.signal('SIGKILL');
  }

  signal(signal: NodeJS.Signals): boolean {
    return this.child?.kill(signal) ?? false;
  }

  databasePid(): number | null {
    const found = readPostmaster(join(this.folder, 'data'));
    return found && isAlive(found.pid) ? found.pid : null;
  }

  killDatabase(): boolean {
    const pid = this.databasePid();
    if (pid !== null) process.kill(pid, 'SIGKILL');
    return pid !== null;
  }

  /** Processes of the database, for a while not scheduled: everything waits. */
  async freezeDatabase(ms: number): Promise<void> {
    const pid = this.databasePid();
    if (pid === null) return;
    const send = (signal: NodeJS.Signals, to: readonly number[]) => {
      for (const each of to) if (isAlive(each)) process.kill(each, signal);
    };
    // The parent first: it takes on nobody new while the others are looked up.
    send('SIGSTOP', [pid]);
    const parts = childrenOf(pid);
    send('SIGSTOP', parts);
    await sleep(ms);
    send('SIGCONT', [pid, ...parts]);
  }

  async ready(withinMs: number): Promise<boolean> {
    for (const end = Date.now() + withinMs; Date.now() < end; await sleep(50)) {
      const answer = await fetch(`http://127.0.0.1:${this.port}/ready`, {
        signal: AbortSignal.timeout(2_000),
      }).catch(() => null);
      if (answer?.ok) return true;
    }
    return false;
  }

  /** @returns Its exit code; null: none, or it had been stopped before. */
  async stop(): Promise<number | null> {
    if (this.stopping || !this.child) return null;
    this.stopping = true;
    const ended = once(this.child, 'exit') as Promise<[number | null]>;
    this.child.kill('SIGTERM');
    return (await ended)[0];
  }
}

function childrenOf(pid: number): number[] {
  try {
    return execFileSync('ps', ['--ppid', String(pid), '-o', 'pid='], { encoding: 'utf8' })
      .split('\n')
      .map(Number)
      .filter((each) => each > 0);
  } catch {
    return []; // it has none any more
  }
}
