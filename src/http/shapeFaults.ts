import type { FieldFault } from '../actions/problems.js';

/** One thing a schema found wrong, as the validator hands it on. */
interface Issue {
  keyword?: string;
  code?: string;
  instancePath?: string;
  path?: PropertyKey[];
  message?: string;
  params?: Record<string, unknown> | undefined;
}

/** Faults told of a request; of more it is told how many. A refusal may not be larger than what it refuses. */
export const MOST_FAULTS = 20;

export interface ShapeFaults {
  faults: FieldFault[];
  /** So many more that are not told. */
  more: number;
}

/**
 * What a schema found wrong in a part of a request, as faults that name place, value and remedy.
 *
 * @param part What was checked: `body`, `querystring`, `params` or `headers`.
 * @param sent The part as it came, to name the value.
 */
export function shapeFaults(
  issues: readonly Issue[],
  part: string,
  sent: unknown,
  most = MOST_FAULTS,
): ShapeFaults {
  const found: ShapeFaults = { faults: [], more: 0 };
  for (const issue of issues) {
    if (found.faults.length < most) addFaults(found, issue, { above: [], part, sent, most });
    else found.more += countOf(issue);
  }
  return found;
}

const countOf = (issue: Issue): number => {
  const keys = (issue.params ?? (issue as Record<string, unknown>))['keys'];
  return Array.isArray(keys) ? keys.length : 1;
};

const USUAL = 'Invalid input: ';

function addFaults(
  found: ShapeFaults,
  issue: Issue,
  { above, part, sent, most }: { above: string[]; part: string; sent: unknown; most: number },
): void {
  const path = [
    ...above,
    ...(issue.path?.map(String) ?? (issue.instancePath ?? '').split('/').filter(Boolean)),
  ];
  const facts = issue.params ?? (issue as Record<string, unknown>);
  const kind = issue.keyword ?? issue.code ?? 'custom';
  const add = (faults: FieldFault[], of = faults.length) => {
    const told = faults.slice(0, most - found.faults.length);
    found.faults.push(...told);
    found.more += of - told.length;
  };
  const branch = kind === 'invalid_union' ? nearestBranch(facts['errors']) : null;
  if (branch) for (const each of branch) addFaults(found, each, { above: path, part, sent, most });
  else if (kind === 'unrecognized_keys') {
    const keys = facts['keys'] as string[];
    add(
      keys.slice(0, most).map((key) => ({
        pointer: pointerOf(part, [...path, key]),
        detail: `there is no field ${cut(key)} here`,
        remedy: 'leave it out, or see the schema for how it is spelt',
      })),
      keys.length,
    );
  } else add([faultOf(issue, kind, { facts, path, part, sent })]);
}

function faultOf(
  issue: Issue,
  kind: string,
  {
    facts,
    path,
    part,
    sent,
  }: { facts: Record<string, unknown>; path: string[]; part: string; sent: unknown },
): FieldFault {
  const value = valueAt(sent, path);
  // Shapes that name what they want (`wanting`) say it in the place of the usual words.
  const own = kind === 'invalid_type' && !issue.message?.startsWith(USUAL) ? issue.message : undefined;
  const said = (own === undefined ? (issue.message ?? 'is not valid') : `expected ${own}`)
    .replace(USUAL, '')
    .replace(/^Too (big|small): /, '');
  return {
    pointer: pointerOf(part, path),
    detail:
      value === undefined ? (kind === 'invalid_type' ? 'is missing' : said) : `${shown(value)}: ${said}`,
    remedy: own ?? ownRemedy(facts) ?? remedyOf(kind, facts, said),
  };
}

/** What a check of ours says would be right. */
const ownRemedy = (facts: Record<string, unknown>): string | undefined =>
  (facts['remedy'] ?? (facts['params'] as Record<string, unknown> | undefined)?.['remedy']) as
    | string
    | undefined;

/** Of the shapes that would do, the one that what was sent is nearest to. */
function nearestBranch(branches: unknown): Issue[] | null {
  if (!Array.isArray(branches) || branches.length === 0) return null;
  const depth = (issues: Issue[]) => Math.max(...issues.map(({ path }) => path?.length ?? 0));
  return [...(branches as Issue[][])].sort((a, b) => depth(b) - depth(a) || a.length - b.length)[0] ?? null;
}

const FORMATS: Record<string, string> = {
  datetime: 'an instant as 2026-10-01T08:30:00Z',
  uuid: 'an id as 019abcde-0000-7000-8000-000000000001',
  regex: 'text of the form the schema shows',
};

function remedyOf(kind: string, facts: Record<string, unknown>, said: string): string {
  switch (kind) {
    case 'invalid_type':
      return `send ${a(String(facts['expected']))}`;
    case 'too_big':
      return `at most ${String(facts['maximum'])}${unitOf(facts['origin'])}`;
    case 'too_small':
      return `at least ${String(facts['minimum'])}${unitOf(facts['origin'])}`;
    case 'invalid_value':
      return `one of ${(facts['values'] as unknown[]).map(String).join(', ')}`;
    case 'invalid_format':
      return FORMATS[String(facts['format'])] ?? `text in the format ${String(facts['format'])}`;
    case 'invalid_union':
      return 'one of the shapes that the schema shows';
    default:
      return said.startsWith('is not ') ? said.replace(/^is not /, '') : 'see the schema of this operation';
  }
}

const a = (type: string): string => (/^[aeiou]/.test(type) ? `an ${type}` : `a ${type}`);

function unitOf(origin: unknown): string {
  if (origin === 'string') return ' characters';
  return origin === 'array' ? ' items' : '';
}

function pointerOf(part: string, path: string[]): string {
  const at = path.map((key) => cut(key).replaceAll('~', '~0').replaceAll('/', '~1')).join('/');
  return part === 'body' ? `#/${at}` : `#/${part}:${at}`;
}

function valueAt(sent: unknown, path: string[]): unknown {
  let at: unknown = sent;
  for (const key of path) {
    if (typeof at !== 'object' || at === null || !Object.hasOwn(at, key)) return undefined;
    at = (at as Record<string, unknown>)[key];
  }
  return at;
}

const LONGEST_SHOWN = 60;

const cut = (text: string): string =>
  text.length > LONGEST_SHOWN ? `${text.slice(0, LONGEST_SHOWN)}…` : text;

/** As JSON, with what would turn or break the line of whoever reads it as `\\u202e`. */
const shown = (value: unknown): string =>
  cut(
    (JSON.stringify(value) ?? String(value)).replace(
      /[\u007f-\u009f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069]/g,
      (sign) => `\\u${sign.charCodeAt(0).toString(16).padStart(4, '0')}`,
    ),
  );
