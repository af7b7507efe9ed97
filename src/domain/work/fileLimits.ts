import type { FileKind } from '../words.js';

const MB = 1_000_000;

/** Largest file of each kind: a phone's photograph, a clip of a minute or two, a scanned paper (common practice, no source). */
export const MOST_BYTES: Readonly<Record<FileKind, number>> = {
  photograph: 25 * MB,
  clip: 120 * MB,
  document: 25 * MB,
};
export const MOST_BYTES_OF_ANY = Math.max(...Object.values(MOST_BYTES));

/** What each kind may come as, by its content. */
export const MEDIA_TYPES: Readonly<Record<FileKind, readonly string[]>> = {
  photograph: ['image/jpeg', 'image/png', 'image/webp', 'image/avif'],
  clip: ['video/mp4', 'video/quicktime', 'video/webm'],
  document: ['application/pdf'],
};

/**
 * Larger pictures than a phone takes are made to exhaust who opens them. Only a plain JPEG can be opened smaller than it is:
 * of all others each pixel is unpacked, and half a megabyte may hold all of them in one colour.
 */
export const MOST_PIXELS = { jpeg: 120_000_000, other: 50_000_000 } as const;
