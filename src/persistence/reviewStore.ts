import type { ReviewStore } from '../actions/house.js';
import type { Queryable } from './rowStore.js';

export function makeReviewStore(q: Queryable): ReviewStore {
  return {
    async judge(inspectionId, verdict, by, at) {
      const { rowCount } = await q.query(
        'UPDATE reading_review SET verdict = $2, decided_by = $3, decided_at = $4 WHERE inspection_id = $1',
        [inspectionId, verdict, by, at],
      );
      if (rowCount === 0) return null;
      return (await q.query('SELECT * FROM review_list WHERE id = $1', [inspectionId])).rows[0] ?? null;
    },
  };
}
