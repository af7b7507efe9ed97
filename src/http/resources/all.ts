import { z } from 'zod';
import { hinderedVisits } from '../../actions/desk/hinderedVisits.js';
import type { Row } from '../../actions/ports.js';
import { heedOutlet } from '../../actions/workLife/dischargePlans.js';
import { heedEpoch, heedLaid, heedLaidSection, refuseLaidMidway } from '../../actions/workLife/laidPipe.js';
import { heedDecision } from '../../actions/workLife/refusedWork.js';
import { addDays, type IsoDate } from '../../domain/calendar/isoDate.js';
import {
  ACCESS,
  ACCESS_POINT_KINDS,
  BASEMENTS,
  CONDITIONS,
  DECISION_KINDS,
  DEPOSITS,
  DIRECTIONS,
  DRAINS_TO,
  EPOCH_BEGINNINGS,
  EPOCH_CAUSES,
  KIT_KINDS,
  LIFE_FROM,
  LIFE_UNITS,
  LINE_KINDS,
  MATERIALS,
  NOTICE_UNITS,
  OUTLET_STATES,
  OUTLETS,
  PRECONDITION_KINDS,
  PRECONDITION_STATES,
  PUMP_DUTIES,
  REGIME_CAUSES,
  type Role,
  SYSTEM_KINDS,
  TASK_KINDS,
  TOLD_HOW,
  WEEKDAYS,
  YES_NO_UNKNOWN,
} from '../../domain/words.js';
import { hinderedVisit } from '../desk/hinderedShapes.js';
import * as f from '../fields.js';
import type { Resource } from '../resource.js';
import { day, id, oneLine, timeOfDay } from '../shapes.js';
import { refuseDaysAhead } from './callOuts.js';
import { refuseNoHolidays } from './listedHolidays.js';
import { refuseMerged, refuseToMerged } from './mergedClients.js';
import { preconditionFacts, refuseUnmet } from './metPreconditions.js';
import { refuseForeignLines, refuseForeignThings, refusePromise } from './onOneSite.js';
import {
  heedPump,
  pumpCurveField,
  rederiveOf,
  refuseCurve,
  refuseSize,
  withProductSize,
} from './pipesAndPumps.js';

const OFFICE: readonly Role[] = ['dispatcher', 'owner'];
const READERS: readonly Role[] = ['dispatcher', 'owner', 'integration'];
const BOOKS: readonly Role[] = ['dispatcher', 'owner', 'integration'];

const external = {
  source: f.line(60, { fixed: true }),
  externalRef: f.line(120, { fixed: true }),
};
const archivedOn = f.dayField();
const assumed = f.list(oneLine(40), 40);
const note = f.typed(4000);

export const clients: Resource = {
  name: 'client',
  table: 'client',
  path: 'clients',
  component: 'Client',
  about: 'Who pays. mergedIntoId: it was a double of that client, who has its sites now.',
  read: READERS,
  write: BOOKS,
  fields: {
    name: f.line(200, { required: true }),
    phone: f.phone(40),
    email: f.mailAddress(),
    language: { ...f.line(20), nullable: false, view: z.string() },
    note,
    ...external,
    archivedOn,
    mergedIntoId: f.ref({ readOnly: true }),
  },
  filters: ['externalRef', 'source'],
  sorts: ['name'],
  search: ['name', 'phone', 'email'],
  check: async (_stores, _row, old) => refuseMerged(old),
};

const contacts: Resource = {
  name: 'contact',
  table: 'contact',
  path: 'contacts',
  component: 'Contact',
  about:
    'A person with a role at a site or for a client, and what that person may consent to. optOut and noMail hold for the mail address: nobody else with it is mailed either.',
  read: READERS,
  siteColumn: 'site_id',
  write: BOOKS,
  fields: {
    clientId: f.ref(),
    siteId: f.ref(),
    name: f.line(200, { required: true }),
    role: { ...f.line(60), nullable: false, view: z.string() },
    phone: f.phone(40),
    email: f.mailAddress(),
    language: { ...f.line(20), nullable: false, view: z.string() },
    mayConsentTo: f.list(oneLine(60), 20),
    optOut: f.flag(),
    noMail: f.flag(),
    note,
    archivedOn,
  },
  filters: ['siteId', 'clientId', 'role'],
  sorts: ['name'],
  search: ['name', 'phone', 'email'],
  check: refuseToMerged,
};

