import { createHash } from 'node:crypto';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { z } from 'zod';
import type { PaperPrinter } from '../actions/papers/paperPrinter.js';
import { printedFaces } from '../files/printedFaces.js';
import type { Paper } from '../papers/paper.js';
import { paperHtml } from '../papers/paperHtml.js';
import { paperPdf } from '../papers/paperPdf.js';
import { PAPER_STYLE } from '../papers/paperStyle.js';
import { weightOf } from './accepts.js';

/** A page shows itself and the pictures in it; it runs and fetches nothing. */
const POLICY = [
  "default-src 'none'",
  `style-src 'sha256-${createHash('sha256').update(PAPER_STYLE).digest('base64')}'`,
  'img-src data:',
  "form-action 'none'",
  "base-uri 'none'",
  "frame-ancestors 'none'",
].join('; ');

/** Schema of the answer, for the document. */
export const paperView = z.string().describe('text/html, or application/pdf where Accept asks for it');

/** A paper as HTML, or as PDF where the caller would rather have that. */
export async function sendPaper(
  request: FastifyRequest,
  reply: FastifyReply,
  paper: Paper,
  printer: PaperPrinter | undefined,
): Promise<FastifyReply> {
  reply.header('cache-control', 'private, no-cache').header('vary', 'accept').serializer(String);
  if (!prefersPdf(request.headers.accept))
    return reply
      .type('text/html; charset=utf-8')
      .header('content-security-policy', POLICY)
      .send(paperHtml(paper));
  const name = paper.title
    .normalize('NFKD')
    .replace(/[^\w.-]+/g, '-')
    .replace(/^-+|-+$/g, '');
  return reply
    .type('application/pdf')
    .header('content-disposition', `inline; filename="${name || 'paper'}.pdf"`)
    .send(Buffer.from(await (printer?.print(paper) ?? paperPdf(paper, printedFaces))));
}

/** By the weights of RFC 9110 §12.5.1; HTML where both are as welcome. */
export function prefersPdf(accept = '*/*'): boolean {
  return weightOf(accept, 'application/pdf') > weightOf(accept, 'text/html');
}
