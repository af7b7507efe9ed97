import type { Chance } from './demoChance.js';

/** A drawn photograph of the end of a drain, 800 by 600. */
const [WIDTH, HEIGHT] = [800, 600];
const [X, Y, OUTER, BORE] = [400, 290, 225, 190];
const POINTS = 72;

/** Strokes of the letters that are written, in a field 4 wide and 6 high: no machine needs a typeface for them. */
const LETTERS: Readonly<Record<string, string>> = {
  D: 'M0 0V6H2L4 4V2L2 0Z',
  E: 'M4 0H0V6H4M0 3H3',
  M: 'M0 6V0L2 3L4 0V6',
  O: 'M0 0H4V6H0Z',
  P: 'M0 6V0H4V3H0',
  I: 'M2 0V6M1 0H3M1 6H3',
  C: 'M4 0H0V6H4',
  T: 'M0 0H4M2 0V6',
  U: 'M0 0V6H4V0',
  R: 'M0 6V0H4V3H0L4 6',
};
const WRITTEN = 'DEMO PICTURE';

/**
 * The end of a drain, round, with an orange deposit on its wall, and the words "demo picture" on it.
 *
 * @param share Of the bore's area that the deposit takes, 0 to 1.
 */
export function demoPicture(share: number, chance: Chance): string {
  const coat = Math.max(0.03, Math.min(0.97, share));
  return [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${HEIGHT}" width="${WIDTH}" height="${HEIGHT}">`,
    '<defs>',
    '<radialGradient id="bore"><stop offset="0" stop-color="#0b0a09"/><stop offset="1" stop-color="#2a2622"/></radialGradient>',
    '<radialGradient id="coat"><stop offset="0.35" stop-color="#7a3a06"/><stop offset="1" stop-color="#cf7a1c"/></radialGradient>',
    '<linearGradient id="earth" x2="0" y2="1"><stop offset="0" stop-color="#6f7a52"/><stop offset="0.4" stop-color="#75664f"/><stop offset="1" stop-color="#51432f"/></linearGradient>',
    '</defs>',
    `<rect width="${WIDTH}" height="${HEIGHT}" fill="url(#earth)"/>`,
    ...stones(chance),
    coat > 0.1 ? stain(coat) : '',
    `<circle cx="${X}" cy="${Y}" r="${OUTER}" fill="#b9b4aa" stroke="#7d786f" stroke-width="4"/>`,
    `<circle cx="${X}" cy="${Y}" r="${BORE}" fill="url(#coat)"/>`,
    `<path d="${opening(coat, chance)}" fill="url(#bore)" stroke="#5c2b05" stroke-width="5"/>`,
    ...flakes(coat, chance),
    ...written(),
    '</svg>',
  ].join('');
}

const at = (angle: number, radius: number): string =>
  `${(X + radius * Math.cos(angle)).toFixed(1)} ${(Y + radius * Math.sin(angle)).toFixed(1)}`;

/** What stays free: uneven, and less of it at the bottom, where the deposit lies. */
function opening(coat: number, chance: Chance): string {
  const radius = BORE * Math.sqrt(1 - coat);
  const rough = Math.min(0.12, coat * 0.5);
  const waves = [3, 5, 9].map((times) => ({ times, turned: chance.between(0, 6.28), high: rough / times }));
  const points = Array.from({ length: POINTS }, (_, i) => {
    const angle = (i / POINTS) * 2 * Math.PI;
    const wave = waves.reduce(
      (sum, { times, turned, high }) => sum + 3 * high * Math.sin(times * angle + turned),
      0,
    );
    const low = 0.18 * coat * Math.max(0, Math.sin(angle));
    return at(angle, radius * (1 + wave - low));
  });
  return `M${points.join('L')}Z`;
}

const flakes = (coat: number, chance: Chance): string[] =>
  Array.from({ length: Math.round(70 * coat) }, () => {
    const radius = chance.between(BORE * Math.sqrt(1 - coat), BORE - 6);
    const [x = '', y = ''] = at(chance.between(0, 6.28), radius).split(' ');
    return `<circle cx="${x}" cy="${y}" r="${chance.between(2, 7).toFixed(1)}" fill="${chance.pick(['#e39a3c', '#a65a10', '#8a4b00'])}" opacity="0.7"/>`;
  });

const stones = (chance: Chance): string[] =>
  Array.from({ length: 60 }, () => {
    const [x, y] = [chance.between(0, WIDTH), chance.between(0, HEIGHT)];
    return `<ellipse cx="${x.toFixed(0)}" cy="${y.toFixed(0)}" rx="${chance.between(5, 22).toFixed(0)}" ry="${chance.between(4, 13).toFixed(0)}" fill="#3d3324" opacity="${chance.between(0.12, 0.4).toFixed(2)}"/>`;
  });

/** Orange water has run down from the pipe. */
const stain = (coat: number): string =>
  `<path d="M${X - 90} ${Y + OUTER - 20}Q${X - 130} ${HEIGHT - 60} ${X - 150} ${HEIGHT}H${X + 140}Q${X + 120} ${HEIGHT - 70} ${X + 80} ${Y + OUTER - 20}Z" fill="#c26a12" opacity="${(0.3 + 0.5 * coat).toFixed(2)}"/>`;

function written(): string[] {
  const letters = [...WRITTEN].map((letter, i) =>
    letter === ' ' ? '' : `<path d="${LETTERS[letter]}" transform="translate(${i * 6} 0)"/>`,
  );
  return [
    '<rect x="12" y="12" width="240" height="42" fill="#ffffff" opacity="0.85"/>',
    '<g transform="translate(24 22) scale(3.1)" fill="none" stroke="#111111" stroke-width="0.7">',
    ...letters,
    '</g>',
  ];
}