const sites: Resource = {
  name: 'site',
  table: 'site',
  path: 'sites',
  component: 'Site',
  about: 'A building on the map, with access, hours when someone is or must be home, basement and water.',
  read: READERS,
  siteColumn: 'id',
  write: BOOKS,
  onMap: true,
  // Neighbours say more about a new house than its own first look: the area defaults to the town.
  complete: (row) => ({ ...row, area: row['area'] ?? row['town'] }),
  fields: {
    address: f.line(300, { required: true }),
    town: f.line(120, { required: true }),
    area: { ...f.line(120), nullable: false, view: z.string() },
    postalCode: f.line(20),
    latitude: f.number(-90, 90),
    longitude: f.number(-180, 180),
    access: f.word(ACCESS),
    accessNotes: f.typed(2000),
    hours: f.list(z.strictObject({ weekday: z.enum(WEEKDAYS), from: timeOfDay, to: timeOfDay }), 21),
    basement: f.word(BASEMENTS),
    tap: f.word(YES_NO_UNKNOWN),
    ferrousIron: f.quantity('iron', 'ferrous_iron_mg_l'),
    builder: f.line(200),
    builtOn: f.dayField({ past: true }),
    earlyVisitsOk: f.flag(),
    note,
    ...external,
    archivedOn,
  },
  filters: ['town', 'area', 'access', 'basement', 'builder', 'externalRef', 'source'],
  sorts: ['address', 'town', 'area'],
  search: ['address', 'town', 'postal_code'],
};

const siteClients: Resource = {
  name: 'site_client',
  table: 'site_client',
  clashes: true,
  path: 'site-clients',
  component: 'SiteClient',
  about: 'Whose a site is, from and to: houses are sold, history stays.',
  read: READERS,
  write: BOOKS,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    clientId: f.ref({ required: true, fixed: true }),
    fromDay: f.dayField(),
    toDay: f.dayField(),
  },
  filters: ['siteId', 'clientId'],
  check: refuseToMerged,
};

const careTerms: Resource = {
  name: 'care_terms',
  table: 'care_terms',
  path: 'care-terms',
  component: 'CareTerms',
  about: 'What the client signed up for on a site. No lineIds: all lines of the site.',
  read: READERS,
  write: BOOKS,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    lineIds: f.list(id, 100),
    intervalDays: f.integer(7, 3650),
    visitsPerYear: f.integer(1, 52),
    priceMinor: f.integer(0, 2_000_000_000),
    earlyVisitsPerYear: { ...f.integer(0, 52), nullable: false, view: z.number().int() },
    earlyPriceCapMinor: f.integer(0, 2_000_000_000),
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField(),
    note,
  },
  filters: ['siteId'],
  check: refuseForeignLines,
};

const systems: Resource = {
  name: 'system',
  table: 'system',
  freelyChanged: true,
  path: 'systems',
  component: 'DrainSystem',
  about: 'One pit with all that feeds it and its discharge, or a gravity line with its own outlet.',
  read: READERS,
  write: OFFICE,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    name: f.line(120, { required: true }),
    kind: { ...f.word(SYSTEM_KINDS), required: true },
    assumed,
    archivedOn,
  },
  filters: ['siteId', 'kind'],
};

const pits: Resource = {
  name: 'pit',
  table: 'pit',
  clashes: true,
  path: 'pits',
  component: 'Pit',
  about: 'Where lines meet; its discharge line, and when it was last tested.',
  read: READERS,
  siteColumn: 'site_id',
  write: OFFICE,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    systemId: f.ref({ required: true }),
    place: f.typed(300),
    diameter: f.quantity('pitSize', 'diameter_mm'),
    depth: f.quantity('pitSize', 'depth_mm'),
    inflow: f.quantity('flow', 'inflow_lps'),
    dischargeLineId: f.ref(),
    enterable: f.flag(),
    dueOn: f.dayField({ readOnly: true }),
    lastTestedOn: f.dayField({ readOnly: true }),
    assumed,
    archivedOn,
  },
  filters: ['siteId', 'systemId'],
  afterChange: (stores, row) =>
    rederiveOf(stores, row['discharge_line_id'] === null ? [] : [row['discharge_line_id']]),
};

