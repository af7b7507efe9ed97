import { randomUUID } from 'node:crypto';
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, utimesSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { crc32 } from 'node:zlib';
import sharp from 'sharp';
import { beforeAll, expect, onTestFinished, test } from 'vitest';
import { sweepFiles } from '../../src/actions/files/sweepFiles.js';
import { folderStore } from '../../src/outside/folderStore.js';
import { clipWithPlace, SECRETS } from '../setup/clip.js';
import { type RoutedHouse, routedHouse } from '../setup/routedHouse.js';
import type { Json } from '../setup/testHouse.js';

let t: RoutedHouse;
let key: string;
let stranger: string;
let photograph: Buffer;

/** 40 × 20 as stored, turned a quarter by its orientation, with a place in its EXIF. */
const withPlace = (colour: string) =>
  sharp({ create: { width: 40, height: 20, channels: 3, background: colour } })
    .withExif({ IFD0: { Make: 'SecretPhone' }, IFD3: { GPSLatitudeRef: 'N', GPSLatitude: '44/1 30/1 0/1' } })
    .withMetadata({ orientation: 6 })
    .jpeg()
    .toBuffer();

beforeAll(async () => {
  t = await routedHouse();
  key = await t.keyOf('Tern');
  const memberId = randomUUID();
  await t.house.stores.rows.insert('member', { id: memberId, name: 'Wren' });
  stranger = await t.keyOf('Wren', memberId);
  photograph = await withPlace('#8a4b00');
}, 60_000);

const BOUNDARY = '----openbore-test';
function form(parts: { bytes: Buffer; name?: string; type?: string }[], end = `--${BOUNDARY}--\r\n`): Buffer {
  return Buffer.concat([
    ...parts.flatMap(({ bytes, name = 'p.jpg', type = 'image/jpeg' }) => [
      Buffer.from(
        `--${BOUNDARY}\r\nContent-Disposition: form-data; name="file"; filename="${name}"\r\nContent-Type: ${type}\r\n\r\n`,
      ),
      bytes,
      Buffer.from('\r\n'),
    ]),
    Buffer.from(end),
  ]);
}

async function put(
  id: string,
  payload: Buffer,
  bearer = key,
  type = `multipart/form-data; boundary=${BOUNDARY}`,
) {
  const answer = await t.app.inject({
    method: 'PUT',
    url: `/v1/attachments/${id}/file`,
    headers: { authorization: `Bearer ${bearer}`, 'content-type': type },
    payload,
  });
  return { status: answer.statusCode, body: answer.json() as Json };
}
async function bytesOf(id: string, copy: string, bearer = key, headers: object = {}) {
  const answer = await t.app.inject({
    method: 'GET',
    url: `/v1/attachments/${id}/file?copy=${copy}`,
    headers: { authorization: `Bearer ${bearer}`, ...headers },
  });
  return { status: answer.statusCode, bytes: answer.rawPayload, headers: answer.headers };
}
const told = (more: object = {}) => ({
  id: randomUUID(),
  siteId: t.own.siteId,
  lineId: t.own.lineId,
  takenAt: '2026-10-01T11:00:00Z',
  caption: 'gel at the outlet',
  ...more,
});
const onDisk = () =>
  readdirSync(t.folder, { recursive: true, withFileTypes: true }).filter(
    (entry) => entry.isFile() && !entry.parentPath.includes('aside'),
  );

