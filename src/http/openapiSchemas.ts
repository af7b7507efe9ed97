interface Document {
  components?: { schemas?: Record<string, unknown> };
}

const AT = '#/components/schemas/';
/** What a schema is called as the body of a request, where its fields differ from those of an answer. */
const AS_BODY = 'Input';

/**
 * The document with the schemas that something in it refers to, and no others: each is generated twice, as a body and
 * as an answer, and most are one of both. One that is a body only bears its plain name.
 */
export function withUsedSchemas<T extends object>(document: T): T {
  const { components, ...rest } = document as T & Document;
  const schemas = components?.schemas ?? {};
  const used = new Set<string>();
  const follow = (node: unknown): void => {
    if (typeof node !== 'object' || node === null) return;
    for (const [key, value] of Object.entries(node)) {
      if (key !== '$ref' || typeof value !== 'string') follow(value);
      else if (value.startsWith(AT) && !used.has(value.slice(AT.length))) {
        used.add(value.slice(AT.length));
        follow(schemas[value.slice(AT.length)]);
      }
    }
  };
  follow(rest);
  const nameOf = (name: string): string => {
    const plain = name.slice(0, -AS_BODY.length);
    return name.endsWith(AS_BODY) && plain in schemas && !used.has(plain) ? plain : name;
  };
  const kept = Object.entries(schemas).filter(([name]) => used.has(name));
  const named = JSON.stringify({
    ...document,
    components: { ...components, schemas: Object.fromEntries(kept.map(([name, s]) => [nameOf(name), s])) },
  });
  return JSON.parse(
    named.replaceAll(/"#\/components\/schemas\/(\w+)"/g, (_, name: string) => `"${AT}${nameOf(name)}"`),
  );
}
