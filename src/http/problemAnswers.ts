import { STATUS_CODES } from 'node:http';
import type { Socket } from 'node:net';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { hasZodFastifySchemaValidationErrors } from 'fastify-type-provider-zod';
import { type FieldFault, type Problem, Refused } from '../actions/problems.js';
import { type ShapeFaults, shapeFaults } from './shapeFaults.js';
import { PROBLEM_TYPE } from './shapes.js';

interface Answer {
  status: number;
  title: string;
}

/** Status and title of every refusal; a missing code fails to compile. */
export const ANSWERS: Record<Problem['code'], Answer> = {
  'not-found': { status: 404, title: 'Not found' },
  'version-required': { status: 428, title: 'The version you read is missing' },
  'version-mismatch': { status: 412, title: 'Changed meanwhile' },
  'id-taken': { status: 409, title: 'The id is taken by other content' },
  'idempotency-key-reused': { status: 422, title: 'The idempotency key was used for another request' },
  clash: { status: 409, title: 'It clashes with what is there' },
  'rule-broken': { status: 422, title: 'A rule forbids it' },
  'unknown-reference': { status: 422, title: 'It names something that does not exist' },
  'bad-cursor': { status: 400, title: 'The cursor does not fit' },
  'changes-gone': { status: 410, title: 'These changes are not kept any more' },
  'bad-header': { status: 400, title: 'A header does not fit' },
  'bad-body': { status: 400, title: 'The body does not fit' },
  'wrong-state': { status: 409, title: 'Not possible in this state' },
  'not-yours': { status: 403, title: 'Not yours' },
  'run-under-way': { status: 409, title: 'A nightly run is under way' },
  'plan-stale': { status: 409, title: 'The plan is stale' },
  'enough-for-today': { status: 429, title: 'Enough for today' },
  busy: { status: 503, title: 'Busy' },
  unavailable: { status: 503, title: 'Not available just now' },
};

/** Kinds that no action refuses with: they come from the door itself. */
export const DOOR_ANSWERS = {
  'bad-request': { status: 400, title: 'The request has the wrong shape' },
  'no-key': { status: 401, title: 'A key is needed' },
  'no-role': { status: 403, title: 'The key has no role for this' },
  'no-route': { status: 404, title: 'No such address' },
  'not-acceptable': { status: 406, title: 'It does not come as that' },
  'too-large': { status: 413, title: 'Too large' },
  'wrong-media-type': { status: 415, title: 'Not a media type of this operation' },
  'too-many-requests': { status: 429, title: 'Too many requests' },
  'server-error': { status: 500, title: 'Our fault' },
} as const satisfies Record<string, Answer>;

const typeOf = (code: string): string => `/problems/${code}`;

function detailOf(problem: Problem): {
  detail: string;
  errors?: FieldFault[];
  facts?: Record<string, unknown>;
} {
  switch (problem.code) {
    case 'not-found':
      return { detail: `There is no ${problem.resource} ${problem.id} that you may see.` };
    case 'version-required':
      return {
        detail: `Send If-Match: "${problem.version}" (or the ETag you read) to change ${problem.resource} ${problem.id}.`,
      };
    case 'version-mismatch':
      return {
        detail: `${problem.resource} ${problem.id} is at version ${problem.version}, you changed version ${problem.asked}. Read it again and repeat the change.`,
        facts: { version: problem.version },
      };
    case 'id-taken':
      return {
        detail: `${problem.resource} ${problem.id} exists with other content. Yours is kept as a conflict for a person to settle.`,
      };
    case 'idempotency-key-reused':
      return {
        detail: `Idempotency-Key ${problem.key} came with another request before. Use a new key for a new request.`,
      };
    case 'clash':
      return {
        detail: `${problem.detail} ${problem.remedy}`,
        errors: [{ pointer: problem.pointer ?? '#', detail: problem.detail, remedy: problem.remedy }],
        facts: { constraint: problem.constraint },
      };
    case 'rule-broken':
    case 'unknown-reference':
    case 'bad-cursor':
    case 'changes-gone':
    case 'bad-header':
    case 'bad-body':
      return {
        detail: problem.faults.map((fault) => `${fault.pointer}: ${fault.detail}`).join('; '),
        errors: problem.faults,
        ...(problem.code === 'rule-broken' ? { facts: { rule: problem.rule } } : {}),
      };
    case 'wrong-state':
      return {
        detail: `${problem.detail} ${problem.resource} ${problem.id} is ${problem.state}; possible while ${problem.allowed.join(' or ')}.`,
        facts: { state: problem.state, allowed: problem.allowed },
      };
    case 'not-yours':
      return { detail: problem.detail };
    case 'run-under-way':
      return {
        detail: `Run ${problem.runId} for ${problem.businessDay} is under way. Look at it or wait for its end.`,
        facts: { runId: problem.runId, businessDay: problem.businessDay },
      };
    case 'plan-stale':
      return {
        detail: `What the plan touches has changed: ${problem.changed.join('; ')}. Ask for a new plan.`,
        facts: { changed: problem.changed },
      };
    case 'enough-for-today':
    case 'busy':
    case 'unavailable':
      return { detail: problem.detail };
    default:
      return problem satisfies never;
  }
}

