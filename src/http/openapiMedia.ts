import { MEDIA_TYPES } from '../domain/work/fileLimits.js';
import { offersCsv } from './accepts.js';
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
  for (const [path, item] of Object.entries(document.paths ?? {}) as [string, Record<string, Operation>][])
    for (const operation of Object.values(item)) {
      tellMedia(operation);
      if (path.endsWith('.geojson')) asGeoJson(operation);
    }
  return document;
}

function asGeoJson({ responses = {} }: Operation): void {
  const { 'application/json': json, ...others } = responses['200']?.content ?? {};
  if (responses['200'] && json) responses['200'].content = { 'application/geo+json': json, ...others };
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
      response.content = Object.fromEntries(
        Object.values(MEDIA_TYPES)
          .flat()
          .map((type) => [type, { schema: { type: 'string', format: 'binary' } }]),
      );
    else if (other && json.schema.type === 'string') response.content = { [other]: json };
  }
  const listed = responses['200']?.content;
  if (listed?.['application/json'] && offersCsv(summary)) listed['text/csv'] = { schema: { type: 'string' } };
}
