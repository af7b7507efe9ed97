import { existsSync } from 'node:fs';
import { chromium } from 'playwright-core';
import { expect, test } from 'vitest';
import { importClientBase } from '../../src/actions/importClientBase.js';
import { demoBusiness } from '../../src/demo/demoBusiness.js';
import { testHouse } from '../setup/testHouse.js';

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
});

/** Needs a Chromium (CHROMIUM, else /usr/bin/chromium): skipped, and said so, where there is none. */
test.skipIf(!existsSync(BROWSER))(
  'in a browser: a key shows the figures and a picture, a wrong one says so, nothing is refused by the policy',
  async () => {
    const t = await testHouse();
    const { base } = demoBusiness(1, '2026-10-01');
    await importClientBase(t.house, { name: 'test' }, { base, source: 'demo', asOf: '2026-10-01' });
    const { lines } = (await t.call('owner', { method: 'GET', url: '/v1/summary' })).body;
    expect(lines).toBeGreaterThan(500);
    const url = await t.app.listen({ host: '127.0.0.1', port: 0 });
    const browser = await chromium.launch({ executablePath: BROWSER, args: QUIET });
    try {
      const page = await browser.newPage();
      const complaints: string[] = [];
      page.on('pageerror', (error) => complaints.push(error.message));
      page.on('console', (line) => {
        if (line.type() === 'error' && !line.text().includes('401')) complaints.push(line.text());
      });
      await page.goto(url);
      expect(await page.locator('#inside').isVisible()).toBe(false);

      await page.fill('#key', 'no such key');
      await page.click('#ask button');
      await page.locator('#said', { hasText: /./ }).waitFor();
      expect(await page.textContent('#said')).toMatch('Authorization: Bearer');

      await page.fill('#key', t.keys.owner);
      await page.click('#ask button');
      await page.waitForSelector('#inside:not([hidden])');
      expect(await page.textContent('#figures')).toMatch(`lines kept open${lines}`);
      await page.click('#pictures button >> nth=0');
      await page.waitForSelector('#picture img');
      await expect
        .poll(() =>
          page
            .locator('#picture img')
            .evaluate((image) => (image as unknown as { naturalWidth: number }).naturalWidth),
        )
        .toBeGreaterThan(0);

      await page.fill('#key', t.keys.technician);
      await page.click('#ask button');
      await page.locator('#who', { hasText: /^technician/ }).waitFor();
      expect(await page.locator('#drawings').isVisible()).toBe(false);
      expect(complaints).toEqual([]);
    } finally {
      await browser.close();
      await t.app.close();
    }
  },
  240_000,
);
