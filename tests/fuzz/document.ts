import type { Role } from '../../src/domain/words.js';

/** A JSON schema as the document writes it. */
export interface Schema {
  $ref?: string;
  type?: string | string[];
  enum?: unknown[];
  const?: unknown;
  anyOf?: Schema[];
  oneOf?: Schema[];
  properties?: Record<string, Schema>;
  required?: string[];
  items?: Schema;
  additionalProperties?: boolean | Schema;
  propertyNames?: Schema;
  format?: string;
  pattern?: string;
  description?: string;
  example?: unknown;
  minLength?: number;
  maxLength?: number;
  minItems?: number;
  maxItems?: number;
  minimum?: number;
  maximum?: number;
  exclusiveMinimum?: number;
}

export interface Parameter {
  name: string;
  in: 'query' | 'path' | 'header';
  required?: boolean;
  schema: Schema;
}

type Content = Record<string, { schema?: Schema }>;

export interface Operation {
  id: string;
  method: string;
  path: string;
  parameters: Parameter[];
  /** Schemas of the body by media type; empty: takes none. */
  body: Record<string, Schema>;
  responses: Record<string, { content?: Content }>;
  /** Who may call it; null: everybody. */
  roles: Role[] | null;
}

export interface OpenapiDocument {
  paths: Record<string, Record<string, Record<string, unknown>>>;
  components: { schemas: Record<string, Schema> };
}

/** All operations of a published document. */
export function operationsOf(document: OpenapiDocument): Operation[] {
  return Object.entries(document.paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, each]): Operation => {
      const content = (each['requestBody'] as { content?: Content } | undefined)?.content ?? {};
      const isPublic = (each['security'] as unknown[] | undefined)?.length === 0;
      return {
        id: String(each['operationId']),
        method: method.toUpperCase(),
        path,
        parameters: (each['parameters'] ?? []) as Parameter[],
        body: Object.fromEntries(Object.entries(content).map(([type, { schema }]) => [type, schema ?? {}])),
        responses: each['responses'] as Operation['responses'],
        roles: isPublic
          ? null
          : ((/Roles: ([^.]*)\./.exec(String(each['description']))?.[1]?.split(', ') ?? []) as Role[]),
      };
    }),
  );
}

/** What a schema points to. */
export function resolved(document: OpenapiDocument, schema: Schema): Schema {
  const name = schema.$ref?.split('/').at(-1);
  return name === undefined ? schema : resolved(document, document.components.schemas[name] ?? {});
}
