import { FONT, FUTURE, INK, PAPER, PAST, QUIET, RULE } from './look.js';
import { text } from './markup.js';

/** A picture that the page offers once a key is given. */
export interface OpeningPicture {
  title: string;
  /** Address that answers with SVG. */
  href: string;
}

export const OPENING_STYLE = `
body { margin: 0; background: ${PAPER}; color: ${INK}; font: 16px/1.5 ${FONT}; }
main { max-width: 46rem; margin: 0 auto; padding: 2.5rem 1.25rem 4rem; }
header { display: flex; gap: 1.25rem; align-items: center; border-bottom: 1px solid ${RULE}; padding-bottom: 1rem; }
h1 { font-size: 1.9rem; margin: 0; font-weight: 600; }
h2 { font-size: 1.05rem; margin: 2rem 0 .5rem; }
p { margin: .6rem 0; }
a { color: ${PAST}; }
form { display: flex; flex-wrap: wrap; gap: .5rem; align-items: end; }
label { flex: 1 1 18rem; }
input { display: block; width: 100%; box-sizing: border-box; font: inherit; padding: .4rem .5rem; border: 1px solid ${QUIET}; border-radius: 0; }
button { font: inherit; padding: .4rem .9rem; border: 1px solid ${INK}; background: ${PAPER}; color: ${INK}; border-radius: 0; cursor: pointer; }
button[aria-pressed="true"] { background: ${INK}; color: ${PAPER}; }
dl { display: grid; grid-template-columns: 1fr auto; margin: .5rem 0; border-top: 1px solid ${RULE}; }
dt, dd { margin: 0; padding: .35rem 0; border-bottom: 1px solid ${RULE}; }
dd { text-align: right; font-variant-numeric: tabular-nums; font-weight: 600; }
#pictures { display: flex; flex-wrap: wrap; gap: .4rem; }
#picture img { max-width: 100%; height: auto; margin-top: 1rem; }
#said:empty { display: none; }
#said { border-left: 4px solid ${FUTURE}; padding-left: .75rem; }
.quiet { color: ${QUIET}; font-size: .9rem; }
`;

/** Works with the key in memory only: it is gone with the page. */
export const OPENING_SCRIPT = `
const byId = (id) => document.getElementById(id);
let key = '';
const say = (text) => { byId('said').textContent = text; };
async function get(path) {
  const answer = await fetch(path, { headers: { authorization: 'Bearer ' + key } });
  if (answer.ok) return answer;
  const problem = await answer.json().catch(() => ({}));
  throw new Error(problem.detail || 'The service answered ' + answer.status + '.');
}
const json = async (path) => (await get(path)).json();
const count = (n) => Number(n).toLocaleString('en-US');
function figures(rows) {
  byId('figures').replaceChildren(...rows.flatMap(([what, value]) => {
    const dt = document.createElement('dt'); dt.textContent = what;
    const dd = document.createElement('dd'); dd.textContent = value;
    return [dt, dd];
  }));
}
async function open() {
  const [me, meta] = [await json('/v1/me'), await json('/v1/meta')];
  byId('who').textContent = me.name + ' (' + me.roles.join(', ') + ') \\u00b7 ' + meta.today + ', ' + meta.zone;
  const inOffice = me.roles.some((role) => role === 'owner' || role === 'dispatcher');
  const routes = (await json('/v1/routes?day=' + meta.today)).items;
  const stops = routes.reduce((sum, route) => sum + route.stops.filter((stop) => stop.kind === 'visit').length, 0);
  const today = [['routes today', count(routes.length)], ['visits on them', count(stops)]];
  if (inOffice) {
    const base = await json('/v1/summary');
    today.unshift(['lines kept open', count(base.lines)], ['due now', count(base.dueNow)],
      ['due within four weeks', count(base.dueInFourWeeks)], ['believed past their action limit', count(base.pastActionLimit)]);
    today.push(['readings to confirm or dismiss', count(base.openReviews)]);
  }
  figures(today);
  byId('inside').hidden = false;
  byId('drawings').hidden = !inOffice;
}
async function draw(button) {
  say('');
  const picture = await (await get(button.dataset.href)).blob();
  const image = new Image();
  image.alt = button.textContent;
  image.src = URL.createObjectURL(picture);
  image.onload = () => URL.revokeObjectURL(image.src);
  byId('picture').replaceChildren(image);
  for (const each of byId('pictures').children) each.setAttribute('aria-pressed', String(each === button));
}
byId('ask').addEventListener('submit', (event) => {
  event.preventDefault();
  key = byId('key').value.trim();
  say('');
  byId('inside').hidden = true;
  open().catch((error) => say(error.message));
});
byId('pictures').addEventListener('click', (event) => {
  const button = event.target.closest('button');
  if (button) draw(button).catch((error) => say(error.message));
});
`;

/** A bore with what has settled in it: the one drawing of the page. */
const MARK = `<svg width="56" height="56" viewBox="0 0 56 56" role="img" aria-label="a bore, a third of it blocked"><clipPath id="bore"><circle cx="28" cy="28" r="23"/></clipPath><path d="M0 40 Q14 34 28 38 T56 37 V56 H0 Z" fill="${FUTURE}" clip-path="url(#bore)"/><circle cx="28" cy="28" r="25" fill="none" stroke="${INK}" stroke-width="4"/></svg>`;

/** What whoever types the address sees: what this is, today's figures once a key is given, where to go on. */
export function openingPage({
  version,
  pictures,
}: {
  version: string;
  pictures: readonly OpeningPicture[];
}): string {
  const buttons = pictures
    .map(
      ({ title, href }) =>
        `<button type="button" aria-pressed="false" data-href="${text(href)}">${text(title)}</button>`,
    )
    .join('\n');
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Openbore</title>
<style>${OPENING_STYLE}</style>
</head>
<body>
<main>
<header>${MARK}<h1>Openbore</h1></header>
<p>Keeps buried drain lines open: it records what crews find, learns how fast each line fouls, says when it is due
before it plugs, and plans who goes where. It speaks JSON to the programs of the office and of the crews; this page
is only its doorplate.</p>
<p><a href="/docs">Every operation, to read and to try</a> · <a href="/docs/json">the same as an OpenAPI document</a></p>
<h2>Today</h2>
<form id="ask"><label>Your key<input id="key" type="password" autocomplete="off" spellcheck="false" required></label><button>Show</button></form>
<p class="quiet">It is kept in this page only, and is gone when you leave. The first one: <code>npm run key -- --name NAME --role owner</code></p>
<p id="said" role="alert"></p>
<section id="inside" hidden>
<p id="who" class="quiet"></p>
<dl id="figures"></dl>
<section id="drawings" hidden>
<h2>Pictures</h2>
<div id="pictures">${buttons}</div>
<div id="picture" aria-live="polite"></div>
</section>
</section>
<p class="quiet">Release ${text(version)}</p>
</main>
<script>${OPENING_SCRIPT}</script>
</body>
</html>
`;
}