test('a photograph keeps its bytes for staff; the copy for clients tells neither place nor device', async () => {
  const asked = told();
  expect((await t.as(key, 'POST', '/v1/attachments', asked)).body.file).toBeNull();
  const sent = await put(asked.id, form([{ bytes: photograph }]));
  expect(sent.status, JSON.stringify(sent.body)).toBe(200);
  // Turned upright: 20 wide, 40 high.
  expect(sent.body).toMatchObject({
    known: true,
    file: { kind: 'photograph', mediaType: 'image/jpeg', bytes: photograph.length, width: 20, height: 40 },
  });
  const original = await bytesOf(asked.id, 'original');
  expect(original.bytes.equals(photograph)).toBe(true);
  expect(original.headers['content-type']).toBe('image/jpeg');
  expect((await sharp(original.bytes).metadata()).exif).toBeDefined();

  for (const copy of ['public', 'thumbnail']) {
    const { status, bytes } = await bytesOf(asked.id, copy);
    expect(status).toBe(200);
    const { exif, xmp, iptc, width, height, format } = await sharp(bytes).metadata();
    expect({ exif, xmp, iptc, width, height, format }).toEqual({
      exif: undefined,
      xmp: undefined,
      iptc: undefined,
      width: 20,
      height: 40,
      format: 'jpeg',
    });
    expect(bytes.includes('SecretPhone')).toBe(false);
  }
  expect((await t.as(key, 'GET', `/v1/attachments/${asked.id}`)).body.file.original).toBe(
    `/v1/attachments/${asked.id}/file?copy=original`,
  );
});

test('bytes may come before what they show, and what they show by sync', async () => {
  const asked = told();
  const sent = await put(asked.id, form([{ bytes: photograph }]));
  expect(sent.body.known).toBe(false);
  expect((await t.as(key, 'GET', `/v1/attachments/${asked.id}`)).status).toBe(404);
  expect((await bytesOf(asked.id, 'public')).status).toBe(404);
  const { takenAt, ...rest } = asked;
  const answer = await t.as(key, 'POST', '/v1/sync', {
    sentAt: '2026-10-01T12:00:00Z',
    items: [{ kind: 'attachment', at: takenAt, ...rest, workOrderId: t.orderId }],
  });
  expect(answer.body.items[0]).toMatchObject({
    outcome: 'accepted',
    href: `/v1/attachments/${asked.id}`,
  });
  expect((await bytesOf(asked.id, 'public')).status).toBe(200);
  const listed = await t.as(key, 'GET', `/v1/attachments?siteId=${t.own.siteId}&workOrderId=${t.orderId}`);
  expect(listed.body.items).toMatchObject([{ id: asked.id, file: { kind: 'photograph' } }]);
});

test('the same bytes again are the same; others under the id are refused, kept as a conflict, and change nothing', async () => {
  const id = randomUUID();
  const first = await put(id, form([{ bytes: photograph }]));
  const before = onDisk().length;
  expect(await put(id, form([{ bytes: photograph }]))).toEqual(first);
  const other = await put(id, form([{ bytes: await withPlace('#0b4f83') }]));
  expect(other.status).toBe(409);
  expect(onDisk()).toHaveLength(before);
  const kept = await t.call('owner', { method: 'GET', url: `/v1/conflicts?resourceId=${id}` });
  expect(kept.body.items[0]).toMatchObject({ resource: 'stored_file', content: { kind: 'photograph' } });
  expect((await t.house.stores.rows.get('stored_file', id))?.['bytes']).toBe(photograph.length);
});

test('only who has a visit on the site sees or adds to it; programs get no originals', async () => {
  const asked = told();
  await t.as(key, 'POST', '/v1/attachments', asked);
  expect((await put(asked.id, form([{ bytes: photograph }]), stranger)).status).toBe(403);
  expect((await put(asked.id, form([{ bytes: photograph }]))).status).toBe(200);
  expect((await t.as(stranger, 'GET', `/v1/attachments/${asked.id}`)).status).toBe(404);
  expect((await t.as(stranger, 'GET', `/v1/attachments?siteId=${t.own.siteId}`)).status).toBe(404);
  expect((await bytesOf(asked.id, 'thumbnail', stranger)).status).toBe(404);
  expect((await t.as(stranger, 'POST', '/v1/attachments', told())).status).toBe(403);
  expect((await t.as(key, 'POST', '/v1/attachments', told({ siteId: t.foreign.siteId }))).status).toBe(403);
  const program = t.keys.integration;
  expect((await bytesOf(asked.id, 'original', program)).status).toBe(404);
  expect((await bytesOf(asked.id, 'public', program)).status).toBe(200);
});

