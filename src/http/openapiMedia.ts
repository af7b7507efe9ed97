import { PROBLEM_TYPE } from './shapes.js';

interface Response {
  description?: string;
  content?: Record<
    string,
    { schema?: { $ref?: string; type?: string; description?: string; format?: string } }
  >;
}
interface Operation {
  summary?: string;
  requestBody?: Response;
  responses?: Record<string, Response>;
}

/** How the answer of a paper begins to be described. */
const PAPER = 'text/html, or application/pdf';

/** Says of each answer the media type that it is sent as: problems, pictures, and lists that come as CSV too. */
export function withMediaTypes<D extends { paths?: object | undefined }>(document: D): D {
  for (const item of Object.values(document.paths ?? {}) as Record<string, Operation>[])
    for (const operation of Object.values(item)) tellMedia(operation);
  return document;
}

function tellMedia({ summary = '', requestBody, responses = {} }: Operation): void {
  if (requestBody?.content && summary.includes('Content-Type: text/csv'))
    requestBody.content['text/csv'] = { schema: { type: 'string' } };
  for (const response of Object.values(responses)) {
    const json = response.content?.['application/json'];
    if (!json?.schema) continue;
    const other = /^(image\/svg\+xml|text\/plain|text\/calendar)/.exec(
      json.schema.description ?? response.description ?? '',
    )?.[0];
    if (json.schema.description?.startsWith(PAPER)) {
      response.content = {
        'text/html': { schema: { type: 'string' } },
        'application/pdf': { schema: { type: 'string', format: 'binary' } },
      };
      continue;
    }
    if (json.schema.$ref?.endsWith('/Problem')) response.content = { [PROBLEM_TYPE]: json };
    else if (json.schema.description === 'application/octet-stream')
      response.content = {
        'application/octet-stream': { schema: { type: 'string', format: 'binary' } },
      };
    else if (other && json.schema.type === 'string') response.content = { [other]: json };
  }
  const listed = responses['200']?.content;
  if (listed?.['application/json'] && summary.includes('Accept: text/csv'))
    listed['text/csv'] = { schema: { type: 'string' } };
}
