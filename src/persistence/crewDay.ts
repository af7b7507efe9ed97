/** What upsets or equips the day of a route `r` of a crew `c`, as `CrewDayFacts` of the domain has it. */
export const CREW_DAY = `
  jsonb_build_object(
    'crewName', c.name, 'depotId', c.depot_id, 'people', c.people,
    'holiday', (SELECT jsonb_build_object('id', h.id, 'name', h.name) FROM holiday h WHERE h.day = r.day AND h.archived_on IS NULL LIMIT 1),
    'away', (SELECT coalesce(jsonb_agg(jsonb_build_object('id', a.id, 'memberId', a.member_id, 'people', a.people, 'comesBack', a.back_at IS NOT NULL, 'reason', a.reason) ORDER BY a.id), '[]')
               FROM absence a WHERE a.withdrawn_at IS NULL AND r.day BETWEEN a.from_day AND a.to_day
                AND (a.crew_id = c.id OR a.member_id IN (SELECT m.member_id FROM crew_membership m WHERE m.crew_id = c.id AND m.from_day <= r.day AND (m.to_day IS NULL OR m.to_day > r.day)))),
    'kit', (SELECT coalesce(jsonb_agg(jsonb_build_object('id', k.id, 'name', k.name, 'kind', k.kind, 'tankL', k.tank_l, 'wasteL', k.waste_l, 'isOwn', k.is_own,
                     'outBecause', x.reason, 'outId', x.id) ORDER BY k.name, k.id), '[]')
              FROM (SELECT i.*, n.crew_id IS NOT NULL AS is_own FROM kit_item i
                      LEFT JOIN crew_kit n ON n.kit_item_id = i.id AND n.from_day <= r.day AND (n.to_day IS NULL OR n.to_day > r.day)
                     WHERE i.archived_on IS NULL AND (n.crew_id = c.id OR (n.crew_id IS NULL AND (i.depot_id IS NULL OR i.depot_id = c.depot_id)))) k
              LEFT JOIN LATERAL (SELECT a.id, a.reason FROM absence a WHERE a.kit_item_id = k.id AND a.withdrawn_at IS NULL AND r.day BETWEEN a.from_day AND a.to_day ORDER BY a.id LIMIT 1) x ON true),
    'seasons', (SELECT coalesce(jsonb_agg(jsonb_build_object('id', w.id, 'depotId', w.depot_id, 'tasks', w.tasks, 'outsideOnly', w.outside_only, 'fromDay', w.from_day, 'toDay', w.to_day, 'reason', w.reason) ORDER BY w.id), '[]')
                  FROM closed_season w WHERE w.withdrawn_at IS NULL AND r.day BETWEEN w.from_day AND w.to_day AND (w.depot_id IS NULL OR w.depot_id = c.depot_id)))`;
