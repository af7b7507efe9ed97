import { existsSync, readFileSync } from 'node:fs';
import { type Browser, chromium, type Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { OPENING_GROUPS } from '../../src/http/openingGroups.js';
import { type TestHouse, testHouse } from '../setup/testHouse.js';

const BROWSER = process.env['CHROMIUM'] ?? '/usr/bin/chromium';
const QUIET = [
  '--no-sandbox',
  '--disable-gpu',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  '--no-first-run',
];

test('the page at / is for everybody, asks nobody else, and holds no figure without a key', async () => {
  const t = await testHouse();
  const page = await t.call(null, { method: 'GET', url: '/' });
  expect(page.status).toBe(200);
  expect(page.headers['content-type']).toBe('text/html; charset=utf-8');
  expect(page.headers['content-security-policy']).toMatch(/^default-src 'none'; style-src 'sha256-/);
  expect(page.text).not.toMatch(/src="http|href="http/);
}, 60_000);

test('each address of the page answers to the roles that it is shown to, and to no other', async () => {
  const t = await testHouse();
  const { text } = await t.call(null, { method: 'GET', url: '/' });
  const shown = [...text.matchAll(/data-as="(\w+)" data-at="([^"]+)" data-roles="([^"]*)"/g)];
  const entries = OPENING_GROUPS.flatMap(({ entries: each }) => each);
  expect(shown.length).toBe(
    entries.reduce(
      (sum, { picture, csv, geojson }) => sum + [picture, csv, geojson].filter(Boolean).length,
      0,
    ),
  );
  expect(shown.length).toBeGreaterThan(40);
  const accept: Record<string, string> = {
    picture: 'image/svg+xml',
    csv: 'text/csv',
    geojson: 'application/geo+json',
  };
  for (const [, as = '', url = '', roles = ''] of shown) {
    for (const role of ['owner', 'dispatcher', 'technician', 'integration'] as const) {
      const answer = await t.call(role, { method: 'GET', url, headers: { accept: accept[as] } });
      expect([url, role, answer.status]).toEqual([url, role, roles.split(' ').includes(role) ? 200 : 403]);
      if (answer.status === 200) expect(answer.headers['content-type']).toContain(accept[as]);
    }
  }
}, 240_000);

/** Needs a Chromium (CHROMIUM, else /usr/bin/chromium): skipped, and said so, where there is none. */
describe.skipIf(!existsSync(BROWSER))('in a browser', () => {
  let t: TestHouse;
  let browser: Browser;
  let page: Page;
  let url: string;
  let complaints: string[];

  beforeAll(async () => {
    t = await testHouse();
    const { base } = demoBusiness(1, '2026-10-01');
    await importClientBase(t.house, { name: 'test' }, { base, source: 'demo', asOf: '2026-10-01' });
    url = await t.app.listen({ host: '127.0.0.1', port: 0 });
    browser = await chromium.launch({ executablePath: BROWSER, args: QUIET });
    page = await browser.newPage({ acceptDownloads: true });
    page.setDefaultTimeout(60_000);
    page.on('pageerror', (error) => complaints.push(error.message));
    page.on('console', (line) => {
      if (line.type() === 'error' && !/4(01|22)/.test(line.text())) complaints.push(line.text());
    });
  }, 240_000);
  afterAll(async () => {
    await browser?.close();
    await t?.app.close();
  });

  const enter = async (key: string) => {
    complaints = [];
    await page.goto(url);
    await page.fill('#key', key);
    await page.click('#ask button');
  };
  const shownTitles = () =>
    page
      .locator('#charts li > span')
      .evaluateAll((all) =>
        all
          .filter((each) => (each as { checkVisibility(): boolean } & typeof each).checkVisibility())
          .map((each) => each.textContent),
      );

  test.each(['ob_mistyped', 'with blanks in it', 'клuч'])(
    'a wrong key, %s, is answered for a person',
    async (key) => {
      await enter(key);
      await page.locator('#said', { hasText: /./ }).waitFor();
      expect(await page.textContent('#said')).toMatch(/^This key is not known/);
      expect(await page.locator('#inside').isVisible()).toBe(false);
      expect(complaints).toEqual([]);
    },
    120_000,
  );

  test('the owner: today’s figures, a picture that opens and is saved under a name that says what it is', async () => {
    const { lines } = (await t.call('owner', { method: 'GET', url: '/v1/summary' })).body;
    expect(lines).toBeGreaterThan(500);
    await enter(t.keys.owner);
    await page.waitForSelector('#inside:not([hidden])');
    expect(await page.textContent('#figures')).toMatch(`lines kept open${lines}`);
    expect(await shownTitles()).toContain('What lines, sites or clients cost and bring');

    await page.click('li[data-file="unknown-facts"] button >> nth=0');
    const image = page.locator('li[data-file="unknown-facts"] img');
    await expect
      .poll(() => image.evaluate((each) => (each as unknown as { naturalWidth: number }).naturalWidth))
      .toBeGreaterThan(0);
    const saving = page.waitForEvent('download');
    await page.click('li[data-file="unknown-facts"] figcaption a[download]');
    const saved = await saving;
    expect(saved.suggestedFilename()).toBe('unknown-facts_2026-10-01.svg');
    expect(readFileSync(await saved.path(), 'utf8')).toMatch(/^<svg/);
    const opening = page.context().waitForEvent('page');
    await page.click('li[data-file="unknown-facts"] figcaption a[target]');
    const opened = await opening;
    await opened.waitForSelector('svg title', { state: 'attached' });
    await opened.close();
    expect(complaints).toEqual([]);
  }, 120_000);

  test('the filter narrows tables and pictures; a place nobody has heard of is refused in words', async () => {
    const { town } = (await t.call('owner', { method: 'GET', url: '/v1/sites?limit=1' })).body.items[0];
    const one = new URLSearchParams({ kind: 'yard_drain', town }).toString();
    const narrowed = (await t.call('owner', { method: 'GET', url: `/v1/reports/unknown-facts?${one}` })).body;
    expect(narrowed.lines).toBeGreaterThan(0);
    await enter(t.keys.owner);
    await page.waitForSelector('#inside:not([hidden])');
    await page.click('#filter summary');
    await page.selectOption('#lines select[name=kind]', 'yard_drain');
    await page.fill('#lines input[name=town]', `${town}x`);
    await page.click('#lines button >> nth=0');
    await page.locator('#said', { hasText: /./ }).waitFor();
    expect(await page.textContent('#said')).toContain(town);

    await page.fill('#lines input[name=town]', town);
    await page.click('#lines button >> nth=0');
    await page.waitForSelector('#filter:not([open])');
    expect(await page.textContent('#chosen')).toBe(`kind yard drain, town ${town}`);
    await page.click('li[data-file="unknown-facts"] button >> nth=0');
    await page.waitForSelector('li[data-file="unknown-facts"] img');
    expect(await page.textContent('li[data-file="unknown-facts"] a[download]')).toBe(
      `Save as unknown-facts_yard-drain_${town.toLowerCase().replaceAll(' ', '-')}_2026-10-01.svg`,
    );
    expect(complaints.filter((each) => !each.includes('blob:'))).toEqual([]);
  }, 120_000);

  test('a dispatcher and a technician see what their keys may read, and nothing else; also at phone width', async () => {
    await page.setViewportSize({ width: 360, height: 740 });
    await enter(t.keys.dispatcher);
    await page.waitForSelector('#inside:not([hidden])');
    const titles = await shownTitles();
    expect(titles).toContain('Lines due week by week');
    expect(titles).not.toContain('What lines, sites or clients cost and bring');
    expect(await page.locator('#what-if').isVisible()).toBe(false);
    expect(await page.evaluate('document.documentElement.scrollWidth')).toBe(360);

    await enter(t.keys.technician);
    await page.locator('#who', { hasText: /^technician/ }).waitFor();
    expect(await shownTitles()).toEqual([]);
    expect(await page.locator('#today').isVisible()).toBe(true);
    expect(
      await page
        .locator('#papers, #out, #filter')
        .evaluateAll((all) =>
          all.map((each) => (each as unknown as { checkVisibility(): boolean }).checkVisibility()),
        ),
    ).toEqual([false, false, false]);
    expect(complaints).toEqual([]);
  }, 120_000);

  test('what if: asked on the page, told that it waits, and before the first night why there is no answer', async () => {
    await page.setViewportSize({ width: 1000, height: 900 });
    await enter(t.keys.owner);
    await page.waitForSelector('#inside:not([hidden])');
    await page.fill('#what-if input[name=extraCrews]', '-1');
    await page.click('#what-if button');
    await page.locator('#asked', { hasText: '1 crew less' }).waitFor();
    expect(await page.textContent('#asked')).toContain('waits for its turn');
    await t.work();
    await page.locator('#asked', { hasText: 'failed: No night has been run' }).waitFor();
    expect(complaints).toEqual([]);
  }, 120_000);
});
