import multipart from '@fastify/multipart';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { validatorCompiler } from 'fastify-type-provider-zod';
import { v7 as newId } from 'uuid';
import { z } from 'zod';
import type { FileStore, TakenFile } from '../actions/files/fileStore.js';
import {
  filesOf,
  lookAtFile,
  type PlacedFile,
  placeFile,
  recordFile,
  refuseBeyondDay,
  refuseForeignAttachment,
  refuseOtherBytes,
  takeBack,
} from '../actions/files/receiveFile.js';
import type { House, Stores } from '../actions/house.js';
import { maySee } from '../actions/maySee.js';
import { authorId } from '../actions/mayWorkOn.js';
import type { Condition, Row } from '../actions/ports.js';
import { Refused, ruleBroken } from '../actions/problems.js';
import { recordAttachment } from '../actions/siteThings.js';
import { need } from '../actions/sync/needs.js';
import { takeId } from '../actions/takeId.js';
import { CALLERS, FILE_KINDS, type Role } from '../domain/words.js';
import { MOST_BYTES_OF_ANY } from '../domain/work/fileLimits.js';
import {
  attachmentView,
  untoldFileView,
  uploadView,
  viewAttachment,
  viewFile,
  viewUntoldFile,
} from './attachmentShapes.js';
import { keepConflict } from './conflicts.js';
import { answerList, type ListQuery, listQuery, pageAnswer, pageAskOf } from './paging.js';
import { snake } from './resource.js';
import { id, instant, refusals } from './shapes.js';
import { attachmentOf, newAttachment } from './siteThingShapes.js';
import { settleForOthers } from './syncRoutes.js';
import { write } from './writes.js';

const ON_SITE: readonly Role[] = ['technician', 'dispatcher', 'owner'];
const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const COPIES = ['original', 'public', 'thumbnail'] as const;
type Copy = (typeof COPIES)[number];

/** Photographs, clips and documents: what they show, and their bytes, in either order. */
export function registerAttachmentRoutes(app: FastifyInstance, house: House): void {
  registerRecords(app, house);
  registerUntold(app, house);
  // Multipart is taken here and nowhere else.
  app.register(async (scope) => {
    await scope.register(multipart, {
      limits: { files: 1, fields: 0, parts: 1, fileSize: MOST_BYTES_OF_ANY + 1, headerPairs: 50 },
    });
    registerUpload(scope, house);
  });
  registerDownload(app, house);
}

function registerRecords(app: FastifyInstance, house: House): void {
  app.post(
    '/v1/attachments',
    {
      config: { roles: ON_SITE },
      schema: {
        operationId: 'recordAttachment',
        summary:
          'What a photograph, clip or document shows; its bytes are put under the same id, before or after',
        tags: ['attachments'],
        body: newAttachment,
        response: { 201: attachmentView, ...refusals(404, 409, 415, 422) },
      },
    },
    (request, reply) =>
      write(house, request, reply, async (stores) => {
        const body = request.body as z.infer<typeof newAttachment>;
        const ownId = body.id ?? newId();
        if (body.id === undefined || (await takeId(stores, 'attachment', ownId, body)))
          await recordAttachment(house, stores, request.actor, attachmentOf(body, ownId, null));
        return {
          status: 201,
          body: await whole(stores, ownId),
          afterwards: () => settleForOthers(house, request, [need('item', ownId)]),
        };
      }),
  );

  app.get(
    '/v1/attachments',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'listAttachments',
        summary:
          "Photographs, clips and documents of a site, newest first; a technician: of the own routes' sites (Accept: text/csv: as CSV)",
        tags: ['attachments'],
        querystring: listQuery({
          filters: {
            siteId: id,
            lineId: id.optional(),
            workOrderId: id.optional(),
            inspectionId: id.optional(),
            takenAtFrom: instant.optional(),
            forClient: z.stringbool().optional(),
          },
          sorts: ['takenAt'],
        }),
        response: { 200: pageAnswer(attachmentView, 'AttachmentPage'), ...refusals(404) },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const siteId = String(asked['siteId']);
      await maySee(house.stores, request.actor, siteId, { resource: 'site', id: siteId });
      const where: Condition[] = ['siteId', 'lineId', 'workOrderId', 'inspectionId', 'forClient'].flatMap(
        (name) =>
          asked[name] === undefined ? [] : [{ column: snake(name), is: '=' as const, value: asked[name] }],
      );
      if (asked['takenAtFrom'] !== undefined)
        where.push({ column: 'taken_at', is: '>=', value: asked['takenAtFrom'] });
      const ask = pageAskOf(asked, where, {
        list: 'attachments',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-takenAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'attachment',
        item: attachmentView,
        views: async (rows) => {
          const ids = rows.map((row) => row['id']);
          const files = await house.stores.rows.all('stored_file', [{ column: 'id', is: 'in', value: ids }]);
          const byId = new Map(files.map((file) => [file['id'], file]));
          return rows.map((row) => viewAttachment(row, byId.get(row['id']) ?? null));
        },
      });
    },
  );

  app.get(
    '/v1/attachments/:id',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getAttachment',
        summary: "One of them with the addresses of its bytes; a technician: of the own routes' sites",
        tags: ['attachments'],
        params: z.strictObject({ id }),
        response: { 200: attachmentView, ...refusals(404) },
      },
    },
    async (request) => {
      const { id } = request.params as { id: string };
      await seen(house, request, id);
      return whole(house.stores, id);
    },
  );
}