/** A problem document as it is sent. */
export interface ProblemBody {
  type: string;
  title: string;
  status: number;
  detail: string;
  errors?: FieldFault[];
  facts?: Record<string, unknown>;
}

/** A refusal as a problem document, where it is part of an answer. */
export const problemBody = (problem: Problem): ProblemBody => ({
  type: typeOf(problem.code),
  ...ANSWERS[problem.code],
  ...detailOf(problem),
});

/** What a schema found wrong in a part of a body, likewise. */
export function shapeProblem(issues: readonly object[], sent: unknown, most?: number): ProblemBody {
  return {
    type: typeOf('bad-request'),
    ...DOOR_ANSWERS['bad-request'],
    ...shapeDetail(shapeFaults(issues, 'body', sent, most)),
  };
}

function shapeDetail({ faults, more }: ShapeFaults): Pick<ProblemBody, 'detail' | 'errors'> {
  const said = faults.map((fault) => `${fault.pointer}: ${fault.detail}; right would be: ${fault.remedy}`);
  if (more > 0) said.push(`And ${more} more of the kind`);
  return { detail: said.join('. '), errors: faults };
}

/** What is busy or away is tried again after so many seconds (common practice, no source). */
const RETRY_AFTER_SECONDS = 5;

export function sendProblem(
  request: FastifyRequest,
  reply: FastifyReply,
  code: string,
  { status, title }: Answer,
  rest: {
    detail: string;
    errors?: FieldFault[];
    facts?: Record<string, unknown>;
  },
): FastifyReply {
  if (status === 503) reply.header('retry-after', RETRY_AFTER_SECONDS);
  return reply
    .code(status)
    .type(PROBLEM_TYPE)
    .serializer(JSON.stringify)
    .send({ type: typeOf(code), title, status, ...rest, instance: request.id });
}

export const sendNoRoute = (request: FastifyRequest, reply: FastifyReply): FastifyReply =>
  sendProblem(request, reply, 'no-route', DOOR_ANSWERS['no-route'], {
    detail: `There is nothing at ${request.method} ${request.url.split('?')[0]}. The reference page is at /docs.`,
  });

/** Turns everything thrown on the way into a problem document. */
export function answerError(error: unknown, request: FastifyRequest, reply: FastifyReply): FastifyReply {
  if (error instanceof Refused) {
    return sendProblem(
      request,
      reply,
      error.problem.code,
      ANSWERS[error.problem.code],
      detailOf(error.problem),
    );
  }
  if (hasZodFastifySchemaValidationErrors(error)) {
    const part = error.validationContext ?? 'body';
    const told = shapeDetail(shapeFaults(error.validation, part, partOf(request, part)));
    return sendProblem(request, reply, 'bad-request', DOOR_ANSWERS['bad-request'], told);
  }
  const { statusCode, message } = statusOf(error);
  // No address of ours has a part as long as the router was given.
  if (statusCode === 414) return sendNoRoute(request, reply);
  if (statusCode === 413)
    return sendProblem(request, reply, 'too-large', DOOR_ANSWERS['too-large'], { detail: message });
  if (statusCode === 415) {
    return sendProblem(request, reply, 'wrong-media-type', DOOR_ANSWERS['wrong-media-type'], {
      detail: `${mediaTaken(request)} (${message}).`,
    });
  }
  if (statusCode === 429) {
    return sendProblem(request, reply, 'too-many-requests', DOOR_ANSWERS['too-many-requests'], {
      detail: message,
    });
  }
  if (wasBrokenOff(request)) return sendBrokenOff(request, reply, message);
  if (statusCode !== undefined && statusCode >= 400 && statusCode < 500) {
    return sendProblem(
      request,
      reply,
      'bad-request',
      { ...DOOR_ANSWERS['bad-request'], status: statusCode },
      { detail: message },
    );
  }
  request.log.error({ err: error }, 'request failed');
  return sendProblem(request, reply, 'server-error', DOOR_ANSWERS['server-error'], {
    detail: `Something went wrong on our side. Say request ${request.id} when you report it.`,
  });
}

