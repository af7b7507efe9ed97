interface Operation {
  description?: string;
  parameters?: object[];
  responses?: Record<string, unknown>;
}

const IF_MATCH = {
  name: 'If-Match',
  in: 'header',
  schema: { type: 'string' },
  example: '"3"',
  description: 'the version you read, in quotes, as its ETag came',
};
const IDEMPOTENCY_KEY = {
  name: 'Idempotency-Key',
  in: 'header',
  required: false,
  schema: { type: 'string', maxLength: 255 },
  description: 'your own text, fresh for each request: sent again within a day, the first answer comes back',
};

/** Whether it makes something, once for one Idempotency-Key. */
export const takesKey = (path: string, method: string): boolean =>
  method === 'post' && path.startsWith('/v1/') && !/^\/v1\/calculations\/|\/dry-run$/.test(path);

/** Says of each operation which headers it heeds: those that may answer 428 ask for the version, what makes something takes a key. */
export function withHeaders<D extends { paths?: object | undefined }>(document: D): D {
  for (const [path, item] of Object.entries(document.paths ?? {}))
    for (const [method, operation] of Object.entries(item as Record<string, Operation>)) {
      const told: object[] = [];
      if (operation.responses && '428' in operation.responses)
        told.push({ ...IF_MATCH, required: !operation.description?.includes('a try needs none') });
      if (takesKey(path, method)) told.push(IDEMPOTENCY_KEY);
      if (told.length > 0) operation.parameters = [...(operation.parameters ?? []), ...told];
    }
  return document;
}
