import { describe, expect, test } from 'vitest';
import { type ClientBaseFiles, readClientBase } from '../../src/files/clientBase.js';
import type { ReadingOptions } from '../../src/files/clientBaseReading.js';
import { faultText } from '../../src/files/csvFault.js';
import { csvFromBytes, csvFromPath, csvFromStream, csvFromText } from '../../src/files/csvSource.js';

const AS_OF = '2026-09-30';
const SITE_HEAD = 'site_id,client,address,town,latitude,longitude,access\n';
const SITES = `${SITE_HEAD}S1,Client 1,1 Marsh Gate,Brindle Mill,44.6,-90.3,anytime\n`;
const LINE_HEAD =
  'line_id,site_id,kind,material,inside_diameter_mm,length_m,installed_on,ferrous_iron_mg_l,threshold';
const LINES = `${LINE_HEAD}\nL1,S1,footing_drain,pvc,100,20,2024-01-01,,0.45\n`;
const HEAD = 'line_id,observed_at,phase,method,occlusion,plugged\n';
const GOOD = 'L1,2025-08-27T05:48:08Z,before_cleaning,camera,0.25,0\n';
const CREW_HEAD = 'crew_id,name,depot,depot_latitude,depot_longitude,kit,shift_start,shift_end,weekdays\n';
const CREWS = `${CREW_HEAD}C1,Heron,North yard,44.8,-90.2,hose;jetter,7:30,16:00,mon;tue\n`;

type Texts = { [K in keyof ClientBaseFiles]: string };

function sources(texts: Texts): ClientBaseFiles {
  const entries = Object.entries(texts).map(([name, text]) => [name, csvFromText(`${name}.csv`, text)]);
  return Object.fromEntries(entries);
}

const read = (texts: Texts, options?: ReadingOptions) => readClientBase(sources(texts), AS_OF, options);

async function baseOf(texts: Texts) {
  const got = await read(texts);
  if ('faults' in got) throw new Error(got.faults.map(faultText).join('\n'));
  return got;
}

async function faultsOf(texts: Texts) {
  const got = await read(texts);
  return 'faults' in got ? got.faults : [];
}

const withReadings = (rows: string): Texts => ({ sites: SITES, lines: LINES, readings: HEAD + rows });

test('a full file set becomes typed rows', async () => {
  const { base, remarks } = await baseOf({ ...withReadings(GOOD), crews: CREWS });
  expect(remarks).toEqual([]);
  expect(base.sites[0]).toMatchObject({ siteId: 'S1', area: 'Brindle Mill', basement: 'unknown' });
  expect(base.lines[0]).toMatchObject({ boreMm: 100, ferrousIronMgL: null, drainsTo: null });
  expect(base.readings[0]).toMatchObject({ lineId: 'L1', occlusion: 0.25, plugged: false, method: 'camera' });
  expect(base.crews[0]).toMatchObject({ kit: ['hose', 'jetter'], shiftStart: '07:30', people: 2 });
});

test('a name that breaks its line or turns it round is named by line and column; a note may have lines', async () => {
  const head = 'site_id,client,address,town,latitude,longitude,access,access_notes\n';
  const rows = [
    'S1,"Client\n1",1 Marsh Gate,Brindle Mill,44.6,-90.3,anytime,"gate left\nof the barn"',
    'S2,Client 2,2 Marsh \u202eGate,Brindle Mill,44.6,-90.3,anytime,',
  ];
  const faults = await faultsOf({ sites: `${head}${rows.join('\n')}\n`, lines: LINES });
  expect(faults).toMatchObject([
    { file: 'sites.csv', line: 2, column: 'client', problem: 'a line break (U+000A) at character 7' },
    { file: 'sites.csv', line: 5, column: 'address' },
  ]);
  expect(faults[1]?.problem).toContain('a direction mark');
});

test('facts nobody knows are empty or the word unknown', async () => {
  const { base } = await baseOf({
    sites: SITES,
    lines: `${LINE_HEAD},perforated\nL1,S1,footing_drain,unknown,unknown,,unknown,,,unknown\n`,
  });
  expect(base.lines[0]).toMatchObject({
    material: 'unknown',
    boreMm: null,
    lengthM: null,
    installedOn: null,
    threshold: null,
    perforated: null,
  });
});