test('of two contents that come under one id together one is kept, and nothing of the other stays', async () => {
  const [id, before] = [randomUUID(), onDisk().length];
  const contents = [photograph, await withPlace('#0b4f83')];
  const answers = await Promise.all(contents.map((bytes) => put(id, form([{ bytes }]))));
  const kept = answers.findIndex(({ status }) => status === 200);
  expect(answers.map(({ status }) => status).filter((status) => status !== 200)).toEqual([409]);
  expect(onDisk()).toHaveLength(before + 3);
  const told = await t.as(key, 'POST', '/v1/attachments', {
    id,
    siteId: t.own.siteId,
    takenAt: '2026-10-01T11:00:00Z',
  });
  expect(told.status, JSON.stringify(told.body)).toBe(201);
  expect((await bytesOf(id, 'original')).bytes.equals(contents[kept] as Buffer)).toBe(true);
});

/** A PNG that says it is so large, and holds nothing. */
function vastPng(side: number): Buffer {
  const head = Buffer.alloc(13);
  head.writeUInt32BE(side, 0);
  head.writeUInt32BE(side, 4);
  head.set([8, 2, 0, 0, 0], 8);
  const chunk = (type: string, data: Buffer) => {
    const named = Buffer.concat([Buffer.from(type), data]);
    const [length, sum] = [Buffer.alloc(4), Buffer.alloc(4)];
    length.writeUInt32BE(data.length);
    sum.writeUInt32BE(crc32(named));
    return Buffer.concat([length, named, sum]);
  };
  return Buffer.concat([
    Buffer.from('89504e470d0a1a0a', 'hex'),
    chunk('IHDR', head),
    chunk('IDAT', Buffer.from('789c030000000001', 'hex')),
    chunk('IEND', Buffer.alloc(0)),
  ]);
}

test('what is no photograph, clip or paper by its content is refused, whatever it calls itself; nothing is left of it', async () => {
  const before = onDisk().length;
  const large = await sharp({
    create: {
      width: 400,
      height: 400,
      channels: 3,
      noise: { type: 'gaussian', mean: 128, sigma: 60 },
      background: '#888',
    },
  })
    .jpeg()
    .toBuffer();
  const cases: [string, Buffer, number][] = [
    ['text under a picture’s name', form([{ bytes: Buffer.from('#!/bin/sh\nrm -rf /\n') }]), 422],
    [
      'SVG, which can hold a script',
      form([{ bytes: Buffer.from('<svg xmlns="http://www.w3.org/2000/svg"/>') }]),
      422,
    ],
    [
      'a program',
      form([{ bytes: Buffer.concat([Buffer.from('7f454c4602010100', 'hex'), Buffer.alloc(600)]) }]),
      422,
    ],
    ['a picture of vast size', form([{ bytes: vastPng(60_000) }]), 422],
    ['a picture broken off', form([{ bytes: large.subarray(0, large.length / 2) }]), 422],
    ['nothing', form([{ bytes: Buffer.alloc(0) }]), 422],
    ['no file', Buffer.from(`--${BOUNDARY}--\r\n`), 422],
    ['two files', form([{ bytes: photograph }, { bytes: photograph }]), 422],
    ['a form broken off', form([{ bytes: photograph }], '').subarray(0, 300), 400],
  ];
  for (const [what, payload, status] of cases) {
    const id = randomUUID();
    const answer = await put(id, payload);
    expect(answer.status, `${what}: ${JSON.stringify(answer.body)}`).toBe(status);
    expect(answer.body.detail, what).toBeTruthy();
    expect(await t.house.stores.rows.get('stored_file', id), what).toBeNull();
  }
  expect((await put(randomUUID(), Buffer.from('{}'), key, 'application/json')).status).toBe(406);
  const raw = await put(randomUUID(), photograph, key, 'image/jpeg');
  expect(raw).toMatchObject({
    status: 415,
    body: { detail: expect.stringContaining('multipart/form-data') },
  });
  expect(onDisk()).toHaveLength(before);
  // Multipart is taken nowhere else.
  const elsewhere = await t.app.inject({
    method: 'POST',
    url: '/v1/notes',
    headers: { authorization: `Bearer ${key}`, 'content-type': `multipart/form-data; boundary=${BOUNDARY}` },
    payload: form([{ bytes: photograph }]),
  });
  expect(elsewhere.statusCode).toBe(415);
});

