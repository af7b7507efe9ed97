import type { Stores } from '../house.js';
import type { Row } from '../ports.js';

/** What somebody said of a thing of which others said something too. */
export interface OtherWord {
  id: string;
  author: string;
  authorId: string;
  content: object;
  /** When we heard it. */
  heardAt: string;
}

/**
 * A conflict stands for every word of another person that says otherwise than the one that counts, and for no other.
 *
 * @param of The record it was said of.
 * @param because Why another counts, in words; null: the word does not say otherwise.
 */
export async function keepOtherWord(
  stores: Stores,
  of: { resource: string; id: string },
  word: OtherWord,
  counts: { authorId: string },
  because: string | null,
): Promise<void> {
  if (because !== null && word.authorId !== counts.authorId) {
    const row: Row = {
      id: word.id,
      resource: of.resource,
      resource_id: of.id,
      author: word.author,
      content: word.content,
      because,
      created_at: word.heardAt,
    };
    await stores.rows.insertMany('conflict', [row], { skipDoubles: true });
    return;
  }
  const kept = await stores.rows.get('conflict', word.id);
  if (kept !== null && kept['settled_at'] === null) await stores.rows.remove('conflict', word.id);
}
