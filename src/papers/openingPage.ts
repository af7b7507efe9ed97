import { FUTURE, INK } from './look.js';
import { text } from './markup.js';
import { OPENING_SCRIPT } from './openingScript.js';
import { OPENING_STYLE } from './openingStyle.js';

/** One thing the page leads to, as what it can be had. */
export interface OpeningEntry {
  title: string;
  /** Begin of the name it is saved under. */
  file: string;
  /** Addresses, without a query. */
  picture?: string;
  csv?: string;
  geojson?: string;
  /** Takes the filter of lines. */
  filtered?: boolean;
}

export interface OpeningGroup {
  /** Of its place in the page. */
  id: string;
  title: string;
  entries: readonly OpeningEntry[];
}

interface Choice {
  value: string;
  text: string;
}

interface OpeningAsk {
  version: string;
  groups: readonly OpeningGroup[];
  /** What lines can be chosen by. */
  choices: { kind: readonly Choice[]; material: readonly Choice[] };
  /** Who may read what stands at an address. */
  rolesAt: (address: string) => readonly string[];
}

/** A bore with what has settled in it: the one drawing of the page. */
const MARK = `<svg width="56" height="56" viewBox="0 0 56 56" role="img" aria-label="a bore, a third of it blocked"><clipPath id="bore"><circle cx="28" cy="28" r="23"/></clipPath><path d="M0 40 Q14 34 28 38 T56 37 V56 H0 Z" fill="${FUTURE}" clip-path="url(#bore)"/><circle cx="28" cy="28" r="25" fill="none" stroke="${INK}" stroke-width="4"/></svg>`;

/** What whoever types the address sees: what this is, today's figures once a key is given, and all there is to look at. */
export function openingPage({ version, groups, choices, rolesAt }: OpeningAsk): string {
  const section = (id: string, inside = '') => {
    const group = groups.find((each) => each.id === id);
    if (group === undefined) throw new RangeError(`no group ${id} of the opening page`);
    const rows = group.entries.map((entry) => entryRow(entry, rolesAt)).join('\n');
    return `<section id="${id}">\n<h2>${text(group.title)}</h2>\n${rows === '' ? '' : `<ul>${rows}</ul>`}\n${inside}</section>`;
  };
  const only = (address: string) => `data-roles="${rolesAt(address).join(' ')}"`;
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
<h2>Your key</h2>
<form id="ask"><label class="wide">As the office gave it to you<input id="key" type="password" autocomplete="off" autocapitalize="off" spellcheck="false" required></label><button>Show</button></form>
<p class="quiet">It is kept in this page only, and is gone when you leave. The first one: <code>npm run key -- --name NAME --role owner</code></p>
<p id="said" role="alert"></p>
<div id="inside" hidden>
<p id="who" class="quiet"></p>
<nav aria-label="On this page"></nav>
<section id="today">
<h2>Today</h2>
<dl id="figures"></dl>
<form id="sheets" ${only('/v1/routes')}><label>Routes of the day<input name="day" type="date" required></label><button>Show the day</button></form>
<ul id="routes"></ul>
</section>
<div id="charts">
<details id="filter" ${only('/v1/reports/due-weeks')}>
<summary>Which lines: <strong id="chosen">all</strong> <span class="quiet">(for the questions of state and money)</span></summary>
<form id="lines">
${select('kind', 'kind', choices.kind)}
${select('material', 'material', choices.material)}
<label>area<input name="area"></label>
<label>town<input name="town"></label>
<label>builder<input name="builder"></label>
<label>cleaned last by<select name="crewId"><option value="">any crew</option></select></label>
<label>iron from, mg/L<input name="ironFrom" inputmode="decimal"></label>
<label>iron to, mg/L<input name="ironTo" inputmode="decimal"></label>
<label>laid at least, years ago<input name="ageFrom" inputmode="decimal"></label>
<label>laid at most, years ago<input name="ageTo" inputmode="decimal"></label>
<button>Choose these</button><button type="reset">All lines</button>
</form>
</details>
${section('state')}
${section('money')}
</div>
${section('next', whatIfForm(only('/v1/what-ifs')))}
${papers(only)}
${section('out', IN_AND_OUT)}
</div>
<p class="quiet">Release ${text(version)}</p>
</main>
<script>${OPENING_SCRIPT}</script>
</body>
</html>
`;
}

const WAYS = [
  { of: 'picture', name: 'Picture' },
  { of: 'csv', name: 'CSV' },
  { of: 'geojson', name: 'Save' },
] as const;

function entryRow(entry: OpeningEntry, rolesAt: OpeningAsk['rolesAt']): string {
  const ways = WAYS.flatMap(({ of, name }) => {
    const address = entry[of];
    return address === undefined ? [] : [{ of, name, address }];
  });
  const buttons = ways
    .map(
      ({ of, name, address }) =>
        `<button type="button" data-as="${of}" data-at="${text(address)}" data-roles="${rolesAt(address).join(' ')}" aria-label="${text(`${name}: ${entry.title}`)}">${name}</button>`,
    )
    .join('');
  return `<li data-file="${text(entry.file)}"${entry.filtered ? ' data-filtered' : ''}><span>${text(entry.title)}</span>${buttons}</li>`;
}

function select(name: string, label: string, choices: readonly Choice[]): string {
  const options = choices.map(({ value, text: words }) => `<option value="${value}">${text(words)}</option>`);
  return `<label>${label}<select name="${name}"><option value="">any</option>${options.join('')}</select></label>`;
}

const whatIfForm = (roles: string): string => `<div ${roles}>
<h3>What if</h3>
<form id="what-if">
<label>crews more, or less (-1)<input name="extraCrews" type="number" min="-50" max="50" step="0.5" value="0"></label>
<label>new houses a week<input name="perWeek" type="number" min="0" max="200" step="0.5" value="0"></label>
<label>intervals of care terms times<input name="careIntervalFactor" type="number" min="0.25" max="4" step="0.05" value="1"></label>
<label>weeks ahead<input name="weeks" type="number" min="1" max="104" value="52"></label>
<button>Work it out</button>
</form>
<p class="quiet">Nothing changed: the weeks as they will be. It is worked out in the background, in minutes; nothing on record moves.</p>
<ul id="asked"></ul>
</div>`;

const papers = (only: (address: string) => string): string => `<section id="papers">
<h2>Papers</h2>
<form id="find" ${only('/v1/search')}><label class="wide">Visit report or a client's year: name, street, phone or order number<input name="q" required maxlength="200"></label><label>year<input name="year" type="number" min="1990" max="2199" required></label><button>Find</button></form>
<ul id="found"></ul>
<form id="log" ${only('/v1/discharge-log')}><label>Discharge log from<input name="from" type="date" required></label><label>to<input name="to" type="date" required></label><button>Show the log</button></form>
<ul id="logged"></ul>
</section>`;

const IN_AND_OUT = `<p class="quiet">Everything at once, to take elsewhere or to bring back: <code>npm run export -- --dir FOLDER</code>, <code>npm run import -- --dir FOLDER --dry-run</code>; a spreadsheet with other column names comes in by a mapping file (<code>openapi/import.md</code>).</p>
`;