/** Bytes that came and were never told of: the office asks whose they are before they go. */
function registerUntold(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/untold-files',
    {
      config: { roles: OFFICE },
      schema: {
        operationId: 'listUntoldFiles',
        summary: 'Bytes of which nobody said yet what they show, newest first (Accept: text/csv: as CSV)',
        description:
          'An app that lost its notes leaves them behind. They are put aside after 30 days, and gone another 30 days later; `POST /v1/attachments` with the id says what they show.',
        tags: ['attachments'],
        querystring: listQuery({ filters: { kind: z.enum(FILE_KINDS).optional() }, sorts: ['createdAt'] }),
        response: { 200: pageAnswer(untoldFileView, 'UntoldFilePage'), ...refusals() },
      },
    },
    async (request, reply) => {
      const asked = request.query as ListQuery;
      const where: Condition[] =
        asked['kind'] === undefined ? [] : [{ column: 'kind', is: '=', value: asked['kind'] }];
      const ask = pageAskOf(asked, where, {
        list: 'untold-files',
        columnOf: snake,
        searchColumns: [],
        defaultSort: '-createdAt',
      });
      return answerList(house, request, reply, ask, {
        table: 'untold_file',
        item: untoldFileView,
        views: (rows) => rows.map(viewUntoldFile),
      });
    },
  );
}

async function seen(house: House, request: FastifyRequest, id: string): Promise<void> {
  const record = { resource: 'attachment', id };
  const row = await house.stores.rows.get('attachment', id);
  if (!row) throw new Refused({ code: 'not-found', ...record });
  await maySee(house.stores, request.actor, String(row['site_id']), record);
}

/** Of bytes that nobody told of the office reads what they are. */
const isUntold = async ({ stores }: House, { actor }: FastifyRequest, id: string): Promise<boolean> =>
  actor.roles.some((role) => OFFICE.includes(role)) && (await stores.rows.get('untold_file', id)) !== null;

async function whole(stores: Stores, id: string) {
  const row: Row = (await stores.rows.get('attachment', id)) ?? {};
  return viewAttachment(row, await stores.rows.get('stored_file', id));
}

