import type { LinesAsked } from '../../actions/reports/lineFilter.js';

const DAYS_A_YEAR = 365.25;

/** The query of the lines a question is about, with what they can be grouped by; its values go to the end of `values`. */
export function askedLines({ filter, today }: LinesAsked, values: unknown[]): string {
  const put = (value: unknown): string => `$${values.push(value)}`;
  const iron = 'coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l)';
  const parts = ['l.archived_on IS NULL', 's.archived_on IS NULL'];
  const add = <T>(value: T | undefined, part: (place: string) => string): void => {
    if (value !== undefined) parts.push(part(put(value)));
  };
  const laidBefore = (place: string) => `${put(today)}::date - round(${place}::float8 * ${DAYS_A_YEAR})::int`;
  add(filter.kind, (kind) => `l.kind = ${kind}`);
  add(filter.material, (material) => `l.main_material = ${material}`);
  add(filter.area, (area) => `s.area = ${area}`);
  add(filter.builder, (builder) => `s.builder = ${builder}`);
  add(filter.siteId, (site) => `l.site_id = ${site}`);
  add(filter.ironFrom, (iron_) => `${iron} >= ${iron_}`);
  add(filter.ironTo, (iron_) => `${iron} <= ${iron_}`);
  add(filter.ageFrom, (years) => `l.installed_on <= ${laidBefore(years)}`);
  add(filter.ageTo, (years) => `l.installed_on >= ${laidBefore(years)}`);
  add(
    filter.crewId,
    (crew) =>
      `(SELECT c.crew_id FROM clean c WHERE c.line_id = l.id AND c.withdrawn_at IS NULL ORDER BY c.cleaned_at DESC LIMIT 1) = ${crew}`,
  );
  add(
    filter.clientId,
    (client) =>
      `EXISTS (SELECT FROM site_client sc WHERE sc.site_id = l.site_id AND sc.client_id = ${client} AND coalesce(sc.from_day <= ${put(today)}::date, true) AND coalesce(sc.to_day > ${put(today)}::date, true))`,
  );
  return `SELECT l.id, l.site_id, l.system_id, l.name, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm, l.length_m, l.installed_on, ${iron} AS iron_mg_l,
       s.address, s.town, s.area, s.builder, s.basement
  FROM line l JOIN site s ON s.id = l.site_id WHERE ${parts.join(' AND ')}`;
}
