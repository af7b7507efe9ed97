import { Random } from '../../../src/domain/routing/random.js';

/**
 * Instances of 200 customers generated in the style of Gehring and Homberger (1999), who extended Solomon's six
 * classes: clustered, random and mixed places; short (1) and long (2) horizons. They are not theirs: no best value is
 * known, so that a gap is against the best plan seen in the same run.
 */
export const CLASSES = ['C1', 'C2', 'R1', 'R2', 'RC1', 'RC2'] as const;

const CUSTOMERS = 200;
const SIDE = 140;
const VEHICLES = 50;
const CLUSTERS = 12;
const CLUSTER_SPREAD = 7;

/** Solomon's text format. */
export function twoHundred(kind: (typeof CLASSES)[number], seed: number): string {
  const random = new Random(seed);
  const long = kind.endsWith('2');
  const horizon = long ? 2800 : 520;
  const capacity = long ? 900 : 200;
  const service = kind.startsWith('C') ? 90 : 10;
  const dayEnd = kind.startsWith('C') ? (long ? 7200 : 1400) : horizon;
  const depot = { x: SIDE / 2, y: SIDE / 2 };
  const centres = Array.from({ length: CLUSTERS }, () => anywhere(random));
  const places = Array.from({ length: CUSTOMERS }, (_, i) => {
    const clustered = kind.startsWith('C') || (kind.startsWith('RC') && i % 2 === 0);
    return clustered ? near(random, centres[random.below(CLUSTERS)]!) : anywhere(random);
  });
  const rows = places.map(({ x, y }, i) => {
    const away = Math.ceil(Math.hypot(x - depot.x, y - depot.y));
    const latest = dayEnd - away - service - 1;
    // Three of four have hours; wider where the day is long.
    const free = random.unit() < 0.25;
    const width = Math.round((long ? 240 : 40) * (0.5 + random.unit()));
    const middle = away + random.unit() * Math.max(1, latest - away);
    const ready = free ? 0 : Math.max(0, Math.round(middle - width / 2));
    const due = free ? latest : Math.min(latest, Math.max(away + 1, Math.round(middle + width / 2)));
    return [i + 1, x, y, 5 + random.below(31), Math.min(ready, due), due, service].join(' ');
  });
  return [
    `${kind}_200_${seed}`,
    '',
    'VEHICLE',
    'NUMBER CAPACITY',
    `${VEHICLES} ${capacity}`,
    '',
    'CUSTOMER',
    'CUST NO. XCOORD. YCOORD. DEMAND READY TIME DUE DATE SERVICE TIME',
    '',
    [0, depot.x, depot.y, 0, 0, dayEnd, 0].join(' '),
    ...rows,
    '',
  ].join('\n');
}

interface Place {
  x: number;
  y: number;
}

const anywhere = (random: Random): Place => ({ x: random.below(SIDE + 1), y: random.below(SIDE + 1) });

/** Around a centre, about normal: the mean of three uniform draws. */
function near(random: Random, { x, y }: Place): Place {
  const off = () => Math.round((random.unit() + random.unit() + random.unit() - 1.5) * 2 * CLUSTER_SPREAD);
  const inside = (value: number) => Math.max(0, Math.min(SIDE, value));
  return { x: inside(x + off()), y: inside(y + off()) };
}
