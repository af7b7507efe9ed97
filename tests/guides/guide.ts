import { execFile } from 'node:child_process';
import { existsSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { promisify } from 'node:util';

/** A command of a guide, and what the guide says comes of it. */
export interface Command {
  line: number;
  script: string;
  status: number | null;
  /** Headers named behind the status. */
  headers: [string, string][];
  /** The fenced block beneath it, if it shows an answer. */
  shown: { language: string; text: string } | null;
}

/** What was answered to a command; null: it asked nothing. */
export interface Answered {
  status: number;
  headers: Map<string, string>;
  body: string;
}

interface Fence {
  line: number;
  language: string;
  text: string;
}

function fencesOf(markdown: string): Fence[] {
  return [...markdown.matchAll(/^```(\w+)\n(.*?)^```$/gms)].map((match) => ({
    line: markdown.slice(0, match.index).split('\n').length,
    language: match[1] ?? '',
    text: match[2] ?? '',
  }));
}

/** Every `sh` block of a guide; `# → 200, etag: "1"` in it tells status and headers, the block beneath it the body. */
export function commandsOf(markdown: string): Command[] {
  const fences = fencesOf(markdown);
  return fences.flatMap(({ line, language, text }, i) => {
    if (language !== 'sh') return [];
    const said = /^# → (\d{3})(.*)$/m.exec(text);
    const next = fences[i + 1];
    return [
      {
        line,
        script: text,
        status: said ? Number(said[1]) : null,
        headers: [...(said?.[2] ?? '').matchAll(/, ([\w-]+): ([^,]+)/g)].map(
          ([, name, value]): [string, string] => [name ?? '', value ?? ''],
        ),
        shown: next && next.language !== 'sh' ? next : null,
      },
    ];
  });
}

// What a guide asks goes through curl as it stands; beside its output the answer is kept for the test.
const KEEPING_CURL = `curl() { command curl -sS --max-time 60 -D "$OUT/$N.head" "$@" | tee "$OUT/$N.body"; }`;

/** Runs the commands in one shell, one after the other, and tells what each was answered. */
export async function runCommands(
  commands: readonly Command[],
  folder: string,
  variables: Record<string, string>,
  seconds = 120,
): Promise<(Answered | null)[]> {
  const script = ['set -eu', KEEPING_CURL, ...commands.map(({ script }, n) => `N=${n}\n${script}`)].join(
    '\n',
  );
  await promisify(execFile)('bash', ['-c', script], {
    cwd: folder,
    env: { PATH: process.env['PATH'], OUT: folder, ...variables },
    timeout: seconds * 1000,
  });
  return commands.map((_, n) => answered(folder, n));
}

function answered(folder: string, n: number): Answered | null {
  const head = join(folder, `${n}.head`);
  if (!existsSync(head)) return null;
  // An upload is first told to go on: the last head is the answer's.
  const [first = '', ...rest] = (readFileSync(head, 'utf8').trim().split('\r\n\r\n').at(-1) ?? '').split(
    '\r\n',
  );
  return {
    status: Number(first.split(' ')[1]),
    headers: new Map(
      rest.map((text) => [
        text.slice(0, text.indexOf(':')).toLowerCase(),
        text.slice(text.indexOf(':') + 1).trim(),
      ]),
    ),
    body: readFileSync(join(folder, `${n}.body`), 'utf8'),
  };
}

/** Runs every command of a guide; where an answer is not what is shown beneath it, with its line. */
export async function faultsOf(
  markdown: string,
  folder: string,
  variables: Record<string, string>,
  seconds?: number,
): Promise<string[]> {
  const commands = commandsOf(markdown);
  const answers = await runCommands(commands, folder, variables, seconds);
  return commands.flatMap((command, n) => {
    const answer = answers[n];
    if (!answer) return command.status === null ? [] : [`line ${command.line}: no answer`];
    const wrong = wrongIn(command, answer, variables);
    return wrong.length > 0
      ? [`line ${command.line}: ${wrong.join('; ')}\n${answer.body.slice(0, 2000)}`]
      : [];
  });
}

function wrongIn(
  { status, headers, shown }: Command,
  answer: Answered,
  variables: Record<string, string>,
): string[] {
  return [
    ...(status === answer.status ? [] : [`status is ${answer.status}, not ${String(status)}`]),
    ...headers.flatMap(([header, value]) =>
      differences(filledIn(value, variables), answer.headers.get(header.toLowerCase()), header),
    ),
    ...(shown?.language === 'json'
      ? differences(JSON.parse(filledIn(shown.text, variables)), JSON.parse(answer.body))
      : []),
    ...(shown?.language === 'csv'
      ? missingRows(filledIn(shown.text, variables), answer.body).map((row) => `no row begins ${row}`)
      : []),
  ];
}

const ANYTHING = '…';

/**
 * Where an answer is not what a guide shows. Members that are not shown may be anything, as may `"…"`; a list that
 * ends in `"…"` may go on.
 */
export function differences(shown: unknown, sent: unknown, at = ''): string[] {
  if (shown === ANYTHING) return sent === undefined ? [`${at} is missing`] : [];
  if (Array.isArray(shown) && Array.isArray(sent)) {
    const goesOn = shown.at(-1) === ANYTHING;
    const items = goesOn ? shown.slice(0, -1) : shown;
    if (goesOn ? sent.length < items.length : sent.length !== items.length)
      return [`${at} has ${sent.length} items`];
    return items.flatMap((item, i) => differences(item, sent[i], `${at}/${i}`));
  }
  if (isRecord(shown) && isRecord(sent))
    return Object.entries(shown).flatMap(([name, value]) => differences(value, sent[name], `${at}/${name}`));
  return Object.is(shown, sent) ? [] : [`${at} is ${JSON.stringify(sent)}, not ${JSON.stringify(shown)}`];
}

const isRecord = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value);

/** Lines of a shown CSV that no line of the answer begins with, up to the three dots. */
export function missingRows(shown: string, sent: string): string[] {
  const rows = sent.split(/\r?\n/);
  return shown
    .trim()
    .split('\n')
    .map((row) => row.split(ANYTHING)[0] ?? '')
    .filter((start) => !rows.some((row) => row.startsWith(start)));
}

/** `$NAME` as the shell would put it in. */
export const filledIn = (text: string, variables: Record<string, string>): string =>
  text.replace(/\$([A-Z_]+)/g, (whole, name: string) => variables[name] ?? whole);
