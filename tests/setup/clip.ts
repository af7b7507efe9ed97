/** What a phone writes into a clip beside its pictures. */
export const SECRETS = [
  '+44.5000-090.3000/',
  'SecretPhone',
  'SECRETXMP',
  'live place 44.5',
  'SecretCodec',
  'Secret Core Media',
  'left over in free',
];

/** A box of an MP4 or QuickTime file: size, type, content. */
export function box(type: string, ...content: (Buffer | string)[]): Buffer {
  const body = Buffer.concat(
    content.map((part) => (typeof part === 'string' ? Buffer.from(part, 'latin1') : part)),
  );
  const head = Buffer.alloc(8);
  head.writeUInt32BE(body.length + 8);
  head.write(type, 4, 'latin1');
  return Buffer.concat([head, body]);
}

const u32 = (...numbers: number[]): Buffer => {
  const bytes = Buffer.alloc(4 * numbers.length);
  for (const [i, n] of numbers.entries()) bytes.writeUInt32BE(n, 4 * i);
  return bytes;
};
const FULL = u32(0);
/** 2026-10-01, in seconds since 1904. */
const MADE_AT = u32(Date.UTC(2026, 9, 1) / 1000 + 2_082_844_800);

export interface MadeClip {
  bytes: Buffer;
  frames: { at: number; length: number }[];
  madeAt: Buffer;
}

interface Track {
  handler: string;
  entry: Buffer;
  samples: Buffer[];
}

/**
 * A clip of JPEG pictures with all that tells of its place: QuickTime's ©xyz in `udta`, keys in `meta`, XMP in `uuid`,
 * a track of places beside the pictures, names of makers, left-over bytes.
 */
export function clipWithPlace(frames: Buffer[], form: 'mp4' | 'quicktime' | 'indexAtEnd'): MadeClip {
  const tracks: Track[] = [
    { handler: 'vide', entry: pictureEntry(), samples: frames },
    {
      handler: 'meta',
      entry: box('mebx', Buffer.alloc(8)),
      samples: [Buffer.from('live place 44.5,-90.3'), Buffer.from('live place 44.5,-90.4')],
    },
  ];
  const brand = form === 'quicktime' ? 'qt  ' : 'isom';
  const ftyp = box('ftyp', brand, FULL, brand);
  const xmp = box('uuid', Buffer.from('be7acfcb97a942e89c71999491e3afac', 'hex'), '<x>SECRETXMP</x>');
  const free = box('free', 'left over in free');
  const before = Buffer.concat([ftyp, xmp, free]);
  const indexLength = index(tracks, 0).length;
  const dataAt = before.length + (form === 'indexAtEnd' ? 0 : indexLength) + 8;
  const moov = index(tracks, dataAt);
  const mdat = box('mdat', ...tracks.flatMap(({ samples }) => samples));
  let at = dataAt;
  const places = frames.map(({ length }) => {
    at += length;
    return { at: at - length, length };
  });
  const parts = form === 'indexAtEnd' ? [before, mdat, moov] : [before, moov, mdat];
  return { bytes: Buffer.concat(parts), frames: places, madeAt: MADE_AT };
}

function index(tracks: readonly Track[], dataAt: number): Buffer {
  let at = dataAt;
  const traks = tracks.map((track) => {
    const trak = trakOf(track, at);
    at += track.samples.reduce((sum, { length }) => sum + length, 0);
    return trak;
  });
  const udta = box(
    'udta',
    box('\u00a9xyz', u32(0x001215c7), '+44.5000-090.3000/'),
    box('\u00a9mak', 'SecretPhone'),
  );
  const meta = box('meta', box('keys', 'com.apple.quicktime.location.ISO6709'), box('ilst', 'SecretPhone'));
  return box(
    'moov',
    box('mvhd', FULL, MADE_AT, MADE_AT, u32(600, 1200), Buffer.alloc(80)),
    ...traks,
    udta,
    meta,
  );
}

function trakOf({ handler, entry, samples }: Track, at: number): Buffer {
  const stbl = box(
    'stbl',
    box('stsd', FULL, u32(1), entry),
    box('stts', FULL, u32(1, samples.length, 600)),
    // All samples in one chunk.
    box('stsc', FULL, u32(1, 1, samples.length, 1)),
    box('stsz', FULL, u32(0, samples.length, ...samples.map(({ length }) => length))),
    box('stco', FULL, u32(1, at)),
  );
  const mdia = box(
    'mdia',
    box('mdhd', FULL, MADE_AT, MADE_AT, u32(600, 1200, 0)),
    box('hdlr', FULL, FULL, handler, Buffer.alloc(12), 'Secret Core Media\0'),
    box('minf', box('dinf', Buffer.alloc(8)), stbl),
  );
  return box(
    'trak',
    box('tkhd', FULL, MADE_AT, MADE_AT, u32(1, 0, 1200), Buffer.alloc(60)),
    mdia,
    box('udta', box('name', 'SecretPhone')),
  );
}

/** A picture's sample entry (ISO/IEC 14496-12, 12.1.3): 32 by 24, 72 dots an inch, with the name of its compressor. */
function pictureEntry(): Buffer {
  const entry = Buffer.alloc(78);
  entry.writeUInt16BE(1, 6);
  entry.writeUInt16BE(32, 24);
  entry.writeUInt16BE(24, 26);
  entry.writeUInt32BE(0x00480000, 28);
  entry.writeUInt32BE(0x00480000, 32);
  entry.writeUInt16BE(1, 40);
  entry.write('\u000bSecretCodec', 42, 'latin1');
  entry.writeUInt16BE(24, 74);
  return box('jpeg', entry);
}
