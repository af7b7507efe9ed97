import type { FastifyInstance, FastifyRequest } from 'fastify';
import { z } from 'zod';
import { DOOR_ANSWERS, sendProblem } from './problemAnswers.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Media types that a reading operation answers with; it follows from its schema. Absent: whatever is asked for. */
    offers?: readonly string[];
  }
}

const JSON_TYPE = 'application/json';
const CSV_TYPE = 'text/csv';

/** The mark in a summary that says it comes as CSV too: the document goes by it as well (`openapiMedia.ts`). */
export const offersCsv = (summary: string): boolean => summary.includes('Accept: text/csv');

/**
 * What an operation answers with: a paper as HTML or PDF, else JSON, and CSV where the summary says so.
 *
 * @returns Null where nothing is to be chosen: an address that says by its end what it is (`.svg`, `.geojson`), calendars
 *   for phones, bytes as they were stored.
 */
function offeredBy(url: string, summary: string, answer: unknown): readonly string[] | null {
  if (!(answer instanceof z.ZodType) || /\.\w+$/.test(url)) return null;
  if (answer instanceof z.ZodString)
    return answer.description?.startsWith('text/html') ? ['text/html', 'application/pdf'] : null;
  return offersCsv(summary) ? [JSON_TYPE, CSV_TYPE] : [JSON_TYPE];
}

/**
 * The weight that an Accept header gives a media type, 0 to 1, by the most particular range that holds it
 * (RFC 9110 §12.5.1). No header: everything is welcome.
 */
export function weightOf(accept: string | undefined, type: string): number {
  if (accept === undefined || accept.trim() === '') return 1;
  const ranges = accept.split(',').map((each) => {
    const [range = '', ...parameters] = each.split(';').map((part) => part.trim().toLowerCase());
    const q = parameters.find((parameter) => parameter.startsWith('q='));
    return { range, weight: q === undefined ? 1 : Number(q.slice(2)) || 0 };
  });
  const whole = `${type.split('/')[0]}/*`;
  for (const range of [type, whole, '*/*']) {
    const found = ranges.find((each) => each.range === range);
    if (found) return found.weight;
  }
  return 0;
}

/** Whether the caller would rather have CSV: named, or the only one of both that is welcome. */
export function wantsCsv({ headers: { accept } }: FastifyRequest): boolean {
  const csv = weightOf(accept, CSV_TYPE);
  const json = weightOf(accept, JSON_TYPE);
  const isNamed = /(^|[,\s])text\/(csv|\*)/i.test(accept ?? '');
  return csv > 0 && isNamed && csv >= json;
}

/** Refuses with 406, and what would be right, who asks a reading operation for what it does not have. */
export function refuseUnanswerable(app: FastifyInstance): void {
  app.addHook('onRoute', (route) => {
    const { summary = '', response } = (route.schema ?? {}) as {
      summary?: string;
      response?: Record<string, unknown>;
    };
    const offers = route.method === 'GET' ? offeredBy(route.url, summary, response?.['200']) : null;
    if (offers !== null) route.config = { ...route.config, offers };
  });
  app.addHook('onRequest', async (request, reply) => {
    const { accept } = request.headers;
    const offers = request.is404 ? undefined : request.routeOptions.config.offers;
    if (!offers || offers.some((type) => weightOf(accept, type) > 0)) return;
    return sendProblem(request, reply, 'not-acceptable', DOOR_ANSWERS['not-acceptable'], {
      detail: `This comes as ${offers.join(' or ')}; Accept asks for ${accept}. Right would be: Accept: ${offers[0]}, or none.`,
    });
  });
}

/** Says in the document of what has a media type of its own that another one is refused. */
export function tellMediaRefusal(answers: unknown, offers: readonly string[] | undefined): void {
  const told = (answers ?? {}) as Record<string, unknown>;
  if (offers && told['400']) told['406'] = told['400'];
}