const pumps: Resource = {
  name: 'pump',
  table: 'pump',
  path: 'pumps',
  component: 'Pump',
  about:
    'The pump in a pit: its curve as points of flow and head, head falling; one point is the duty point. And its float levels.',
  read: READERS,
  write: OFFICE,
  fields: {
    pitId: f.ref({ required: true, fixed: true }),
    duty: f.word(PUMP_DUTIES),
    power: f.quantity('power', 'power_w'),
    curve: pumpCurveField,
    floatOn: f.quantity('pitLevel', 'float_on_mm'),
    floatOff: f.quantity('pitLevel', 'float_off_mm'),
    checkValve: f.yesNo(),
    alarm: f.yesNo(),
    installedOn: f.dayField({ past: true }),
    removedOn: f.dayField({ past: true }),
    note,
  },
  filters: ['pitId'],
  check: async (_stores, row) => refuseCurve(row),
  afterCreate: heedPump,
  afterChange: heedPump,
};

export const lines: Resource = {
  name: 'line',
  table: 'line',
  path: 'lines',
  component: 'Line',
  about:
    'One buried run and what it drains to. Make and bore follow its sections. With `installedOn` it is taken to have been clean on that day, as long as nothing older was found in it: see its epochs.',
  read: READERS,
  siteColumn: 'site_id',
  write: OFFICE,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    systemId: f.ref({ required: true }),
    name: f.line(200, { required: true }),
    kind: { ...f.word(LINE_KINDS), required: true },
    drainsTo: f.word(DRAINS_TO),
    drainsToPitId: f.ref(),
    drainsToLineId: f.ref(),
    outlet: f.word(OUTLETS),
    outletState: f.maybeWord(OUTLET_STATES),
    outletOwner: f.line(200),
    receivingWater: f.line(200),
    dischargePermitRef: f.line(120),
    length: f.quantity('lineLength', 'length_m'),
    lift: f.quantity('lift', 'lift_m'),
    installedOn: f.dayField({ past: true }),
    ferrousIron: f.quantity('iron', 'ferrous_iron_mg_l'),
    perforated: f.yesNo(),
    wrapped: f.yesNo(),
    slotsBlocked: f.flag(),
    underSlab: f.flag(),
    staysWet: f.yesNo(),
    deposit: f.word(DEPOSITS),
    actionLimit: f.number(0.05, 0.95),
    plugLimit: f.number(0.5, 1),
    mainMaterial: { ...f.word(MATERIALS), readOnly: true },
    mainBore: f.quantity('bore', 'main_bore_mm', { readOnly: true }),
    assumed,
    unconfirmed: f.flag(),
    addedBy: f.line(200, { readOnly: true }),
    note,
    ...external,
    archivedOn,
  },
  filters: ['siteId', 'systemId', 'kind', 'outlet', 'mainMaterial', 'unconfirmed', 'externalRef', 'source'],
  sorts: ['name', 'kind'],
  search: ['name', 'external_ref'],
  check: refuseLaidMidway,
  afterCreate: (stores, row, today) => heedLaid(stores, String(row['id']), today),
  afterChange: async (stores, row, today, old) => {
    await rederiveOf(stores, [row['id']]);
    if (row['installed_on'] !== old['installed_on'])
      await heedLaid(stores, String(row['id']), today, old['installed_on']);
    await heedOutlet(stores, String(row['id']), null);
  },
};

