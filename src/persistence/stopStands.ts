/** Of a stop `st` on a route `r`: its crew began the order that day, also where the route was planned anew since. */
export const TRIED = `
  EXISTS (SELECT FROM attempt t JOIN stop ts ON ts.id = t.stop_id JOIN route tr ON tr.id = ts.route_id
           WHERE t.work_order_id = st.work_order_id AND tr.crew_id = r.crew_id AND tr.day = r.day)`;

/**
 * Whether a stop `st` still belongs to its route `r`: it is driven to, or was tried that day. What was taken off is
 * none of a live route's stops any more; a route that another replaced is read as it was.
 */
export const STANDS = `(st.live OR st.work_order_id IS NULL OR r.state <> 'live' OR ${TRIED})`;
