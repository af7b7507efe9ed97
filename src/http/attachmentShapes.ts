import { z } from 'zod';
import { UNTOLD_DAYS } from '../actions/files/sweepFiles.js';
import type { Row } from '../actions/ports.js';
import { FILE_KINDS } from '../domain/words.js';
import { instant } from './shapes.js';

const fileView = z
  .object({
    kind: z.enum(FILE_KINDS),
    mediaType: z.string(),
    bytes: z.number().int(),
    sha256: z.string(),
    width: z.number().int().nullable(),
    height: z.number().int().nullable(),
    original: z.string().describe('address of the bytes as they came; for staff'),
    public: z
      .string()
      .nullable()
      .describe(
        'copy for clients, without place, device or time; null: there is none that could be shown to them (documents, WebM, a clip that could not be followed)',
      ),
    thumbnail: z.string().nullable(),
  })
  .meta({ id: 'StoredFile', description: 'Bytes as they were recognised by their content.' });

export const attachmentView = z
  .object({
    id: z.uuid(),
    siteId: z.uuid(),
    lineId: z.uuid().nullable(),
    pitId: z.uuid().nullable(),
    workOrderId: z.uuid().nullable(),
    inspectionId: z.uuid().nullable(),
    caption: z.string().nullable(),
    takenAt: instant,
    author: z.string(),
    forClient: z.boolean(),
    file: fileView.nullable().describe('null: its bytes have not come yet'),
    version: z.number().int(),
  })
  .meta({ id: 'Attachment', description: 'A photograph, clip or document of a site.' });

export const uploadView = z
  .object({
    id: z.uuid(),
    file: fileView,
    known: z.boolean().describe('false: what it shows has not come yet'),
  })
  .meta({ id: 'Upload' });

export const untoldFileView = z
  .object({
    id: z.uuid().describe('under which `POST /v1/attachments` says what it shows'),
    kind: z.enum(FILE_KINDS),
    mediaType: z.string(),
    bytes: z.number().int(),
    author: z.string(),
    createdAt: instant,
    goesAt: instant.describe('from when on it is put aside, should nobody say what it shows'),
  })
  .meta({ id: 'UntoldFile', description: 'Bytes of which nobody said yet what they show.' });

export const viewUntoldFile = (row: Row) => ({
  id: row['id'],
  kind: row['kind'],
  mediaType: row['media_type'],
  bytes: row['bytes'],
  author: row['author'],
  createdAt: row['created_at'],
  goesAt: new Date(Date.parse(String(row['created_at'])) + UNTOLD_DAYS * 86_400_000).toISOString(),
});

/** Addresses of the copies of a file. */
export const viewFile = (f: Row) => {
  const at = (copy: string) => `/v1/attachments/${String(f['id'])}/file?copy=${copy}`;
  return {
    kind: f['kind'],
    mediaType: f['media_type'],
    bytes: f['bytes'],
    sha256: (f['sha256'] as Buffer).toString('hex'),
    width: f['width'],
    height: f['height'],
    original: at('original'),
    public: f['public_key'] === null ? null : at('public'),
    thumbnail: f['thumbnail_key'] === null ? null : at('thumbnail'),
  };
};

export const viewAttachment = (r: Row, file: Row | null) => ({
  id: r['id'],
  siteId: r['site_id'],
  lineId: r['line_id'],
  pitId: r['pit_id'],
  workOrderId: r['work_order_id'],
  inspectionId: r['inspection_id'],
  caption: r['caption'],
  takenAt: r['taken_at'],
  author: r['author'],
  forClient: r['for_client'],
  file: file && viewFile(file),
  version: r['version'],
});