const lineSections: Resource = {
  name: 'line_section',
  table: 'line_section',
  clashes: true,
  path: 'line-sections',
  component: 'LineSection',
  about:
    'A stretch of a line of one make. No from and to: the whole line. Sections do not overlap. A known product and nominal size give bore and material where they are left out.',
  read: READERS,
  write: OFFICE,
  fields: {
    lineId: f.ref({ required: true, fixed: true }),
    from: f.quantity('alongLine', 'from_m'),
    to: f.quantity('alongLine', 'to_m'),
    material: f.word(MATERIALS),
    bore: f.quantity('bore', 'bore_mm'),
    product: f.line(120),
    nominal: f.line(60),
    condition: f.word(CONDITIONS),
    slope: f.quantity('slope', 'slope'),
    installedOn: f.dayField({ past: true }),
    removedOn: f.dayField({ past: true }),
    assumed,
  },
  filters: ['lineId', 'material'],
  complete: withProductSize,
  check: async (_stores, row) => refuseSize(row),
  afterCreate: async (stores, row, today) => {
    await rederiveOf(stores, [row['line_id']]);
    await heedLaid(stores, String(row['line_id']), today);
  },
  afterChange: async (stores, row, today, old) => {
    await rederiveOf(stores, [row['line_id']]);
    await heedLaidSection(stores, row, today, old);
  },
};

export const accessPoints: Resource = {
  name: 'access_point',
  table: 'access_point',
  path: 'access-points',
  component: 'AccessPoint',
  about:
    'Where one can get in or look: place, which kit can enter, in which direction, and how to find it again.',
  read: READERS,
  siteColumn: 'site_id',
  write: OFFICE,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    lineId: f.ref(),
    pitId: f.ref(),
    kind: { ...f.word(ACCESS_POINT_KINDS), required: true },
    place: f.typed(500, { required: true }),
    distance: f.quantity('alongLine', 'distance_m'),
    distanceFrom: f.line(200),
    kitCanEnter: f.list(z.enum(KIT_KINDS), 20),
    direction: f.word(DIRECTIONS),
    unconfirmed: f.flag(),
    addedBy: f.line(200, { readOnly: true }),
    note,
    archivedOn,
  },
  filters: ['siteId', 'lineId', 'pitId', 'kind', 'unconfirmed'],
  check: refuseForeignThings,
};

const epochs: Resource = {
  name: 'epoch',
  table: 'epoch',
  freelyChanged: true,
  path: 'epochs',
  component: 'Epoch',
  about:
    'A trend belongs to a line and its epoch. A clean one opens by itself where a line is replaced from end to end, and where installedOn of a line, or of all its sections, says that it was laid within about three years before its first record.',
  read: READERS,
  write: OFFICE,
  fields: {
    lineId: f.ref({ required: true, fixed: true }),
    startedOn: f.dayField({ required: true, fixed: true, past: true }),
    begins: { ...f.word(EPOCH_BEGINNINGS), required: true },
    because: { ...f.word(EPOCH_CAUSES), required: true },
  },
  filters: ['lineId'],
  check: heedEpoch,
};

const regimeChanges: Resource = {
  name: 'regime_change',
  table: 'regime_change',
  path: 'regime-changes',
  component: 'RegimeChange',
  about:
    'A known change of how a line fouls: new pump, excavation, part replaced. Only a part replaced counts as a clean; otherwise what lies in the line stays.',
  read: READERS,
  write: OFFICE,
  fields: {
    lineId: f.ref({ required: true, fixed: true }),
    changedOn: f.dayField({ required: true, past: true }),
    cause: { ...f.word(REGIME_CAUSES), required: true },
    note,
  },
  filters: ['lineId'],
};

const depots: Resource = {
  name: 'depot',
  table: 'depot',
  freelyChanged: true,
  path: 'depots',
  component: 'Depot',
  about: 'Where crews start and end, take water and leave sludge.',
  read: READERS,
  write: OFFICE,
  onMap: true,
  fields: {
    name: f.line(120, { required: true }),
    latitude: f.number(-90, 90, { required: true }),
    longitude: f.number(-180, 180, { required: true }),
    water: f.flag(),
    disposal: f.flag(),
    archivedOn,
  },
  sorts: ['name'],
};

