import { type SpawnOptions, spawn } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';

/** What a command and all processes it started took. Memory is null where the system has no /proc. */
export interface Cost {
  seconds: number;
  /** Processor time of the command's own process. */
  ownSeconds: number | null;
  /** Highest resident memory of the command's own process, MiB. */
  ownMib: number | null;
  /** Highest sum over the tree, pages that processes share counted once, MiB. */
  treeMib: number | null;
  output: string;
}

const SAMPLE_MS = 100;
const TICKS_PER_SECOND = 100;

/**
 * Runs a command to its end and watches the memory of its process tree, the database's processes included.
 * @param alsoWatch Processes started by others whose trees count too.
 * @param onErrors  Told what the command writes to its error output, as it comes.
 * @throws {Error} When it ends with another code than 0, with what it said.
 */
export async function costOf(
  command: string,
  args: readonly string[],
  {
    alsoWatch = [],
    onErrors = () => undefined,
    ...options
  }: SpawnOptions & { alsoWatch?: readonly number[]; onErrors?: (text: string) => void } = {},
): Promise<Cost> {
  const startedAt = performance.now();
  const child = spawn(command, args, { ...options, stdio: ['ignore', 'pipe', 'pipe'] });
  let output = '';
  let errors = '';
  child.stdout?.on('data', (chunk: Buffer) => (output += chunk.toString()));
  child.stderr?.on('data', (chunk: Buffer) => {
    errors += chunk.toString();
    onErrors(chunk.toString());
  });
  const pid = child.pid ?? 0;
  const peak: Pick<Cost, 'ownSeconds' | 'ownMib' | 'treeMib'> = {
    ownSeconds: null,
    ownMib: null,
    treeMib: null,
  };
  const sample = () => {
    const { ownSeconds, ownMib, treeMib } = memoryOf(pid, alsoWatch);
    peak.ownSeconds = ownSeconds ?? peak.ownSeconds;
    if (ownMib !== null) peak.ownMib = Math.max(peak.ownMib ?? 0, ownMib);
    if (treeMib !== null) peak.treeMib = Math.max(peak.treeMib ?? 0, treeMib);
  };
  const watch = setInterval(sample, SAMPLE_MS);
  const code = await new Promise<number | null>((resolve, reject) => {
    child.on('error', reject);
    child.on('close', resolve);
  });
  clearInterval(watch);
  if (code !== 0)
    throw new Error(
      `${command} ${args.join(' ')} ended with ${code}:\n${(output + errors).split('\n').slice(-30).join('\n')}`,
    );
  return { seconds: (performance.now() - startedAt) / 1000, ...peak, output };
}

function memoryOf(
  root: number,
  others: readonly number[],
): {
  ownSeconds: number | null;
  ownMib: number | null;
  treeMib: number | null;
} {
  const children = new Map<number, number[]>();
  try {
    for (const name of readdirSync('/proc')) {
      const pid = Number(name);
      const parent = Number.isInteger(pid) ? parentOf(pid) : null;
      if (parent !== null) children.set(parent, [...(children.get(parent) ?? []), pid]);
    }
  } catch {
    return { ownSeconds: null, ownMib: null, treeMib: null };
  }
  let treeMib = 0;
  const reached = [root, ...others];
  for (const pid of reached) {
    reached.push(...(children.get(pid) ?? []));
    treeMib += proportionalMib(pid) ?? 0;
  }
  return { ownSeconds: processorSeconds(root), ownMib: residentMib(root), treeMib };
}

const read = (path: string): string | null => {
  try {
    return readFileSync(path, 'utf8');
  } catch {
    return null; // ended meanwhile, or not ours to read
  }
};

/** Fields of /proc/PID/stat after the name, which may hold spaces: state is the first. */
const statFields = (pid: number): string[] | null =>
  read(`/proc/${pid}/stat`)
    ?.replace(/^.*\) /s, '')
    .split(' ') ?? null;

const parentOf = (pid: number): number | null => {
  const fields = statFields(pid);
  return fields ? Number(fields[1]) : null;
};

/** Processor time of a process, of its children that live and of those that ended. */
export function treeSeconds(root: number): number | null {
  let seconds: number | null = null;
  try {
    for (const name of readdirSync('/proc')) {
      const pid = Number(name);
      if (pid !== root && (!Number.isInteger(pid) || parentOf(pid) !== root)) continue;
      const fields = statFields(pid);
      if (fields)
        seconds =
          (seconds ?? 0) +
          (pid === root ? [11, 12, 13, 14] : [11, 12]).reduce((sum, k) => sum + Number(fields[k]), 0) /
            TICKS_PER_SECOND;
    }
  } catch {
    return null;
  }
  return seconds;
}

const processorSeconds = (pid: number): number | null => {
  const fields = statFields(pid);
  return fields ? (Number(fields[11]) + Number(fields[12])) / TICKS_PER_SECOND : null;
};

const kibOf = (text: string | null, name: string): number | null => {
  const found = text?.match(new RegExp(`^${name}:\\s+(\\d+) kB`, 'm'));
  return found ? Number(found[1]) / 1024 : null;
};

const residentMib = (pid: number): number | null => kibOf(read(`/proc/${pid}/status`), 'VmRSS');

/** Own pages and this process's part of shared ones: sums over processes without counting any twice. */
const proportionalMib = (pid: number): number | null => kibOf(read(`/proc/${pid}/smaps_rollup`), 'Pss');
