import { fileTypeFromFile } from 'file-type';
import sharp, { type Sharp } from 'sharp';
import type { FileEyes, FileFault, FileSeen } from '../actions/files/fileStore.js';
import type { FileKind } from '../domain/words.js';
import { MEDIA_TYPES, MOST_PIXELS } from '../domain/work/fileLimits.js';
import { withoutPlace } from './clipBoxes.js';
import { brokenOff } from './wholeFiles.js';

/** Long side in pixels, and how much of it a JPEG keeps (common practice, no source). */
const FOR_CLIENTS = { side: 2048, quality: 82 };
const THUMBNAIL = { side: 320, quality: 70 };
/** A picture is decoded by one thread: the service has other things to do. */
sharp.concurrency(1);
/** So long may a picture take (common practice, no source). */
const MOST_SECONDS = 20;

/** Clips made of boxes; WebM is not. */
const BOXED = ['video/mp4', 'video/quicktime'];

const refuse = (detail: string, remedy: string): { ok: false; fault: FileFault } => ({
  ok: false,
  fault: { detail, remedy },
});

export const fileEyes: FileEyes = {
  async look(path) {
    const mediaType = (await fileTypeFromFile(path))?.mime ?? null;
    const kind = (Object.keys(MEDIA_TYPES) as FileKind[]).find(
      (each) => mediaType !== null && MEDIA_TYPES[each].includes(mediaType),
    );
    const known = Object.values(MEDIA_TYPES).flat().join(', ');
    if (kind === undefined || mediaType === null)
      return refuse(
        mediaType === null ? 'the content is of no type known here' : `the content is ${mediaType}`,
        `one of ${known}`,
      );
    if (kind === 'photograph') return lookAtPicture(path, mediaType);
    const broken = await brokenOff(path, mediaType);
    if (broken !== null) return refuse(broken, 'the whole file, as the device wrote it');
    return { ok: true, seen: { kind, mediaType, width: null, height: null } };
  },

  async copies(path) {
    try {
      // Reads to the end: what breaks off in the middle shows here, not to the client.
      const forClients = await copyOf(
        sharp(path, { limitInputPixels: MOST_PIXELS.jpeg, failOn: 'truncated' }),
        FOR_CLIENTS,
      );
      return { ok: true, forClients, thumbnail: await copyOf(sharp(forClients), THUMBNAIL) };
    } catch (error) {
      return unreadable(error);
    }
  },

  clipEdits: (path, mediaType) => (BOXED.includes(mediaType) ? withoutPlace(path) : Promise.resolve(null)),
};

const copyOf = (picture: Sharp, { side, quality }: typeof FOR_CLIENTS): Promise<Buffer> =>
  picture
    .rotate()
    .resize({ width: side, height: side, fit: 'inside', withoutEnlargement: true })
    .flatten({ background: '#ffffff' })
    .jpeg({ quality })
    .timeout({ seconds: MOST_SECONDS })
    .toBuffer();

async function lookAtPicture(
  path: string,
  mediaType: string,
): Promise<{ ok: true; seen: FileSeen } | { ok: false; fault: FileFault }> {
  try {
    const { width, height, autoOrient, isProgressive } = await sharp(path, {
      limitInputPixels: false,
    }).metadata();
    const most = MOST_PIXELS[mediaType === 'image/jpeg' && !isProgressive ? 'jpeg' : 'other'];
    if (width * height > most)
      return refuse(`${width} × ${height} pixels`, `at most ${most / 1_000_000} million pixels in all`);
    return {
      ok: true,
      seen: { kind: 'photograph', mediaType, width: autoOrient.width, height: autoOrient.height },
    };
  } catch (error) {
    return unreadable(error);
  }
}

const unreadable = (error: unknown) =>
  refuse(
    `the picture cannot be read (${(error as Error).message.split('\n')[0]})`,
    'the whole file, as the camera wrote it',
  );
