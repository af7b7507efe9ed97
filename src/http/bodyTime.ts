import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { answerUnreadable } from './problemAnswers.js';

declare module 'fastify' {
  interface FastifyContextConfig {
    /** Its body is a file: it may take long, as long as it keeps coming. */
    takesFile?: boolean;
  }
}

export interface BodyTimes {
  /** The whole of a body, from the end of the headers. */
  bodyMs: number;
  /** The whole of a file. */
  fileMs: number;
  /** So long no byte of a file may come. */
  silentMs: number;
  /** In each stretch of so long, at least so many bytes of a file come. */
  stretchMs: number;
  stretchBytes: number;
  /** How often a file is looked at. */
  lookMs: number;
}

/**
 * A clip of 120 MB takes 20 minutes over a phone net of 0.8 Mbit/s; what comes at less than 8 KB a second gets there in no
 * visit (common practice, no source).
 */
export const BODY_TIMES: BodyTimes = {
  bodyMs: 120_000,
  fileMs: 3_600_000,
  silentMs: 30_000,
  stretchMs: 60_000,
  stretchBytes: 60 * 8 * 1024,
  lookMs: 5_000,
};

/** Hangs up, with 408, on whoever sends a body too slowly: a file by its progress, all else by the clock. */
export function watchBodies(app: FastifyInstance, times: BodyTimes): void {
  app.addHook('onRequest', async (request, reply) => {
    watchBody(request, reply, times, Boolean(request.routeOptions.config.takesFile));
  });
}

/** The same for one request; what is answered before any hook runs has to ask for it. */
export function watchBody(
  request: FastifyRequest,
  reply: FastifyReply,
  times: BodyTimes,
  isFile = false,
): void {
  if (!hasBody(request)) return;
  const { raw } = request;
  const isOver = clockWatch(times.bodyMs);
  const isTooSlow = isFile ? fileWatch(request, times) : isOver;
  const timer = setInterval(
    () => {
      if (raw.complete || raw.destroyed) return clearInterval(timer);
      // Who was answered already has nothing more to send: a short time is enough for that.
      const isAnswered = reply.raw.headersSent;
      if (!(isTooSlow() || (isAnswered && isOver()))) return;
      clearInterval(timer);
      if (isAnswered) raw.socket.destroy();
      else answerUnreadable(TOO_SLOW, raw.socket, request.id);
    },
    Math.min(times.lookMs, times.bodyMs),
  );
  timer.unref();
  raw.once('close', () => clearInterval(timer));
}

const TOO_SLOW = Object.assign(new Error('the body came too slowly'), { code: 'BODY_TOO_SLOW' });

const hasBody = ({ headers }: FastifyRequest): boolean =>
  headers['transfer-encoding'] !== undefined || Number(headers['content-length'] ?? 0) > 0;

function clockWatch(ms: number): () => boolean {
  const end = performance.now() + ms;
  return () => performance.now() >= end;
}

/** Whether a file has stopped coming, comes too slowly, or takes too long altogether. */
function fileWatch({ raw }: FastifyRequest, times: BodyTimes): () => boolean {
  const isOver = clockWatch(times.fileMs);
  let last = { at: performance.now(), bytes: raw.socket.bytesRead };
  let stretch = last;
  return () => {
    const now = { at: performance.now(), bytes: raw.socket.bytesRead };
    // What has come and is not taken yet waits for us.
    if (raw.readableLength > 0) {
      last = now;
      stretch = now;
    }
    if (now.bytes > last.bytes) last = now;
    if (isOver() || now.at - last.at >= times.silentMs) return true;
    if (now.at - stretch.at < times.stretchMs) return false;
    const isSlow = now.bytes - stretch.bytes < times.stretchBytes;
    stretch = now;
    return isSlow;
  };
}