const crews: Resource = {
  name: 'crew',
  table: 'crew',
  path: 'crews',
  component: 'Crew',
  about: 'Who goes: people, depot, and what an hour costs.',
  read: [...READERS, 'technician'],
  write: OFFICE,
  fields: {
    name: f.line(120, { required: true }),
    depotId: f.ref({ required: true }),
    endDepotId: f.ref(),
    people: { ...f.integer(1, 12), nullable: false, view: z.number().int() },
    costPerHourMinor: f.integer(0, 10_000_000),
    ...external,
    archivedOn,
  },
  filters: ['depotId', 'externalRef', 'source'],
  sorts: ['name'],
};

const members: Resource = {
  name: 'member',
  table: 'member',
  freelyChanged: true,
  path: 'members',
  component: 'Member',
  about: 'A person of a crew.',
  read: OFFICE,
  write: OFFICE,
  fields: { name: f.line(200, { required: true }), phone: f.phone(40), email: f.mailAddress(), archivedOn },
  sorts: ['name'],
  search: ['name', 'phone'],
};

const crewMemberships: Resource = {
  name: 'crew_membership',
  table: 'crew_membership',
  clashes: true,
  path: 'crew-memberships',
  component: 'CrewMembership',
  about: 'Who is in which crew, from and to.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    crewId: f.ref({ required: true, fixed: true }),
    memberId: f.ref({ required: true, fixed: true }),
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField(),
  },
  filters: ['crewId', 'memberId'],
};

const kitItems: Resource = {
  name: 'kit_item',
  table: 'kit_item',
  path: 'kit-items',
  component: 'KitItem',
  about: 'A thing, not a word: the jetter with its reach, pressure, flow and tank.',
  read: READERS,
  write: OFFICE,
  fields: {
    name: f.line(120, { required: true }),
    kind: { ...f.word(KIT_KINDS), required: true },
    depotId: f.ref(),
    reach: f.quantity('reach', 'reach_m'),
    pressure: f.quantity('pressure', 'pressure_kpa'),
    flow: f.quantity('flow', 'flow_lps'),
    tank: f.quantity('water', 'tank_l'),
    waste: f.quantity('water', 'waste_l'),
    boreMin: f.quantity('bore', 'bore_min_mm'),
    boreMax: f.quantity('bore', 'bore_max_mm'),
    ...external,
    archivedOn,
  },
  filters: ['kind', 'depotId'],
  sorts: ['name', 'kind'],
};

const crewKit: Resource = {
  name: 'crew_kit',
  table: 'crew_kit',
  clashes: true,
  path: 'crew-kit',
  component: 'CrewKit',
  about: 'Which crew carries a kit item, from and to. An item of no crew is shared by its depot.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    crewId: f.ref({ required: true, fixed: true }),
    kitItemId: f.ref({ required: true, fixed: true }),
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField(),
  },
  filters: ['crewId', 'kitItemId'],
};

const shifts: Resource = {
  name: 'shift',
  table: 'shift',
  clashes: true,
  path: 'shifts',
  component: 'Shift',
  about: 'When a crew works on a weekday, local time of the business.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    crewId: f.ref({ required: true, fixed: true }),
    weekday: { ...f.word(WEEKDAYS), required: true },
    startsAt: f.time({ required: true }),
    endsAt: f.time({ required: true }),
    breakAfter: f.time(),
    breakMinutes: { ...f.integer(0, 240), nullable: false, view: z.number().int() },
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField(),
  },
  filters: ['crewId', 'weekday'],
};

/** What crews can no longer do where it stands, once this is on record. */
const hinderedBy = (daysOf: (row: Row) => [IsoDate, IsoDate]): NonNullable<Resource['tells']> => ({
  field: 'hinderedVisits',
  schema: z.array(hinderedVisit).describe('what crews cannot do any more where it stands, because of this'),
  of: (house, stores, row) => hinderedVisits(house, stores, ...daysOf(row), String(row['id'])),
});

