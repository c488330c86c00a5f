// What the browser tests of the places share: a browser, steps, a look at
// accessibility, screenshots.
import assert from 'node:assert/strict';
import { mkdirSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/**
 * Opens the page that a server's address leads to. refused: requests are refused
 * on purpose, which the console tells, too; else any error on it is a fault.
 */
export async function open(url, shots, { phone = '', refused = false } = {}) {
  const origin = new URL(url).origin;
  mkdirSync(shots, { recursive: true });
  const browser = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist', '--autoplay-policy=no-user-gesture-required'],
  });
  const context = await browser.newContext({ viewport: { width: 1280, height: 720 } });
  context.setDefaultTimeout(30000);
  const outside = [];
  context.on('request', (r) => {
    const u = r.url();
    if (!u.startsWith(origin) && !(phone && u.startsWith(phone)) && !u.startsWith('data:') && !u.startsWith('blob:')) outside.push(u);
  });
  const broken = [];
  const watch = (p) => {
    p.on('pageerror', (e) => broken.push(e.message));
    p.on('console', (m) => m.type() === 'error' && !(refused && /status of 4\d\d/.test(m.text())) && broken.push(m.text()));
  };
  const page = await context.newPage();
  watch(page);
  const shot = (name) => page.screenshot({ path: `${shots}/${name}.png` });
  return {
    page,
    origin,
    shot,
    async step(name, what) {
      const began = performance.now();
      try {
        await what();
      } catch (error) {
        await shot('failed').catch(() => {});
        console.log(`FAILED ${name}: ${error.stack}`);
        process.exit(1);
      }
      console.log(`ok ${name} (${Math.round(performance.now() - began)} ms)`);
    },
    browser,
    context,
    broken,
    watch,
    async accessible(name, of = page) {
      // The page's policy lets no script in; the checker goes in by the debugger.
      await of.evaluate(axe);
      const found = await of.evaluate(async () => (await globalThis.axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })).violations.map((v) => `${v.id}: ${v.nodes.map((n) => `${n.target} ${n.any.map((a) => a.message)}`).slice(0, 4).join(' | ')}`));
      assert.deepEqual(found, [], `axe on ${name}`);
    },
    async fits(name) {
      const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
      assert.ok(wide <= 0, `${name} is ${wide} px too wide`);
    },
    async end() {
      assert.deepEqual(outside, [], 'nothing was asked of anyone else');
      assert.deepEqual(broken, [], 'nothing broke');
      await browser.close();
    },
  };
}