/** A WebM file of a head and a segment; `length`: what the segment says it holds, null: left open. */
const webm = (length: number | null, held = 200): Buffer => {
  const head = Buffer.from(
    '1a45dfa39f4286810142f7810142f2810442f381084282847765626d42878104428581 02'.replace(/ /g, ''),
    'hex',
  );
  const size = Buffer.from('01ffffffffffffff', 'hex');
  if (length !== null) size.writeUIntBE(length, 2, 6);
  if (length !== null) size[1] = 0;
  return Buffer.concat([head, Buffer.from('18538067', 'hex'), size, Buffer.alloc(held)]);
};

test('clips and papers that break off are refused and nothing is kept; whole ones are taken, whatever their name', async () => {
  const before = onDisk().length;
  const { bytes: clip } = clipWithPlace([Buffer.alloc(3000, 1)], 'mp4');
  const paper = Buffer.from(`%PDF-1.4\n${'x'.repeat(5000)}\n%%EOF\n`);
  const page = Buffer.from('<html><script>alert(1)</script></html>');
  const broken: [string, Buffer][] = [
    ['a clip cut in half', clip.subarray(0, clip.length / 2)],
    ['a clip without its last byte', clip.subarray(0, clip.length - 1)],
    ['a clip of its first box alone', clip.subarray(0, clip.readUInt32BE(0))],
    ['a page behind the first box of a clip', Buffer.concat([clip.subarray(0, clip.readUInt32BE(0)), page])],
    ['a paper cut in half', paper.subarray(0, 2500)],
    ['the first line of a paper, then a page', Buffer.concat([Buffer.from('%PDF-1.4\n'), page])],
    ['a WebM clip cut short', webm(5_000)],
    ['a WebM clip of its head alone', webm(null).subarray(0, 36)],
  ];
  for (const [what, bytes] of broken) {
    const answer = await put(randomUUID(), form([{ bytes, name: 'clip.mp4' }]));
    expect(answer.status, `${what}: ${JSON.stringify(answer.body)}`).toBe(422);
    expect(answer.body.errors[0], what).toMatchObject({ pointer: '#/file' });
  }
  expect(onDisk()).toHaveLength(before);
  const whole: [Buffer, string][] = [
    [clip, 'clip'],
    [paper, 'document'],
    [webm(200), 'clip'],
    [webm(null), 'clip'],
  ];
  for (const [bytes, kind] of whole) {
    const answer = await put(randomUUID(), form([{ bytes, name: 'picture.jpg', type: 'image/png' }]));
    expect(answer.body.file, kind).toMatchObject({ kind });
  }
});

test('a picture that is something else as well is shown as a picture only, and its copy is nothing else', async () => {
  const asked = told({ forClient: true });
  await t.as(key, 'POST', '/v1/attachments', asked);
  const second = Buffer.from('PK\u0003\u0004 <script>alert(document.cookie)</script> ');
  const bytes = Buffer.concat([photograph, second]);
  const sent = await put(asked.id, form([{ bytes, name: 'outlet.html', type: 'text/html' }]));
  expect(sent.body.file).toMatchObject({ kind: 'photograph', mediaType: 'image/jpeg' });
  const original = await bytesOf(asked.id, 'original');
  expect(original.headers).toMatchObject({
    'content-type': 'image/jpeg',
    'x-content-type-options': 'nosniff',
    'content-security-policy': "sandbox; default-src 'none'",
  });
  expect(String(original.headers['content-disposition'])).not.toContain('html');
  expect((await bytesOf(asked.id, 'public')).bytes.includes('script')).toBe(false);
});