const absences: Resource = {
  name: 'absence',
  table: 'absence',
  path: 'absences',
  component: 'Absence',
  about:
    'A crew (or so many of its people), a person or a kit item that is not there from a day to a day, both included; fromAt and backAt within the day.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    crewId: f.ref({ fixed: true }),
    memberId: f.ref({ fixed: true }),
    kitItemId: f.ref({ fixed: true }),
    people: f.integer(1, 12),
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField({ required: true }),
    fromAt: f.instantField(),
    backAt: f.instantField(),
    reason: f.typed(300, { required: true }),
    withdrawnAt: f.instantField(),
  },
  filters: ['crewId', 'memberId', 'kitItemId', 'fromDay', 'toDay'],
  tells: hinderedBy((row) => [String(row['from_day']), String(row['to_day'])]),
};

const onCallTurns: Resource = {
  name: 'on_call_turn',
  table: 'on_call_turn',
  clashes: true,
  path: 'on-call-turns',
  component: 'OnCallTurn',
  about: 'Who takes emergencies out of hours, from and to; turn 1 is called first.',
  read: [...OFFICE, 'technician'],
  write: OFFICE,
  fields: {
    memberId: f.ref({ required: true, fixed: true }),
    fromAt: { ...f.instantField({ required: true }), nullable: false },
    toAt: { ...f.instantField({ required: true }), nullable: false },
    turn: { ...f.integer(1, 9), nullable: false, view: z.number().int() },
    note,
  },
  filters: ['memberId', 'fromAt', 'toAt'],
  sorts: ['fromAt'],
};

const callOuts: Resource = {
  name: 'call_out',
  table: 'call_out',
  clashes: true,
  path: 'call-outs',
  component: 'CallOut',
  about:
    'A person was called out, and came back. With the order it is theirs to see and to work on (GET /v1/own-call-outs), whatever the routes say. Who came back late rests before the next shift (setting calls.restHours): the crew starts later.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    memberId: f.ref({ required: true, fixed: true }),
    workOrderId: f.ref(),
    calledAt: { ...f.instantField({ required: true }), nullable: false },
    backAt: f.instantField(),
    note,
  },
  filters: ['memberId', 'workOrderId', 'calledAt'],
  sorts: ['calledAt'],
  check: async (_stores, row, _old, today) => refuseDaysAhead(row, today),
  // Rest runs into the next shift, three days on at the most.
  tells: hinderedBy((row) => {
    const day = String(row['called_at']).slice(0, 10);
    return [day, addDays(day, 3)];
  }),
};

const closedSeasons: Resource = {
  name: 'closed_season',
  table: 'closed_season',
  path: 'closed-seasons',
  component: 'ClosedSeason',
  about: 'Winter or rain: kinds of task that are not done from a depot (or any) between two days.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    depotId: f.ref(),
    tasks: { ...f.list(z.enum(TASK_KINDS), 20), required: true },
    outsideOnly: f.flag(),
    fromDay: f.dayField({ required: true }),
    toDay: f.dayField({ required: true }),
    reason: f.typed(300, { required: true }),
    withdrawnAt: f.instantField(),
  },
  filters: ['depotId', 'fromDay', 'toDay'],
  tells: hinderedBy((row) => [String(row['from_day']), String(row['to_day'])]),
};

const holidays: Resource = {
  name: 'holiday',
  table: 'holiday',
  freelyChanged: true,
  clashes: true,
  path: 'holidays',
  component: 'Holiday',
  about:
    'A day on which no crew of the business works. Holidays that a one-call law names stand in its locate rule.',
  read: READERS,
  write: OFFICE,
  fields: {
    day: f.dayField({ required: true }),
    name: f.line(120, { required: true }),
    archivedOn,
  },
  filters: ['day'],
  sorts: ['day'],
  tells: hinderedBy((row) => [String(row['day']), String(row['day'])]),
};

const decisions: Resource = {
  name: 'decision',
  table: 'decision',
  path: 'decisions',
  component: 'Decision',
  about:
    'A client refuses or postpones: of what, who, which risk was told, until when. The night respects it.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    siteId: f.ref({ required: true, fixed: true }),
    lineIds: f.list(id, 100),
    task: f.maybeWord(TASK_KINDS),
    kind: { ...f.word(DECISION_KINDS), required: true },
    decidedBy: f.line(200, { required: true }),
    decidedOn: f.dayField({ required: true, past: true }),
    riskTold: f.typed(2000, { required: true }),
    untilDay: f.dayField(),
    endedOn: f.dayField({ past: true }),
    note,
  },
  filters: ['siteId', 'kind'],
  check: refuseForeignLines,
  afterCreate: heedDecision,
  afterChange: heedDecision,
};

