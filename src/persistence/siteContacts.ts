/**
 * Whom to reach about a site, as rows of name, role, phone and language: its own contacts; where none of them has a
 * telephone, also those of its present client, and the client itself, whose number is all that many books hold.
 *
 * @param site     Expression for the site's id.
 * @param phonable Only those with a telephone who did not opt out.
 */
export const siteContacts = (site: string, { phonable }: { phonable: boolean }): string => `
  SELECT k.name, k.role, k.phone, k.language FROM contact k WHERE k.site_id = ${site} AND k.archived_on IS NULL${phonable ? ' AND k.phone IS NOT NULL AND NOT k.opt_out' : ''}
  UNION ALL
  SELECT n.name, n.role, n.phone, n.language FROM site_client x
    JOIN LATERAL (SELECT k.name, k.role, k.phone, k.language FROM contact k
                   WHERE k.client_id = x.client_id AND k.site_id IS NULL AND k.phone IS NOT NULL AND NOT k.opt_out AND k.archived_on IS NULL
                  UNION ALL SELECT c.name, 'client', c.phone, c.language FROM client c
                   WHERE c.id = x.client_id AND c.phone IS NOT NULL AND NOT EXISTS (SELECT FROM contact k WHERE k.client_id = c.id AND k.phone = c.phone)) n ON true
   WHERE x.site_id = ${site} AND (x.from_day IS NULL OR x.from_day <= current_date) AND (x.to_day IS NULL OR x.to_day > current_date)
     AND NOT EXISTS (SELECT FROM contact k WHERE k.site_id = ${site} AND k.phone IS NOT NULL AND NOT k.opt_out AND k.archived_on IS NULL)`;
