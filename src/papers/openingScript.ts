/** What the opening page runs. The key stays in memory: it is gone with the page. Plain script, so that the page needs no build. */
export const OPENING_SCRIPT = `
'use strict';
const byId = (id) => document.getElementById(id);
let key = '', me = null, meta = null;
let filter = {};
const say = (words) => { byId('said').textContent = words; if (words) byId('said').scrollIntoView({ block: 'nearest' }); };
const tell = (error) => say(error.message);
const make = (name, words, set = {}) => Object.assign(document.createElement(name), { textContent: words }, set);
const count = (n) => Number(n).toLocaleString('en-US');

async function ask(path, more = {}) {
  const { headers, ...rest } = more;
  const answer = await fetch(path, { ...rest, headers: { authorization: 'Bearer ' + key, ...headers } })
    .catch(() => { throw new Error('The service cannot be reached just now. Try again in a moment.'); });
  if (answer.ok) return answer;
  if (answer.status === 401) throw new Error(UNKNOWN);
  const problem = await answer.json().catch(() => ({}));
  const faults = (problem.errors || []).map((fault) => fault.pointer.replace(/^#\\/(querystring:)?/, '') + ' ' + fault.detail + (fault.remedy ? ' (right would be: ' + fault.remedy + ')' : ''));
  throw new Error(faults.length ? faults.join('; ') + '.' : problem.detail || 'The service answered ' + answer.status + '.');
}
const json = async (path, more) => (await ask(path, more)).json();
const UNKNOWN = 'This key is not known. A letter may be missing or wrong, or it has ended: copy it whole, or ask the office for a new one.';

/* What the key may not read is not there. */
const may = (roles) => me.roles.some((role) => roles.split(' ').includes(role));
function showOwn() {
  for (const each of document.querySelectorAll('#inside [data-roles]')) each.hidden = !may(each.dataset.roles);
  for (const row of document.querySelectorAll('li[data-file]'))
    row.hidden = ![...row.querySelectorAll('[data-at]')].some((each) => !each.hidden);
  for (const section of document.querySelectorAll('#inside section'))
    section.hidden = ![...section.querySelectorAll('li[data-file], form, dl')].some((each) => !each.hidden && !each.closest('[data-roles][hidden]'));
  byId('out').querySelector('.quiet').hidden = !me.roles.includes('owner');
  document.querySelector('nav').replaceChildren(...[...document.querySelectorAll('#inside section')]
    .filter((section) => !section.hidden)
    .map((section) => make('a', section.querySelector('h2').textContent, { href: '#' + section.id })));
}

function figures(rows) {
  byId('figures').replaceChildren(...rows.flatMap(([what, value]) => [make('dt', what), make('dd', count(value))]));
}
const inOffice = () => me.roles.some((role) => role !== 'technician');
async function today() {
  const stops = (routes) => routes.reduce((sum, route) => sum + route.stops.filter((stop) => stop.kind === 'visit').length, 0);
  const { items: routes } = await json('/v1/routes?day=' + meta.today);
  const rows = [['routes today', routes.length], ['visits on them', stops(routes)]];
  if (inOffice()) {
    const base = await json('/v1/summary');
    rows.unshift(['lines kept open', base.lines], ['due now', base.dueNow], ['due within four weeks', base.dueInFourWeeks],
      ['believed past their action limit', base.pastActionLimit]);
    rows.push(['readings to confirm or dismiss', base.openReviews]);
  }
  figures(rows);
}

async function open() {
  const now = await json('/v1/me');
  meta = await json('/v1/meta');
  me = now;
  byId('who').textContent = me.name + ' (' + me.roles.join(', ') + ') \\u00b7 ' + meta.today + ', ' + meta.zone;
  for (const list of ['routes', 'asked', 'found', 'logged']) byId(list).replaceChildren();
  for (const shown of document.querySelectorAll('figure')) drop(shown);
  byId('sheets').day.value = meta.today;
  byId('log').to.value = meta.today;
  byId('log').from.value = meta.today.slice(0, 8) + '01';
  byId('find').year.value = meta.today.slice(0, 4);
  await today();
  showOwn();
  if (!byId('filter').hidden) await crews();
  if (may(byId('asked').closest('[data-roles]').dataset.roles)) await askedBefore();
  byId('inside').hidden = false;
}
async function crews() {
  const { items } = await json('/v1/crews?limit=200&sort=name').catch(() => ({ items: [] }));
  const choice = byId('lines').crewId;
  choice.replaceChildren(choice.options[0], ...items.map(({ id, name }) => make('option', name, { value: id })));
}

/* A picture, table or paper: fetched with the key, kept in the page, opened or saved from there. */
const WAYS = {
  picture: { accept: 'image/svg+xml', ending: 'svg' },
  csv: { accept: 'text/csv', ending: 'csv' },
  geojson: { accept: 'application/geo+json', ending: 'geojson' },
  paper: { accept: 'application/pdf', ending: 'pdf' },
};
const slug = (words) => words.toLowerCase().normalize('NFKD').replace(/[^a-z0-9.]+/g, '-').replace(/^-+|-+$/g, '');
function drop(figure) {
  URL.revokeObjectURL(figure.dataset.blob);
  figure.remove();
}
async function fetchInto(row, button) {
  const { as, at } = button.dataset;
  const { accept, ending } = WAYS[as];
  const asked = row.hasAttribute('data-filtered') ? filter : {};
  const query = new URLSearchParams(asked).toString();
  button.setAttribute('aria-busy', 'true');
  try {
    const got = await (await ask(query ? at + '?' + query : at, { headers: { accept } })).blob();
    const name = [row.dataset.file, ...Object.entries(asked).map(([name, value]) => name === 'crewId' ? crewName(value) : slug(value)), row.dataset.day || meta.today].join('_') + '.' + ending;
    show(row, as, got, name, row.querySelector('span').textContent);
  } finally { button.removeAttribute('aria-busy'); }
}
const crewName = (id) => slug([...byId('lines').crewId.options].find((each) => each.value === id)?.textContent || 'crew');
function show(row, as, got, name, title) {
  for (const before of row.querySelectorAll('figure')) drop(before);
  const blob = URL.createObjectURL(got);
  const figure = make('figure', '');
  figure.dataset.blob = blob;
  if (as === 'picture') figure.append(Object.assign(new Image(), { src: blob, alt: title }));
  const links = make('figcaption', '');
  if (as === 'picture' || as === 'paper') links.append(make('a', 'Open it by itself', { href: blob, target: '_blank', rel: 'noopener' }));
  const save = make('a', 'Save as ' + name, { href: blob, download: name });
  const away = make('button', 'Put away', { type: 'button', className: 'act' });
  away.addEventListener('click', () => drop(figure));
  links.append(save, away);
  figure.append(links);
  row.append(figure);
  if (as === 'csv' || as === 'geojson') save.click();
}
document.addEventListener('click', (event) => {
  const button = event.target.closest('button[data-at]');
  if (!button) return;
  say('');
  fetchInto(button.closest('li'), button).catch(tell);
});
function row(title, file, ways, day) {
  const li = make('li', '');
  li.dataset.file = slug(file);
  if (day) li.dataset.day = day;
  li.append(make('span', title), ...ways.map(({ as, at, name }) => {
    const button = make('button', name, { type: 'button' });
    Object.assign(button.dataset, { as, at });
    button.setAttribute('aria-label', name + ': ' + title);
    return button;
  }));
  return li;
}
const none = (words) => make('li', words, { className: 'quiet' });

/* Each form: what is done when it is sent. */
function onSend(id, work) {
  byId(id).addEventListener('submit', (event) => {
    event.preventDefault();
    say('');
    const button = event.target.querySelector('button');
    button.setAttribute('aria-busy', 'true');
    work(Object.fromEntries([...new FormData(event.target)].map(([name, value]) => [name, value.trim()])), event.target)
      .catch(tell).finally(() => button.removeAttribute('aria-busy'));
  });
}
onSend('ask', async () => {
  key = byId('key').value.trim();
  byId('inside').hidden = true;
  if (!/^[\\x21-\\x7e]+$/.test(key)) throw new Error(UNKNOWN);
  await open();
});
onSend('lines', async (asked, form) => {
  filter = Object.fromEntries(Object.entries(asked).filter(([, value]) => value !== '').map(([name, value]) => [name, /^(iron|age)/.test(name) ? value.replace(',', '.') : value]));
  chosen(form);
  await json('/v1/reports/due-weeks?' + new URLSearchParams(filter));
  byId('filter').open = false;
  for (const shown of document.querySelectorAll('[data-filtered] figure')) drop(shown);
});
byId('lines').addEventListener('reset', (event) => {
  filter = {};
  say('');
  for (const shown of document.querySelectorAll('[data-filtered] figure')) drop(shown);
  setTimeout(() => chosen(event.target));
});
function chosen(form) {
  const words = Object.keys(filter).map((name) => {
    const field = form.elements[name];
    const label = field.closest('label').firstChild.textContent;
    return label + ' ' + (field.selectedOptions ? field.selectedOptions[0].textContent : filter[name]);
  });
  byId('chosen').textContent = words.join(', ') || 'all';
}
onSend('sheets', async ({ day }) => {
  const { items } = await json('/v1/routes?day=' + day);
  const map = row('All routes: map and hours', 'routes', [{ as: 'picture', at: '/v1/routes.svg?day=' + day, name: 'Picture' }], day);
  const sheets = items.map((route) => row(route.crewName + (route.onCall ? ', on call' : '') + ', ' + count(route.stops.filter((stop) => stop.kind === 'visit').length) + ' visits', 'route-sheet-' + route.crewName,
    [{ as: 'paper', at: '/v1/routes/' + route.id + '/sheet', name: 'Sheet' }], day));
  byId('routes').replaceChildren(...(items.length ? [...(inOffice() ? [map] : []), ...sheets] : [none('No routes on that day.')]));
});
onSend('find', async ({ q, year }) => {
  const { items } = await json('/v1/search?' + new URLSearchParams({ q, limit: 8 }));
  const seen = new Set();
  const rows = items.flatMap(({ type, id, title, detail, clientId }) => {
    const papers = type === 'order' ? [{ as: 'paper', at: '/v1/work-orders/' + id + '/report', name: 'Visit report' }] : [];
    const client = type === 'client' ? id : clientId;
    if (client) papers.push({ as: 'paper', at: '/v1/clients/' + client + '/summary?year=' + encodeURIComponent(year), name: 'Year ' + year });
    if (papers.length === 0 || seen.has(type + id)) return [];
    seen.add(type + id);
    return [row(title + ' \\u00b7 ' + detail, title, papers)];
  });
  byId('found').replaceChildren(...(rows.length ? rows : [none('Nobody and nothing by that name or number.')]));
});
onSend('log', async ({ from, to }) => {
  byId('logged').replaceChildren(row('Where water and sludge went, ' + from + ' to ' + to, 'discharge-log', [
    { as: 'paper', at: '/v1/discharge-log?' + new URLSearchParams({ from, to }), name: 'Paper' },
    { as: 'csv', at: '/v1/water-records?' + new URLSearchParams({ from, to }), name: 'CSV' },
  ]));
});

/* Questions about the weeks to come. */
onSend('what-if', async ({ extraCrews, perWeek, careIntervalFactor, weeks }) => {
  const body = { weeks: Number(weeks) };
  if (Number(extraCrews) !== 0) body.extraCrews = Number(extraCrews);
  if (Number(careIntervalFactor) !== 1) body.careIntervalFactor = Number(careIntervalFactor);
  if (Number(perWeek) !== 0) body.newSites = { perWeek: Number(perWeek), weeks: Number(weeks) };
  const made = await json('/v1/what-ifs', { method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
  byId('asked').prepend(questionRow(made));
});
async function askedBefore() {
  const { items } = await json('/v1/what-ifs?limit=5');
  byId('asked').replaceChildren(...items.map(questionRow));
}
function otherwise({ extraCrews, lostCrews, settings, careIntervalFactor, newSites }) {
  const words = [];
  if (extraCrews) words.push(Math.abs(extraCrews) + (Math.abs(extraCrews) === 1 ? ' crew ' : ' crews ') + (extraCrews > 0 ? 'more' : 'less'));
  if (lostCrews && lostCrews.length) words.push(lostCrews.length + ' lost for a while');
  if (newSites && newSites.perWeek && newSites.weeks) words.push(newSites.perWeek + ' new houses a week');
  if (careIntervalFactor && careIntervalFactor !== 1) words.push('intervals of care terms times ' + careIntervalFactor);
  if (settings && Object.keys(settings).length) words.push('other settings');
  return words.join(', ') || 'as it is';
}
function questionRow(question) {
  const { id, weeks, asked, state, createdAt } = question;
  const title = count(weeks) + ' weeks, ' + otherwise(asked) + ' \\u00b7 asked ' + new Date(createdAt).toLocaleString('en-GB', { timeZone: meta.zone, dateStyle: 'medium', timeStyle: 'short' });
  const at = '/v1/what-ifs/' + id;
  if (state === 'done') return row(title, 'what-if-' + otherwise(asked), [{ as: 'picture', at: at + '/weeks.svg', name: 'Picture' }, { as: 'csv', at, name: 'CSV' }]);
  const waiting = make('li', '');
  const words = state === 'failed' ? 'failed: ' + question.failedBecause : state === 'waiting' ? 'waits for its turn' : 'worked out to ' + Math.round(100 * question.progress) + ' %';
  waiting.append(make('span', title + ': ' + words));
  if (state !== 'failed') setTimeout(async () => {
    if (!waiting.isConnected) return;
    const now = await json(at).catch(() => null);
    if (waiting.isConnected) waiting.replaceWith(questionRow(now || question));
  }, 2000);
  return waiting;
}
`;