test('columns whose cells may be empty may be left out', async () => {
  const { base } = await baseOf({
    sites: SITES,
    lines: 'line_id,site_id,kind\nL1,S1,footing_drain\n',
    readings: 'line_id,observed_at,phase,plugged\nL1,2025-08-27,before_cleaning,1\n',
  });
  expect(base.lines[0]).toMatchObject({ material: 'unknown', ferrousIronMgL: null, threshold: null });
  expect(base.readings[0]).toMatchObject({ plugged: true, method: null });
});

describe('thin books', () => {
  test('client, address and last clean are enough; the derived id stays the same in every import', async () => {
    const first = await baseOf({ sites: 'client,address,last_cleaned\nClient 1,1 Marsh Gate,2026-03-01\n' });
    const later = await baseOf({ sites: 'address,client,town\n1  MARSH gate,Client 1,Brindle Mill\n' });
    expect(first.base.sites[0]).toMatchObject({ town: 'unknown', lastCleaned: '2026-03-01', latitude: null });
    expect(later.base.sites[0]?.siteId).toBe(first.base.sites[0]?.siteId);
  });

  test('the same client at the same address twice is one too many', async () => {
    const [fault] = await faultsOf({
      sites: 'client,address\nClient 1,1 Marsh Gate\nclient 1,1 Marsh Gate\n',
    });
    expect(fault).toMatchObject({ line: 3, column: 'address' });
    expect(fault?.problem).toContain('line 2 has the same client and address');
  });
});

test.each([
  ['above 1', GOOD.replace('0.25', '1.4'), 'occlusion', 'is above 1'],
  ['in percent', GOOD.replace('0.25', '25'), 'occlusion', 'is above 1'],
  ['below 0', GOOD.replace('0.25', '-0.1'), 'occlusion', 'is below 0'],
  ['in words', GOOD.replace('0.25', 'half'), 'occlusion', 'no number'],
  ['in the future', GOOD.replace('2025-08-27', '2026-10-27'), 'observed_at', 'lies after today'],
  [
    'on no day of the calendar',
    GOOD.replace('2025-08-27', '2025-02-30'),
    'observed_at',
    'no day of the calendar',
  ],
  ['by a time without a zone', GOOD.replace('08Z', '08'), 'observed_at', 'no instant'],
  [
    'by a day in another order',
    GOOD.replace('2025-08-27T05:48:08Z', '27/08/2025'),
    'observed_at',
    'no instant',
  ],
  ['of a line that is not there', GOOD.replace('L1', 'L9'), 'line_id', 'no such line'],
  ['of no method we know', GOOD.replace('camera', 'sonar'), 'method', 'not one of the known words'],
  ['of no phase we know', GOOD.replace('before_', 'while_'), 'phase', 'not one of the known words'],
  ['plugged with an occlusion', GOOD.replace(',0\n', ',1\n'), 'occlusion', 'a plugged line has no occlusion'],
  ['without its method', GOOD.replace('camera', ''), 'method', 'an occlusion without its method'],
  ['without its occlusion', GOOD.replace('0.25', ''), 'occlusion', 'a method without its occlusion'],
  ['that says nothing', 'L1,2025-08-27,no_cleaning,,,0\n', 'occlusion', 'no reading'],
  ['not saying whether plugged', GOOD.replace(',0\n', ',\n'), 'plugged', 'empty'],
  ["with a spreadsheet's error", GOOD.replace('0.25', '#REF!'), 'occlusion', "a spreadsheet's error"],
])('a reading %s is refused by line, column and remedy', async (_name, row, column, problem) => {
  const faults = await faultsOf(withReadings(GOOD + row));
  expect(faults.length).toBeGreaterThan(0);
  expect(faults[0]).toMatchObject({ file: 'readings.csv', line: 3, column });
  expect(faults[0]?.problem).toContain(problem);
  expect(faults[0]?.remedy.length).toBeGreaterThan(5);
});

test('a decimal comma is told with the number as it should be', async () => {
  const [fault] = await faultsOf(withReadings(GOOD.replace('0.25', '"0,25"')));
  expect(fault?.remedy).toContain('write 0.25');
});

test('a fault reads as one line', async () => {
  const [fault] = await faultsOf(withReadings(GOOD.replace('0.25', '1.4')));
  expect(fault && faultText(fault)).toBe(
    'readings.csv line 2, occlusion "1.4": is above 1; the blocked share of the bore, from 0 to 1; a percentage divided by 100',
  );
});

