import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import formats from 'ajv-formats';
import type { OpenapiDocument, Operation } from './document.js';
import type { Answer } from './door.js';

/** Holds answers against what the document publishes: status, media type, schema. */
export class Published {
  private readonly ajv: Ajv2020;
  private readonly compiled = new Map<string, ValidateFunction>();

  constructor(document: OpenapiDocument) {
    this.ajv = new Ajv2020({ strict: false, allErrors: false, validateFormats: true });
    formats.default(this.ajv);
    this.ajv.addFormat('binary', true);
    this.ajv.addSchema(document, 'openapi');
  }

  /** What is off in an answer; null: it is as published. */
  fault(operation: Operation, { status, type, body, text }: Answer): string | null {
    const said = operation.responses[status];
    if (!said) return `status ${status} is not published: ${text.slice(0, 200)}`;
    const content = said.content ?? {};
    if (text === '') return null;
    const schema = content[type]?.schema;
    if (!(type in content)) return `${status} in ${type || 'no type'} is not published`;
    if (!type.endsWith('json') || !schema) return null;
    const name = schema.$ref ?? `${operation.id} ${status} ${type}`;
    const check = this.compiled.get(name) ?? this.compile(name, schema);
    if (check(body)) return null;
    const [first] = check.errors ?? [];
    return `${status}: ${first?.instancePath} ${first?.message} ${JSON.stringify(first?.params)}`;
  }

  private compile(name: string, schema: object): ValidateFunction {
    const inDocument = JSON.parse(
      JSON.stringify(schema).replaceAll('"#/components/', '"openapi#/components/'),
    ) as object;
    const check = this.ajv.compile(inDocument);
    this.compiled.set(name, check);
    return check;
  }
}
