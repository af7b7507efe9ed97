import type { FastifyInstance, FastifyReply } from 'fastify';
import { z } from 'zod';
import type { House } from '../actions/house.js';
import type { Condition, Row } from '../actions/ports.js';
import { isUnsubscribeToken, sendAgain, unsubscribe } from '../actions/telling/mails.js';
import { MAIL_KINDS, MAIL_STATES, type Role } from '../domain/words.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { id, instant, refusals } from './shapes.js';
import { write } from './writes.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];

const mailView = z
  .object({
    id: z.uuid(),
    eventId: z.uuid(),
    contactId: z.uuid(),
    kind: z.enum(MAIL_KINDS),
    state: z
      .enum(MAIL_STATES)
      .describe('uncertain: the conversation broke off, nobody knows; it is not sent again by itself'),
    tries: z.number().int(),
    nextTryAt: instant.nullable(),
    lastTriedAt: instant.nullable(),
    lastError: z.string().nullable(),
    sentAt: instant.nullable(),
    droppedBecause: z.string().nullable(),
    createdAt: instant,
  })
  .meta({ id: 'Mail', description: 'One event for one contact, never sent twice.' });

const viewMail = (row: Row) => ({
  id: row['id'],
  eventId: row['event_id'],
  contactId: row['contact_id'],
  kind: row['kind'],
  state: row['state'],
  tries: row['tries'],
  nextTryAt: row['next_try_at'],
  lastTriedAt: row['last_tried_at'],
  lastError: row['last_error'],
  sentAt: row['sent_at'],
  droppedBecause: row['dropped_because'],
  createdAt: row['created_at'],
});

/** Mails to contacts, and the page by which their readers want no more. */
export function registerMailRoutes(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/mails',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listMails',
        summary: 'Mails to contacts with what became of them, the newest first (Accept: text/csv: as CSV)',
        tags: ['mails'],
        querystring: listQuery({
          filters: {
            state: z.enum(MAIL_STATES).optional(),
            kind: z.enum(MAIL_KINDS).optional(),
            contactId: id.optional(),
            eventId: id.optional(),
          },
          sorts: ['createdAt'],
        }),
        response: { 200: pageAnswer(mailView, 'MailPage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] = ['state', 'kind', 'contactId', 'eventId'].flatMap((name) =>
        asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      const ask = pageAskOf(asked, where, {
        list: 'mails',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'mail',
        item: mailView,
        views: (rows) => rows.map(viewMail),
      });
    },
  );

  app.post(
    '/v1/mails/:id/sending',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'sendMailAgain',
        summary: 'Send a mail that failed, or may have; one that may have gone out can then come twice',
        tags: ['mails'],
        params: z.strictObject({ id }),
        response: { 202: mailView, ...refusals(404, 409, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const { id } = request.params as { id: string };
        return { status: 202, body: viewMail(await sendAgain(stores, id)) };
      }),
  );
  registerUnsubscribe(app, house);
}

const page = (title: string, body: string): string =>
  `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width"><meta name="robots" content="noindex"><title>${title}</title>` +
  `<body style="font:18px/1.5 sans-serif;max-width:34em;margin:4em auto;padding:0 1em;color:#1c2b33"><h1 style="font-size:1.4em">${title}</h1>${body}</body></html>\n`;

const ASK = page(
  'No more mails about visits?',
  '<p>You will get no more mails from us about our visits. We may still phone you about them.</p><form method="post"><button style="font:inherit;padding:.5em 1em">No more mails</button></form>',
);
const DONE = page(
  'No more mails',
  '<p>You will get no more mails about our visits. To have them again, tell us.</p>',
);
const UNKNOWN = page(
  'This link is not known',
  '<p>Open it as it stands in the mail, or tell us on the phone.</p>',
);

/** By itself a GET does nothing: mail servers look at links before their readers do. POST as in RFC 8058. */
function registerUnsubscribe(app: FastifyInstance, house: House): void {
  const params = z.strictObject({ token: z.string().max(100) });
  const send = (reply: FastifyReply, status: number, html: string) =>
    reply
      .code(status)
      .type('text/html; charset=utf-8')
      .header('cache-control', 'no-store')
      .serializer(String)
      .send(html);
  void app.register(async (scope) => {
    scope.removeAllContentTypeParsers();
    scope.addContentTypeParser('*', { parseAs: 'buffer' }, async () => undefined);
    scope.get(
      '/unsubscribe/:token',
      { config: { roles: 'public' }, schema: { hide: true, params } },
      async (request, reply) => {
        const { token } = request.params as { token: string };
        return (await isUnsubscribeToken(house, token)) ? send(reply, 200, ASK) : send(reply, 404, UNKNOWN);
      },
    );
    scope.post(
      '/unsubscribe/:token',
      { config: { roles: 'public' }, schema: { hide: true, params }, bodyLimit: 4096 },
      async (request, reply) => {
        const { token } = request.params as { token: string };
        return (await unsubscribe(house, token)) ? send(reply, 200, DONE) : send(reply, 404, UNKNOWN);
      },
    );
  });
}