test('cleaned and nothing measured is a reading row all the same; a bare day counts as its noon', async () => {
  const { base } = await baseOf(withReadings('L1,2025-08-27,before_cleaning,,,0\n'));
  expect(base.readings[0]).toMatchObject({
    method: null,
    occlusion: null,
    observedAt: '2025-08-27T12:00:00.000Z',
  });
});

test('an offset is brought to UTC: 08:30 six hours behind is 14:30', async () => {
  const { base } = await baseOf(
    withReadings(GOOD.replace('2025-08-27T05:48:08Z', '2025-08-27T08:30:00-06:00')),
  );
  expect(base.readings[0]?.observedAt).toBe('2025-08-27T14:30:00.000Z');
});

test.each(['+99:99', '+14:30', '-12:01', '+05:60'])(
  'an offset from UTC that nobody keeps: %s',
  async (offset) => {
    const [fault, ...more] = await faultsOf(
      withReadings(GOOD.replace('2025-08-27T05:48:08Z', `2025-08-27T05:48:08${offset}`)),
    );
    expect(more).toEqual([]);
    expect(fault).toMatchObject({ line: 2, column: 'observed_at' });
    expect(fault?.problem).toContain(`no zone is ${offset} from UTC`);
    expect(fault?.remedy).toContain('-12:00 to +14:00');
  },
);

test('today is today everywhere on earth, unless the end of the day is given', async () => {
  const evening = withReadings(GOOD.replace('2025-08-27T05:48:08Z', '2026-09-30T20:00:00-10:00'));
  await baseOf(evening);
  const got = await read(evening, { asOfEndsAtMs: Date.parse('2026-10-01T05:00:00Z') });
  expect('faults' in got && got.faults[0]?.problem).toContain('lies after today');
});

test('the same line, instant, phase and method twice is a doubled reading', async () => {
  const other = GOOD.replace('camera', 'outlet_look');
  const [fault, ...more] = await faultsOf(withReadings(GOOD + other + GOOD.replace('0.25', '0.3')));
  expect(more).toEqual([]);
  expect(fault).toMatchObject({ line: 4, column: 'observed_at' });
  expect(fault?.problem).toContain('line 2 has the same');
});

test('a reading from before the pipe was laid is kept and remarked on', async () => {
  const { base, remarks } = await baseOf(withReadings(GOOD.replace('2025-08-27', '2023-08-27')));
  expect(base.readings).toHaveLength(1);
  expect(remarks[0]).toMatchObject({ file: 'readings.csv', line: 2 });
  expect(remarks[0]?.text).toContain('2024-01-01');
});

test('readings need their lines file', async () => {
  const faults = await faultsOf({ sites: SITES, readings: HEAD + GOOD });
  expect(faults.map((fault) => fault.problem)).toEqual(['readings without a lines file']);
});

test('lines and readings alone will do for a forecast: their sites may be any', async () => {
  const { base } = await baseOf({ lines: LINES, readings: HEAD + GOOD });
  expect(base.lines).toHaveLength(1);
});

test.each([
  ['readings', 'line_id,date,phase,plugged\n', 'observed_at', 'rename date to observed_at'],
  ['lines', 'line_id,site_id,type\n', 'kind', 'rename type to kind'],
  ['lines', 'line_id,site_id,kind,diameter\n', 'diameter', 'name it inside_diameter_mm'],
  ['lines', 'line_id,site_id,kind,iron\n', 'iron', 'name it ferrous_iron_mg_l'],
  ['sites', 'customer,address\n', 'client', 'rename customer to client'],
  ['sites', 'client,address,zip\n', 'zip', 'name it postal_code'],
  ['crews', CREW_HEAD.replace('kit', 'equipment'), 'kit', 'rename equipment to kit'],
])('%s.csv with %j: our name for the column is told', async (file, head, column, remedy) => {
  const faults = await faultsOf({ ...withReadings(GOOD), crews: CREWS, [file]: head });
  const fault = faults.find((each) => each.file === `${file}.csv` && each.column === column);
  expect(fault?.remedy).toContain(remedy);
});

