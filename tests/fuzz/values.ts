import type { Chance } from './chance.js';
import { type OpenapiDocument, resolved, type Schema } from './document.js';

/** Where ids of records that exist come from, and what time it is. */
export interface Known {
  chance: Chance;
  document: OpenapiDocument;
  /** The id of a record that a field of this name may mean; undefined: none is known, or it is a new record's own. */
  idFor(name: string): string | undefined;
  now: Date;
}

const WORDS = [
  'alder',
  'quay',
  'Brindle',
  'gate',
  'Nördlich',
  '溝',
  'l’égout',
  'yard',
  'B-12',
  'pumpe',
  'عين',
  'x',
];
const DAY_MS = 86_400_000;

export const dayFrom = (now: Date, days: number): string =>
  new Date(now.getTime() + days * DAY_MS).toISOString().slice(0, 10);

/** A value that the schema takes; whether the service does is another question. */
export function valid(known: Known, given: Schema, name = ''): unknown {
  const { chance } = known;
  const schema = resolved(known.document, given);
  if (schema.const !== undefined) return schema.const;
  if (schema.enum) return chance.of(schema.enum);
  const either = schema.anyOf ?? schema.oneOf;
  if (either) {
    const some = either.filter(({ type }) => type !== 'null');
    return some.length < either.length && chance.is(0.15) ? null : valid(known, chance.of(some), name);
  }
  switch (Array.isArray(schema.type) ? schema.type[0] : schema.type) {
    case 'object':
      return validObject(known, schema);
    case 'array': {
      const least = schema.minItems ?? 0;
      const count = Math.min(schema.maxItems ?? 3, least + chance.whole(0, 2));
      return Array.from({ length: count }, () => valid(known, schema.items ?? {}, name));
    }
    case 'boolean':
      return chance.is(0.5);
    case 'integer':
      return Math.floor(validNumber(chance, schema));
    case 'number':
      return validNumber(chance, schema);
    case 'string':
      return validText(known, schema, name);
    default:
      return chance.of<unknown>(['text', 1, true, null]);
  }
}

const OPTIONAL = 0.25;

function validObject(known: Known, schema: Schema): unknown {
  const measured = measuredIn(known, schema);
  if (measured) return measured;
  const out: Record<string, unknown> = {};
  for (const [name, each] of Object.entries(schema.properties ?? {})) {
    if (schema.required?.includes(name) || known.chance.is(name === 'id' ? 0.6 : OPTIONAL))
      out[name] = valid(known, each, name);
  }
  if (schema.propertyNames && typeof schema.additionalProperties === 'object' && known.chance.is(0.5))
    out[String(valid(known, schema.propertyNames))] = valid(known, schema.additionalProperties);
  return inOrder(out);
}

/** Beginnings and the ends that go with them. */
const SPANS = [
  ['fromDay', 'toDay'],
  ['from', 'to'],
  ['fromAt', 'toAt'],
  ['startsAt', 'endsAt'],
  ['fromTime', 'toTime'],
  ['validFrom', 'validTo'],
  ['installedOn', 'removedOn'],
] as const;

/** Mostly what is asked makes sense: an end lies after its beginning. */
function inOrder(body: Record<string, unknown>): Record<string, unknown> {
  for (const [from, to] of SPANS) {
    const [a, b] = [body[from], body[to]];
    if (typeof a === 'string' && typeof b === 'string' && a > b) Object.assign(body, { [from]: b, [to]: a });
  }
  return body;
}

const USUAL_UNITS = ['in', '%', 'L/s', 'bar', 'L'];

/** An amount within the bounds that its description tells: "A bore in mm, …: 10 to 2000 mm (…)". */
function measuredIn({ chance }: Known, schema: Schema): { value: number; unit: string } | undefined {
  const units = schema.properties?.['unit']?.enum as string[] | undefined;
  if (!units || !schema.properties?.['value']) return undefined;
  const said = /: (-?[\d.]+) to ([\d.]+) ([^\s(]+)/.exec(schema.description ?? '');
  if (!said) {
    const unit = USUAL_UNITS.find((usual) => units.includes(usual)) ?? chance.of(units);
    return { value: Math.round((0.5 + chance.unit() * 12) * 100) / 100, unit };
  }
  const [least, most] = [Number(said[1]), Number(said[2])];
  const share = chance.is(0.1) ? chance.of([0, 1]) : chance.unit() ** 2;
  return { value: least + (most - least) * share, unit: (said[3] ?? '').replace(/[.,]$/, '') };
}

function validNumber(chance: Chance, schema: Schema): number {
  const least =
    schema.minimum ?? (schema.exclusiveMinimum === undefined ? 0 : schema.exclusiveMinimum + 0.001);
  const most = schema.maximum ?? Math.max(1000, least);
  if (chance.is(0.15)) return chance.of([least, most]);
  const value = least + (most - least) * chance.unit() ** 3;
  return Math.round(value * 1000) / 1000;
}

function validText(known: Known, schema: Schema, name: string): string {
  const { chance, now } = known;
  if (schema.format === 'uuid') return known.idFor(name) ?? chance.id();
  if (schema.format === 'date') {
    const isOfThePast = name.endsWith('On') || name === 'from' || chance.is(0.7);
    return dayFrom(now, isOfThePast ? -chance.whole(0, 40) : chance.whole(1, 40));
  }
  if (schema.format === 'date-time')
    return new Date(now.getTime() - chance.whole(1, 200 * 24 * 60) * 60_000).toISOString();
  if (schema.format === 'email') return `${chance.id()}@example.org`;
  if (schema.format === 'uri') return 'https://hooks.example.org/openbore';
  if (schema.pattern?.includes('[01]\\d|2[0-3]):[0-5]\\d$'))
    return `${String(chance.whole(0, 23)).padStart(2, '0')}:${String(chance.whole(0, 59)).padStart(2, '0')}`;
  if (schema.pattern === '^\\d\\d-\\d\\d$') return chance.of(['03-15', '04-30', '12-01', '02-29']);
  if (schema.pattern?.includes('{3}')) return '-91,44,-90,45.5';
  if (schema.pattern?.startsWith('^-?')) return '44.5,-90.3';
  if (name === 'archived') return chance.of(['true', 'false']);
  return textOf(chance, schema);
}

function textOf(chance: Chance, { minLength = 0, maxLength = 60 }: Schema): string {
  if (chance.is(0.02)) return 'a'.repeat(maxLength);
  const words = Array.from({ length: chance.whole(1, 4) }, () => chance.of(WORDS)).join(' ');
  return words.slice(0, maxLength).padEnd(minLength, 'a');
}