test('a file larger than its kind may be is refused, and nothing is kept of it', async () => {
  const before = onDisk().length;
  const paper = Buffer.concat([Buffer.from('%PDF-1.4\n'), Buffer.alloc(25_000_001), Buffer.from('\n%%EOF')]);
  const answer = await put(randomUUID(), form([{ bytes: paper, type: 'application/pdf' }]));
  expect(answer).toMatchObject({
    status: 422,
    body: { errors: [{ pointer: '#/file', remedy: 'a document has at most 25000000 bytes' }] },
  });
  expect(onDisk()).toHaveLength(before);
});

test('a name with a path leads nowhere: files are named by id and content', async () => {
  const id = randomUUID();
  expect((await put(id, form([{ bytes: photograph, name: '../../../../tmp/evil.jpg' }]))).status).toBe(200);
  expect(onDisk().some(({ name }) => name.includes('evil'))).toBe(false);
  expect(onDisk().filter(({ parentPath }) => parentPath.endsWith(id))).toHaveLength(3);
});

test('a clip keeps its bytes for staff; the copy for clients has its pictures and no place', async () => {
  const asked = told({ forClient: true });
  await t.as(key, 'POST', '/v1/attachments', asked);
  const { bytes } = clipWithPlace([Buffer.from('a picture'), Buffer.from('another')], 'mp4');
  const sent = await put(asked.id, form([{ bytes }]));
  expect(sent.body.file).toMatchObject({
    kind: 'clip',
    mediaType: 'video/mp4',
    public: `/v1/attachments/${asked.id}/file?copy=public`,
    thumbnail: null,
  });
  expect((await bytesOf(asked.id, 'original')).bytes.equals(bytes)).toBe(true);
  const shown = await bytesOf(asked.id, 'public');
  expect(shown.headers['content-type']).toBe('video/mp4');
  expect(shown.bytes.length).toBe(bytes.length);
  for (const secret of SECRETS) expect(shown.bytes.includes(secret), secret).toBe(false);
  expect((await bytesOf(asked.id, 'public', key, { range: 'bytes=4-7' })).bytes.toString()).toBe('ftyp');
});

test('papers are kept as they came, without a copy for clients; players get their ranges', async () => {
  const asked = told({ lineId: null });
  await t.as(key, 'POST', '/v1/attachments', asked);
  const paper = Buffer.from(`%PDF-1.4\n${'x'.repeat(990)}\n%%EOF`);
  const sent = await put(asked.id, form([{ bytes: paper, type: 'image/jpeg' }]));
  expect(sent.body.file).toMatchObject({ kind: 'document', mediaType: 'application/pdf', public: null });
  expect((await bytesOf(asked.id, 'public')).status).toBe(404);
  const part = await bytesOf(asked.id, 'original', key, { range: 'bytes=0-7' });
  expect(part.status).toBe(206);
  expect(part.bytes.toString()).toBe('%PDF-1.4');
  expect(part.headers['content-range']).toBe(`bytes 0-7/${paper.length}`);
  expect((await bytesOf(asked.id, 'original', key, { range: 'bytes=-5' })).bytes.toString()).toBe('%%EOF');
  expect((await bytesOf(asked.id, 'original', key, { range: 'bytes=5000-' })).status).toBe(416);
  const whole = await bytesOf(asked.id, 'original');
  expect(whole.headers['content-security-policy']).toContain('sandbox');
  expect((await bytesOf(asked.id, 'original', key, { 'if-none-match': whole.headers['etag'] })).status).toBe(
    304,
  );
});

