/** The locate ticket that an order `o` digs on, its own or that of the dig it is a part of; null: none was called. */
export const LOCATE_TICKET = `
  (SELECT jsonb_build_object('id', t.id, 'number', t.number, 'digFrom', t.dig_from, 'firstDay', t.first_day, 'lastDay', t.last_day,
                             'beginBy', CASE WHEN t.work_order_id = o.id THEN t.begin_by END, 'goodTo', p.valid_to, 'handDigMm', r.hand_dig_mm,
                             'marksSeenAt', t.marks_seen_at, 'utilities', t.utilities, 'open', p.facts->>'open')
     FROM precondition p JOIN locate_ticket t ON t.id::text = p.facts->>'ticketId' JOIN locate_rule r ON r.id = t.rule_id
    WHERE p.work_order_id = o.id AND p.kind = 'locate_ticket' ORDER BY t.called_at DESC LIMIT 1)`;

/** Kinds of what an order `o` still waits for. */
export const WAITS_FOR = `
  ARRAY(SELECT p.kind FROM precondition p WHERE p.work_order_id = o.id AND p.state = 'open' ORDER BY p.kind)`;