function registerUpload(app: FastifyInstance, house: House): void {
  app.put(
    '/v1/attachments/:id/file',
    {
      config: { roles: ON_SITE, takesFile: true },
      bodyLimit: MOST_BYTES_OF_ANY + 100_000,
      schema: {
        operationId: 'putAttachmentFile',
        summary: 'The bytes of a photograph, clip or document, as the one file of a multipart form',
        description:
          'What they are is told by their content: JPEG, PNG, WebP or AVIF (25 MB), MP4, QuickTime or WebM (120 MB), PDF (25 MB). Name and declared type mean nothing; a file that breaks off is refused, and a picture of more than 50 million pixels (120 million in a JPEG that is not progressive). Few files are looked at together: 503 says to send it again in a moment. An hour is time enough, as long as bytes keep coming: none for 30 s, or less than 8 KB a second over a minute, ends it with 408. What one person puts in a day is bounded (setting `files.megabytesADay`): 429 beyond it. The same bytes again are the same; other bytes under the id are refused. A photograph gets a copy for clients that tells neither place nor device, and a thumbnail; an MP4 or QuickTime clip a copy of the same pictures and sound. WebM clips and documents have none: what they tell besides what is seen is not taken out, so they are for staff.',
        tags: ['attachments'],
        consumes: ['multipart/form-data'],
        params: z.strictObject({ id }),
        body: z
          .object({ file: z.string().meta({ format: 'binary', description: 'the bytes' }) })
          .meta({ id: 'FileUpload' }),
        response: { 200: uploadView, ...refusals(404, 406, 409, 413, 415, 422) },
      },
      // The form is read as it comes, below.
      validatorCompiler: (asked) =>
        asked.httpPart === 'body' ? (value: unknown) => ({ value }) : validatorCompiler(asked as never),
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const files = filesOf(house);
      await refuseForeignAttachment(house, house.stores, request.actor, id);
      const bytes = Number(request.headers['content-length'] ?? 0);
      await refuseBeyondDay(house, house.stores, request.actor, { id, bytes });
      const taken = await takeOnlyFile(request, files.store);
      try {
        const placed = await files.turns.take(
          authorId(request.actor),
          () => placeOnlyWanted(house, request, id, taken),
          () => request.socket.destroyed,
        );
        return await write(house, request, reply, async (stores) => {
          const row = await recordFile(house, stores, request.actor, id, placed);
          const known = (await stores.rows.get('attachment', id)) !== null;
          return { status: 200, body: { id, file: viewFile(row), known } };
        }).catch(async (error: unknown) => {
          await takeBack(house, id, placed, error);
          throw error;
        });
      } finally {
        await files.store.drop(taken);
      }
    },
  );
}

/** Puts bytes in place unless their id has others or the day's are full; of other bytes is kept what they are, as a conflict. */
async function placeOnlyWanted(
  house: House,
  request: FastifyRequest,
  id: string,
  taken: TakenFile,
): Promise<PlacedFile> {
  const files = filesOf(house);
  const seen = await lookAtFile(files, taken);
  request.body = { sha256: taken.sha256.toString('hex'), bytes: taken.bytes, ...seen };
  try {
    await refuseOtherBytes(house, house.stores, request.actor, id, taken);
  } catch (error) {
    await keepConflict(house, request, error);
    throw error;
  }
  return placeFile(files, id, taken, seen);
}

/** Reads the form to its end: a second part, or an end that does not come, takes back what was taken. */
async function takeOnlyFile(request: FastifyRequest, store: FileStore): Promise<TakenFile> {
  let taken: TakenFile | null = null;
  try {
    for await (const part of request.parts()) {
      if (part.type !== 'file') continue;
      taken = await store.take(part.file, MOST_BYTES_OF_ANY);
      if (taken === null || part.file.truncated)
        throw Object.assign(new Error(`A file has at most ${MOST_BYTES_OF_ANY} bytes.`), { statusCode: 413 });
    }
    if (taken === null || taken.bytes === 0)
      throw ruleBroken(
        'file',
        '#/file',
        'is missing or empty',
        'one file in a multipart form, under any name',
      );
    return taken;
  } catch (error) {
    if (taken !== null) await store.drop(taken);
    if (isOfTooManyParts(error))
      throw ruleBroken('file', '#/file', 'is not all of the form', 'a form with one file and no other field');
    throw isOfForm(error)
      ? Object.assign(new Error(`The form cannot be read to its end: ${error.message}.`), { statusCode: 400 })
      : error;
  }
}