const locateRules: Resource = {
  name: 'locate_rule',
  table: 'locate_rule',
  path: 'locate-rules',
  component: 'LocateRule',
  about:
    "How a state's one-call law counts notice and life of a ticket. Used once the owner confirmed it against local law; private lines are usually not marked.",
  read: READERS,
  write: ['owner'],
  fields: {
    name: f.line(120, { required: true }),
    notice: f.integer(0, 1000, { required: true }),
    noticeUnit: { ...f.word(NOTICE_UNITS), required: true },
    callDayCounts: f.flag(),
    life: f.integer(1, 1000),
    lifeUnit: f.maybeWord(LIFE_UNITS),
    lifeFrom: f.word(LIFE_FROM),
    lifeCountsFirst: f.flag(),
    startWithinDays: f.integer(1, 365),
    startWithinUnit: f.word(LIFE_UNITS),
    handDig: f.quantity('handDig', 'hand_dig_mm'),
    holidays: f.list(day, 100),
    source: f.typed(300, { required: true }),
    confirmedBy: f.line(200),
    confirmedOn: f.dayField(),
    archivedOn,
  },
  check: async (_stores, row) => refuseNoHolidays(row),
};

const preconditions: Resource = {
  name: 'precondition',
  table: 'precondition',
  path: 'preconditions',
  component: 'Precondition',
  about:
    'What must be true before a crew goes: locate ticket, consent, quote, discharge plan, someone home, parts. A locate ticket and a discharge plan are met by their own operations; the owner waives others, with the facts because and waivedBy, never a locate ticket.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    workOrderId: f.ref({ required: true, fixed: true }),
    kind: { ...f.word(PRECONDITION_KINDS), required: true, fixed: true },
    state: f.word(PRECONDITION_STATES),
    facts: preconditionFacts,
    validFrom: f.dayField(),
    validTo: f.dayField(),
    metAt: f.instantField(),
    metBy: f.line(200),
  },
  filters: ['workOrderId', 'kind', 'state'],
  check: async (_stores, row, old, _today, actor) => refuseUnmet(row, old, actor.roles),
};

const promises: Resource = {
  name: 'promise',
  table: 'promise',
  path: 'promises',
  component: 'Promise',
  about:
    'A day and hours told to a client: to whom, when, by whom and how. Routes keep it; moving it costs, and somebody must phone.',
  read: OFFICE,
  write: OFFICE,
  fields: {
    workOrderId: f.ref({ required: true, fixed: true }),
    day: f.dayField({ required: true }),
    fromTime: f.time(),
    toTime: f.time(),
    toldTo: f.line(200),
    toldAt: { ...f.instantField(), nullable: false },
    toldBy: { ...f.line(200, { readOnly: true }), view: z.string() },
    toldHow: f.word(TOLD_HOW),
    endedAt: f.instantField(),
    endedBecause: f.typed(500),
  },
  filters: ['workOrderId', 'day'],
  sorts: ['day'],
  check: refusePromise,
  // Wherever it stands: also on another day than the one told.
  tells: hinderedBy(() => ['0001-01-01', '9999-12-31']),
};

/** In an order in which each refers only to those before it: so that exported lists can be brought in one by one. */
export const RESOURCES: readonly Resource[] = [
  clients,
  sites,
  siteClients,
  contacts,
  careTerms,
  systems,
  pits,
  pumps,
  lines,
  lineSections,
  accessPoints,
  epochs,
  regimeChanges,
  depots,
  crews,
  members,
  crewMemberships,
  kitItems,
  crewKit,
  shifts,
  absences,
  onCallTurns,
  callOuts,
  closedSeasons,
  holidays,
  decisions,
  locateRules,
  preconditions,
  promises,
];