/** Phones lose reach: the body ended before its length. */
const wasBrokenOff = ({ raw }: FastifyRequest): boolean => raw.destroyed && !raw.complete;

/** Nobody is there to read it: it is for the log and the counts, as no fault of ours. */
function sendBrokenOff(request: FastifyRequest, reply: FastifyReply, because: string): FastifyReply {
  request.log.info({ because }, 'the caller went away before the end of the body');
  return sendProblem(request, reply, 'bad-request', DOOR_ANSWERS['bad-request'], {
    detail: 'The body was broken off before its end. Send it again.',
  });
}

/** What the parser of HTTP finds before there is a request, by its code; all else is a request it cannot read. */
const UNREADABLE: Record<string, { status: number; detail: string }> = {
  ERR_HTTP_REQUEST_TIMEOUT: {
    status: 408,
    detail: 'The request did not come to its end in time. Send it again.',
  },
  BODY_TOO_SLOW: {
    status: 408,
    detail: 'The body stopped coming, or came too slowly. Send it again where the net is better.',
  },
  HPE_HEADER_OVERFLOW: { status: 431, detail: 'The headers are too long. Send fewer or shorter ones.' },
};

/**
 * Answers what is no HTTP request, such as a Content-Length below zero or below the body's length, and hangs up.
 *
 * @param requestId Where there was a request before it broke off.
 */
export function answerUnreadable(error: Error & { code?: string }, socket: Socket, requestId?: string): void {
  if (error.code === 'ECONNRESET' || socket.destroyed) return;
  const { status, detail } = UNREADABLE[error.code ?? ''] ?? {
    status: 400,
    detail: `This is not HTTP (${error.message}): check that Content-Length is the number of bytes of the body.`,
  };
  const title = DOOR_ANSWERS['bad-request'].title;
  const body = JSON.stringify({
    type: typeOf('bad-request'),
    title,
    status,
    detail,
    ...(requestId === undefined ? {} : { instance: requestId }),
  });
  const head = [
    `HTTP/1.1 ${status} ${STATUS_CODES[status]}`,
    `content-type: ${PROBLEM_TYPE}`,
    `content-length: ${Buffer.byteLength(body)}`,
    'connection: close',
    ...(requestId === undefined ? [] : [`x-request-id: ${requestId}`]),
  ];
  if (socket.writable) socket.write(`${head.join('\r\n')}\r\n\r\n${body}`);
  socket.destroy(error);
}

function partOf(request: FastifyRequest, part: string): unknown {
  const parts: Record<string, unknown> = {
    body: request.body,
    querystring: request.query,
    params: request.params,
    headers: request.headers,
  };
  return parts[part];
}

function statusOf(error: unknown): { statusCode: number | undefined; message: string } {
  if (!(error instanceof Error)) return { statusCode: undefined, message: String(error) };
  const statusCode =
    'statusCode' in error && typeof error.statusCode === 'number' ? error.statusCode : undefined;
  return { statusCode, message: error.message };
}

/** What an operation takes, in words. */
const mediaTaken = ({ routeOptions }: FastifyRequest): string =>
  (routeOptions.schema as { consumes?: string[] } | undefined)?.consumes?.includes('multipart/form-data')
    ? 'This operation takes a form: send its one file with Content-Type: multipart/form-data'
    : 'This operation takes a JSON body: send Content-Type: application/json, in UTF-8 and without Content-Encoding';