/** Said by the parser of a second file or of a field beside it: not a matter of bytes. */
const isOfTooManyParts = (error: unknown): boolean =>
  ['FST_PARTS_LIMIT', 'FST_FILES_LIMIT', 'FST_FIELDS_LIMIT'].includes(
    String((error as { code?: unknown }).code),
  );

/** What the parser of forms throws carries neither a status nor a code of the system. */
const isOfForm = (error: unknown): error is Error =>
  error instanceof Error && !(error instanceof Refused) && !('statusCode' in error) && !('code' in error);

const TYPE_OF = { original: 'media_type', public: 'public_type' } as const;

function registerDownload(app: FastifyInstance, house: House): void {
  app.get(
    '/v1/attachments/:id/file',
    {
      config: { roles: CALLERS },
      schema: {
        operationId: 'getAttachmentFile',
        summary: 'The bytes: as they came (staff only), the copy for clients, or the thumbnail',
        description: 'Of a file that nobody told of yet: for dispatcher and owner.',
        tags: ['attachments'],
        params: z.strictObject({ id }),
        querystring: z.strictObject({ copy: z.enum(COPIES).default('public') }),
        response: {
          200: z.string().describe('application/octet-stream'),
          206: z.string().describe('application/octet-stream'),
          ...refusals(404, 416),
        },
      },
    },
    async (request, reply) => {
      const { id } = request.params as { id: string };
      const { copy } = request.query as { copy: Copy };
      if (!(await isUntold(house, request, id))) await seen(house, request, id);
      const file = await house.stores.rows.get('stored_file', id);
      const isStaff = request.actor.roles.some((role) => ON_SITE.includes(role));
      const key = file?.[`${copy}_key`];
      if (!file || typeof key !== 'string' || (copy === 'original' && !isStaff))
        throw new Refused({ code: 'not-found', resource: `${copy} copy of attachment`, id });
      const mediaType = copy === 'thumbnail' ? 'image/jpeg' : String(file[TYPE_OF[copy]]);
      return sendBytes(house, request, reply, key, mediaType);
    },
  );
}

async function sendBytes(
  house: House,
  request: FastifyRequest,
  reply: FastifyReply,
  key: string,
  mediaType: string,
): Promise<FastifyReply> {
  const { store } = filesOf(house);
  const size = await store.size(key);
  if (size === null)
    throw new Refused({ code: 'unavailable', detail: 'The bytes are not at hand just now.' });
  const etag = `"${key.slice(-40)}"`;
  reply
    .type(mediaType)
    .header('etag', etag)
    .header('accept-ranges', 'bytes')
    .header('cache-control', 'private, no-cache')
    // Shown, never run: what came from outside is no page of ours.
    .header('content-security-policy', "sandbox; default-src 'none'")
    .header('content-disposition', `inline; filename="${key.slice(0, 36)}.${mediaType.split('/')[1]}"`)
    .serializer(String);
  if (request.headers['if-none-match'] === etag) return reply.code(304).send();
  const range = rangeOf(request.headers.range, size);
  if (range === 'beyond') throw Object.assign(new Error(`The file has ${size} bytes.`), { statusCode: 416 });
  if (range) reply.code(206).header('content-range', `bytes ${range.from}-${range.to}/${size}`);
  const bytes = await store.read(key, range ?? undefined);
  return reply.header('content-length', range ? range.to - range.from + 1 : size).send(bytes);
}

/** One range of bytes (RFC 9110 §14), as players of clips ask for; several, or none we can read: the whole. */
function rangeOf(header: string | undefined, size: number): { from: number; to: number } | 'beyond' | null {
  const match = /^bytes=(\d{0,15})-(\d{0,15})$/.exec(header ?? '');
  if (!match || (match[1] === '' && match[2] === '')) return null;
  const last = match[1] === '' ? size - 1 : match[2] === '' ? size - 1 : Math.min(Number(match[2]), size - 1);
  const from = match[1] === '' ? Math.max(0, size - Number(match[2])) : Number(match[1]);
  return from > last ? 'beyond' : { from, to: last };
}
