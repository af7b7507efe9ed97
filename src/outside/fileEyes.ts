import { fileTypeFromFile } from 'file-type';
import sharp from 'sharp';
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
    const copy = ({ side, quality }: typeof FOR_CLIENTS) =>
      sharp(path, { limitInputPixels: MOST_PIXELS })
        .rotate()
        .resize({ width: side, height: side, fit: 'inside', withoutEnlargement: true })
        .flatten({ background: '#ffffff' })
        .jpeg({ quality })
        .toBuffer();
    return { forClients: await copy(FOR_CLIENTS), thumbnail: await copy(THUMBNAIL) };
  },

  clipEdits: (path, mediaType) => (BOXED.includes(mediaType) ? withoutPlace(path) : Promise.resolve(null)),
};

async function lookAtPicture(
  path: string,
  mediaType: string,
): Promise<{ ok: true; seen: FileSeen } | { ok: false; fault: FileFault }> {
  try {
    const { width, height, autoOrient } = await sharp(path, { limitInputPixels: false }).metadata();
    if (width * height > MOST_PIXELS)
      return refuse(
        `${width} × ${height} pixels`,
        `at most ${MOST_PIXELS / 1_000_000} million pixels in all`,
      );
    // Reads to the end: what breaks off in the middle shows here, not to the client.
    await sharp(path, { limitInputPixels: MOST_PIXELS, failOn: 'truncated' }).stats();
    return {
      ok: true,
      seen: { kind: 'photograph', mediaType, width: autoOrient.width, height: autoOrient.height },
    };
  } catch (error) {
    return refuse(
      `the picture cannot be read (${(error as Error).message.split('\n')[0]})`,
      'the whole file, as the camera wrote it',
    );
  }
}