test('sites that are not on the map are told once, with what follows', async () => {
  const bare = 'S2,Client 2,2 Marsh Gate,Brindle Mill,,,\nS3,Client 3,3 Marsh Gate,Brindle Mill,,,\n';
  const { remarks } = await baseOf({ sites: SITES + bare });
  expect(remarks).toEqual([
    {
      file: 'sites.csv',
      line: 3,
      text: 'without latitude and longitude: 2 of 3 sites; routes take them to stand in the middle of the other sites of their area, else at the depots',
    },
  ]);
  const none = await baseOf({ sites: SITE_HEAD + bare });
  expect(none.remarks[0]?.text).toContain('2 of 2 sites');
});

describe('what refers to what', () => {
  test('a line of an unknown site, a reading by an unknown crew', async () => {
    const readings = `${HEAD.trim()},crew_id\n${GOOD.trim()},C7\n`;
    const lines = LINES.replace('S1', 'S9');
    const faults = await faultsOf({ sites: SITES, lines, readings, crews: CREWS });
    expect(faults.map(({ file, column, value }) => [file, column, value])).toEqual([
      ['lines.csv', 'site_id', 'S9'],
      ['readings.csv', 'crew_id', 'C7'],
    ]);
  });

  test('one bad cell is one fault, not one more for every row that refers to its row', async () => {
    const faults = await faultsOf({ ...withReadings(GOOD), lines: LINES.replace('pvc', 'gold') });
    expect(faults.map(({ file, column }) => [file, column])).toEqual([['lines.csv', 'material']]);
  });

  test('a file that could not be read makes nothing else look wrong', async () => {
    const faults = await faultsOf({ ...withReadings(GOOD), lines: 'line_id,site_id\nL1,S1\n' });
    expect(new Set(faults.map((fault) => fault.file))).toEqual(new Set(['lines.csv']));
  });

  test('a doubled id names both lines of the file', async () => {
    const [fault] = await faultsOf({ sites: SITES, lines: `${LINES}L1,S1,floor_drain,pvc,100,5,,,0.45\n` });
    expect(fault).toMatchObject({ line: 3, column: 'line_id', value: 'L1' });
    expect(fault?.problem).toContain('line 2 has it too');
  });
});

describe('what drains to what', () => {
  const line = (id: string, site: string, to: string) => `${id},${site},footing_drain,pvc,100,20,,,,${to}\n`;
  const sites = `${SITES}S2,Client 2,2 Marsh Gate,Brindle Mill,,,\n`;
  const lines = (...rows: string[]) => ({ sites, lines: `${LINE_HEAD},drains_to\n${rows.join('')}` });

  test('a chain to the pit is good', async () => {
    const { base } = await baseOf(
      lines(line('A', 'S1', 'B'), line('B', 'S1', 'pit'), line('C', 'S1', 'outlet')),
    );
    expect(base.lines.map((each) => each.drainsTo)).toEqual(['B', 'pit', 'outlet']);
  });

  test('a circle is told once, with its way round', async () => {
    const faults = await faultsOf(lines(line('A', 'S1', 'B'), line('B', 'S1', 'C'), line('C', 'S1', 'B')));
    expect(faults).toHaveLength(1);
    expect(faults[0]).toMatchObject({ line: 3, column: 'drains_to', value: 'C' });
    expect(faults[0]?.problem).toContain('circle: B → C → B');
  });

  test('a discharge into a line that drains to its own pit is a circle through the pit', async () => {
    const faults = await faultsOf(
      lines(line('A1', 'S1', 'A2').replace('footing_drain', 'sump_discharge'), line('A2', 'S1', 'pit')),
    );
    expect(faults.map(faultText)).toEqual([
      'lines.csv line 2, drains_to "A2": the water runs in a circle: A1 → A2 → pit → A1; let one of these lines drain to outlet',
    ]);
  });

  test('the pit of another site closes no circle', async () => {
    await baseOf(
      lines(line('A1', 'S2', '').replace('footing_drain', 'sump_discharge'), line('A2', 'S1', 'pit')),
    );
  });

  test('a line that drains to itself is a circle', async () => {
    const [fault] = await faultsOf(lines(line('A', 'S1', 'A')));
    expect(fault?.problem).toContain('A → A');
  });

  test('a line of another site, and a line that is not there', async () => {
    const faults = await faultsOf(lines(line('A', 'S1', 'B'), line('B', 'S2', 'Z')));
    expect(faults.map((fault) => [fault.line, fault.problem])).toEqual([
      [2, 'a line of another site, S2'],
      [3, 'no such line'],
    ]);
  });

  test('a very long chain ends in time', async () => {
    const rows = Array.from({ length: 5000 }, (_, at) =>
      line(`N${at}`, 'S1', at === 4999 ? 'pit' : `N${at + 1}`),
    );
    await baseOf(lines(...rows));
  });
});

