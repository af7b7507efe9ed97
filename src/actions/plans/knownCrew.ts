import type { Stores } from '../house.js';
import type { Row } from '../ports.js';
import { Refused } from '../problems.js';

/**
 * The crew a request names in `crewId`.
 * @throws {Refused} `unknown-reference`: there is none, or it is archived.
 */
export async function knownCrew(stores: Stores, crewId: string): Promise<Row> {
  const crew = await stores.rows.get('crew', crewId);
  if (crew && crew['archived_on'] === null) return crew;
  const detail = crew ? `${String(crew['name'])} is archived` : `there is no crew ${crewId}`;
  throw new Refused({
    code: 'unknown-reference',
    faults: [
      { pointer: '#/crewId', detail, remedy: 'the id of a crew that works: GET /v1/crews lists them' },
    ],
  });
}
