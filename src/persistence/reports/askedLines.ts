import type { LineFilter, LinesAsked } from '../../actions/reports/lineFilter.js';

const DAYS_A_YEAR = 365.25;

type Put = (value: unknown) => string;
type Parts = { [Name in keyof LineFilter]?: (place: string) => string };

const IRON = 'coalesce(l.ferrous_iron_mg_l, s.ferrous_iron_mg_l)';

/** The query of the lines a question is about, with what they can be grouped by; its values go to the end of `values`. */
export function askedLines(asked: LinesAsked, values: unknown[]): string {
  const put: Put = (value) => `$${values.push(value)}`;
  const parts = [
    inService('l', asked, put),
    inService('s', asked, put),
    ...partsOf(lineParts(asked, put), asked.filter, put),
    ...partsOf(siteParts(asked, put), asked.filter, put),
  ];
  return `SELECT l.id, l.site_id, l.system_id, l.name, l.kind, l.main_material AS material, l.main_bore_mm AS bore_mm, l.length_m, l.installed_on, ${IRON} AS iron_mg_l,
       least(l.archived_on, s.archived_on) AS archived_on, s.address, s.town, s.area, s.builder, s.basement
  FROM line l JOIN site s ON s.id = l.site_id WHERE ${parts.join(' AND ')}`;
}

/**
 * The query of the sites whose work counts whatever line or pit it was on, archived since or not: those that fit, as
 * long as nothing was asked of their lines; else none.
 */
export function wholeSites(asked: LinesAsked, values: unknown[]): string {
  const put: Put = (value) => `$${values.push(value)}`;
  const ofLines = Object.keys(lineParts(asked, put)) as (keyof LineFilter)[];
  if (ofLines.some((name) => asked.filter[name] !== undefined)) return 'SELECT NULL::uuid AS id WHERE false';
  const parts = partsOf(siteParts(asked, put), asked.filter, put);
  return `SELECT s.id FROM site s WHERE ${['true', ...parts].join(' AND ')}`;
}

/** What was in service at any time since the first day asked about. */
const inService = (table: string, { archivedSince }: LinesAsked, put: Put): string =>
  archivedSince === undefined
    ? `${table}.archived_on IS NULL`
    : `coalesce(${table}.archived_on >= ${put(archivedSince)}::date, true)`;

function partsOf(parts: Parts, filter: LineFilter, put: Put): string[] {
  return (Object.keys(parts) as (keyof LineFilter)[]).flatMap((name) =>
    filter[name] === undefined ? [] : (parts[name]?.(put(filter[name])) ?? []),
  );
}

function lineParts({ today }: LinesAsked, put: Put): Parts {
  const laidBefore = (place: string) => `${put(today)}::date - round(${place}::float8 * ${DAYS_A_YEAR})::int`;
  return {
    kind: (kind) => `l.kind = ${kind}`,
    material: (material) => `l.main_material = ${material}`,
    ironFrom: (iron) => `${IRON} >= ${iron}`,
    ironTo: (iron) => `${IRON} <= ${iron}`,
    ageFrom: (years) => `l.installed_on <= ${laidBefore(years)}`,
    ageTo: (years) => `l.installed_on >= ${laidBefore(years)}`,
    crewId: (crew) =>
      `(SELECT c.crew_id FROM clean c WHERE c.line_id = l.id AND c.withdrawn_at IS NULL ORDER BY c.cleaned_at DESC LIMIT 1) = ${crew}`,
  };
}

function siteParts({ today }: LinesAsked, put: Put): Parts {
  return {
    area: (area) => `s.area = ${area}`,
    town: (town) => `s.town = ${town}`,
    builder: (builder) => `s.builder = ${builder}`,
    siteId: (site) => `s.id = ${site}`,
    clientId: (client) =>
      `EXISTS (SELECT FROM site_client sc WHERE sc.site_id = s.id AND sc.client_id = ${client} AND coalesce(sc.from_day <= ${put(today)}::date, true) AND coalesce(sc.to_day > ${put(today)}::date, true))`,
  };
}