describe('crews', () => {
  const withBreak = (cells: string) =>
    CREWS.replace('weekdays\n', 'weekdays,break_after,break_minutes\n').replace('tue\n', `tue,${cells}\n`);

  test('a break has its time and its minutes; without the columns there is none', async () => {
    const { base } = await baseOf({ sites: SITES, crews: withBreak('12:00,30') });
    expect(base.crews[0]).toMatchObject({ breakAfter: '12:00', breakMinutes: 30 });
    const without = await baseOf({ sites: SITES, crews: CREWS });
    expect(without.base.crews[0]).toMatchObject({ breakAfter: null, breakMinutes: 0 });
  });

  test.each([
    ['an unknown kit', CREWS.replace('jetter', 'helicopter'), 'kit', '"helicopter"'],
    ['no weekday', CREWS.replace('mon;tue', ''), 'weekdays', 'empty'],
    ['a shift that ends before it starts', CREWS.replace('16:00', '06:00'), 'shift_end', 'ends before'],
    ['a break without its time', withBreak(',30'), 'break_after', 'without its time'],
    ['a break without its length', withBreak('12:00,'), 'break_minutes', 'without its length'],
    ['a break outside the shift', withBreak('16:00,30'), 'break_after', 'outside the shift'],
    ['no time of day', CREWS.replace('16:00', '4pm'), 'shift_end', 'no time of day'],
    [
      'a depot in two places',
      `${CREWS}C2,Plover,North yard,44.9,-90.2,hose,07:00,15:00,mon\n`,
      'depot',
      'line 2',
    ],
  ])('%s is refused', async (_name, crews, column, problem) => {
    const [fault] = await faultsOf({ sites: SITES, crews });
    expect(fault?.column).toBe(column);
    expect(fault?.problem).toContain(problem);
  });
});

test('half a place, a built day in the future', async () => {
  const faults = await faultsOf({
    sites: `${SITE_HEAD.trim()},built_on\nS1,Client 1,1 Marsh Gate,,44.6,,,2027-01-01\n`,
  });
  expect(faults.map((fault) => fault.column)).toEqual(['longitude', 'built_on']);
});

test('all faults are counted, the first ones told', async () => {
  const rows = Array.from({ length: 500 }, (_, at) => `L1,2025-01-01T00:00:${at % 60}Z,x,camera,0.1,0\n`);
  const got = await read(withReadings(rows.join('')), { shownFaults: 20 });
  if (!('faults' in got)) throw new Error('500 bad rows were accepted');
  expect(got.faults).toHaveLength(20);
  expect(got.total).toBeGreaterThanOrEqual(500);
});

test('from a path or a stream; a file that is not there, or a folder, is a fault of its own', async () => {
  const stream = csvFromStream(
    'sites.csv',
    (async function* () {
      yield Buffer.from(SITES.slice(0, 70));
      yield Buffer.from(SITES.slice(70));
    })(),
  );
  expect(await readClientBase({ sites: stream }, AS_OF)).toMatchObject({
    base: { sites: [{ siteId: 'S1' }] },
  });
  expect(await readClientBase({ sites: csvFromPath('/nowhere/sites.csv') }, AS_OF)).toMatchObject({
    faults: [{ file: 'sites.csv', problem: 'there is no such file' }],
  });
  expect(await readClientBase({ sites: csvFromPath('tests') }, AS_OF)).toMatchObject({
    faults: [{ problem: 'this is a folder' }],
  });
});

test('progress runs to the end of the bytes', async () => {
  const seen: number[] = [];
  await read(
    { sites: SITES },
    { onProgress: ({ bytesRead, bytesTotal }) => seen.push(bytesRead / (bytesTotal ?? 1)) },
  );
  expect(seen.at(-1)).toBe(1);
});

test('bytes that are no UTF-8 name the line', async () => {
  const bytes = Buffer.concat([
    Buffer.from('client,address\nA,1\n'),
    Buffer.from([0x4a, 0xf6, 0x72, 0x67, 0x0a]),
  ]);
  expect(await readClientBase({ sites: csvFromBytes('sites.csv', bytes) }, AS_OF)).toMatchObject({
    faults: [{ line: 3, problem: 'characters that are not UTF-8' }],
  });
});
