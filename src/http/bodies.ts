import type { FastifyInstance, FastifyRequest } from 'fastify';

/** No body of ours nests as deep; deeper ones would exhaust the stack of whatever walks them. */
const DEEPEST = 64;

const fault = (statusCode: number, message: string) => Object.assign(new Error(message), { statusCode });

declare module 'fastify' {
  interface FastifyContextConfig {
    /** The operation takes text/csv as well. */
    takesCsv?: boolean;
  }
}

/** JSON in UTF-8, CSV where an operation says so, nothing else; an empty body is an absent one, since some take none. */
export function takeBodies(app: FastifyInstance): void {
  app.removeAllContentTypeParsers();
  app.addContentTypeParser(
    'text/csv',
    { parseAs: 'buffer' },
    async (request: FastifyRequest, body: Buffer) => {
      if (!request.routeOptions.config.takesCsv) throw fault(415, 'text/csv is not taken here');
      refuseOtherForms(request);
      return textOf(body);
    },
  );
  app.addContentTypeParser(
    'application/json',
    { parseAs: 'buffer' },
    async (request: FastifyRequest, body: Buffer) => {
      refuseOtherForms(request);
      const text = textOf(body);
      if (text === '') return undefined;
      if (depthOf(text) > DEEPEST) throw fault(400, `The body nests deeper than ${DEEPEST} levels.`);
      try {
        return JSON.parse(text) as unknown;
      } catch (error) {
        throw fault(400, `The body is not JSON: ${(error as Error).message}`);
      }
    },
  );
}

function refuseOtherForms({ headers }: FastifyRequest): void {
  const charset = /;\s*charset\s*=\s*"?([^";\s]*)/i.exec(headers['content-type'] ?? '')?.[1] ?? 'utf-8';
  if (!/^utf-?8$/i.test(charset)) throw fault(415, `charset ${charset} is not taken`);
  const encoding = headers['content-encoding'] ?? 'identity';
  if (encoding.toLowerCase() !== 'identity') throw fault(415, `Content-Encoding ${encoding} is not taken`);
}

function textOf(body: Buffer): string {
  try {
    return new TextDecoder('utf-8', { fatal: true }).decode(body);
  } catch {
    throw fault(400, 'The body is not UTF-8.');
  }
}

const QUOTE = 0x22;
const BACKSLASH = 0x5c;

/** How deep lists and objects nest, by their brackets outside of text. */
function depthOf(json: string): number {
  let depth = 0;
  let deepest = 0;
  let inText = false;
  for (let i = 0; i < json.length; i++) {
    const c = json.charCodeAt(i);
    if (inText) {
      if (c === BACKSLASH) i++;
      else if (c === QUOTE) inText = false;
    } else if (c === QUOTE) inText = true;
    // [ and {, ] and }
    else if (c === 0x5b || c === 0x7b) deepest = Math.max(deepest, ++depth);
    else if (c === 0x5d || c === 0x7d) depth--;
  }
  return deepest;
}
