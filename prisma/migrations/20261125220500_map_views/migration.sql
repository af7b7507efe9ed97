-- Lines and sites on the map, with what is believed of them.
CREATE VIEW line_map AS
  SELECT l.id, l.name, l.kind, l.main_material AS material, s.id AS site_id, s.address, s.town, s.area, s.latitude, s.longitude,
         t.occlusion, t.action_limit, t.action_chance_30d, t.plug_chance_year, t.due_on, l.created_at
    FROM line l JOIN site s ON s.id = l.site_id LEFT JOIN trend t ON t.line_id = l.id
   WHERE l.archived_on IS NULL AND s.archived_on IS NULL;

CREATE VIEW site_map AS
  SELECT s.id, s.address, s.town, s.area, s.basement, s.latitude, s.longitude, s.created_at, x.lines, x.due_on, x.action_chance_30d, x.plug_chance_year, o.open_orders
    FROM site s
    LEFT JOIN LATERAL (SELECT count(*)::int AS lines, min(t.due_on) AS due_on, max(t.action_chance_30d) AS action_chance_30d, max(t.plug_chance_year) AS plug_chance_year
                         FROM line l LEFT JOIN trend t ON t.line_id = l.id WHERE l.site_id = s.id AND l.archived_on IS NULL) x ON true
    LEFT JOIN LATERAL (SELECT count(*)::int AS open_orders FROM work_order w WHERE w.site_id = s.id AND w.state IN ('wanted', 'placed', 'under_way')) o ON true
   WHERE s.archived_on IS NULL;