test('files that no record points to are swept once they have lain a day; what records point to stays', async () => {
  const kept = onDisk().length;
  const lost = `${randomUUID()}/0123456789abcdef-original`;
  await t.house.files?.store.put(Buffer.from('lost'), lost);
  async function* aside() {
    yield Buffer.from('half');
  }
  await t.house.files?.store.take(aside(), 100);
  expect(onDisk()).toHaveLength(kept + 2);
  expect((await sweepFiles(t.house)).lost).toEqual([]);
  const old = new Date('2026-09-29T00:00:00Z');
  for (const { parentPath, name } of onDisk()) utimesSync(join(parentPath, name), old, old);
  // Nothing is left of the bytes that came under a taken id above.
  expect((await sweepFiles(t.house)).lost).toEqual([lost]);
  expect(onDisk()).toHaveLength(kept);
});

test('what is swept lies aside for a month; more than broken uploads leave is not swept at all', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'openbore-sweep-'));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const store = folderStore(folder);
  const files = t.house.files;
  if (!files) throw new RangeError('the house of the tests keeps files');
  const house = { ...t.house, files: { ...files, store } };
  const lost = Array.from({ length: 21 }, () => `${randomUUID()}/0123456789abcdef-original`);
  const lay = async (keys: readonly string[]) => {
    for (const key of keys) {
      await store.put(Buffer.from('lost'), key);
      const old = new Date('2026-09-29T00:00:00Z');
      utimesSync(join(folder, key.slice(0, 2), key), old, old);
    }
  };
  await lay(lost);
  // As when the folder is that of another database.
  expect(await sweepFiles(house)).toMatchObject({ of: 21, stopped: true });
  for (const key of lost) expect(await store.size(key)).toBe(4);

  const [one = '', ...others] = lost;
  for (const key of others) await store.remove(key);
  expect(await sweepFiles(house)).toEqual({ lost: [one], of: 1, stopped: false });
  expect(await store.size(one)).toBeNull();
  const aside = join(folder, 'aside', t.house.zone.dayOf(t.house.clock.now()));
  expect(readFileSync(join(aside, one), 'utf8')).toBe('lost');
  // Not found there again, and gone in the end.
  expect((await sweepFiles(house)).of).toBe(0);
  const later = { ...house, clock: { now: () => new Date(t.house.clock.now().getTime() + 32 * 86_400_000) } };
  await sweepFiles(later);
  expect(existsSync(aside)).toBe(false);
});

test('bytes that came first wait for what they show from who sent them, or from the office', async () => {
  const [mine, ours] = [told(), told()];
  for (const { id } of [mine, ours])
    expect((await put(id, form([{ bytes: photograph }]), stranger)).status).toBe(200);
  const refused = await t.as(key, 'POST', '/v1/attachments', mine);
  expect([refused.status, refused.body.type]).toEqual([409, '/problems/id-taken']);
  expect((await bytesOf(mine.id, 'original')).status).toBe(404);
  const { status } = await t.call('dispatcher', { method: 'POST', url: '/v1/attachments', payload: ours });
  expect(status).toBe(201);
});

test('bytes of which nobody says in thirty days what they show are removed', async () => {
  const [untold, shown] = [randomUUID(), told()];
  for (const id of [untold, shown.id]) await put(id, form([{ bytes: photograph }]));
  await t.as(key, 'POST', '/v1/attachments', shown);
  const age = (days: number) =>
    t.pool.query(
      'UPDATE stored_file SET created_at = $1::timestamptz - make_interval(days => $2) WHERE id = ANY ($3)',
      [t.clock.at.toISOString(), days, [untold, shown.id]],
    );
  await age(29);
  await sweepFiles(t.house);
  expect(await t.house.stores.rows.get('stored_file', untold)).not.toBeNull();
  await age(31);
  await sweepFiles(t.house);
  expect(await t.house.stores.rows.get('stored_file', untold)).toBeNull();
  expect((await bytesOf(shown.id, 'original')).status).toBe(200);
});
