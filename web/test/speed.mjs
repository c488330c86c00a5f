// Measures how long a person waits: from the start of lampwise to a page that
// can be used, for a slider's move, for a place in the clip. Prints figures and
// holds none of them to a time.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { open } from './open.mjs';

const [program, folder, shots, data] = process.argv.slice(2);
const serve = async () => {
  const running = spawn(program, ['serve', '--no-open', '--json', '--data', data, folder], { stdio: ['ignore', 'pipe', 'inherit'] });
  process.on('exit', () => running.kill('SIGKILL'));
  let text = '';
  for await (const part of running.stdout) {
    text += part;
    if (text.includes('"url"') && text.trimEnd().endsWith('}')) return { url: JSON.parse(text).url, running };
  }
  throw new Error(`lampwise serve ended: ${text}`);
};
const began = performance.now();
const { url, running } = await serve();
const listening = performance.now() - began;
const { page, step, end } = await open(url, shots, {});
const middle = (all) => all.toSorted((a, b) => a - b)[Math.floor(all.length / 2)];
const line = (name, all) => console.log(`figure: ${name}: ${middle(all).toFixed(0)} ms in the middle of ${all.length}, ${Math.max(...all).toFixed(0)} at most`);

/** Nothing is asked and nothing is being drawn. */
const quiet = async () => {
  await page.waitForFunction(() => globalThis.lampwise.state.asking.value === 0 && globalThis.lampwise.state.light.value);
  await page.evaluate(() => globalThis.lampwise.screen.pixels().length);
};

await step('the page is there', async () => {
  for (const which of ['first, the clip unread', 'again', 'and again']) {
    const from = performance.now();
    await page.goto(which === 'again' || which === 'and again' ? new URL(url).origin : url);
    await page.waitForFunction(() => globalThis.lampwise?.state.frame.value && globalThis.lampwise.state.right.value, null, { polling: 5 });
    const had = performance.now() - from;
    await page.waitForFunction(() => globalThis.lampwise.screen.drawn > 0, null, { polling: 5 });
    await page.evaluate(() => globalThis.lampwise.screen.pixels().length);
    console.log(`figure: the page, ${which}: frame and program there after ${had.toFixed(0)} ms, drawn after ${(performance.now() - from).toFixed(0)}`);
    await quiet();
  }
  console.log(`figure: lampwise listens ${listening.toFixed(0)} ms after its start`);
});

/** From the place's move to the drawn frame, and to the one of full width. */
const scrub = async (places) => {
  const out = [];
  for (const n of places) {
    await quiet();
    await page.waitForTimeout(400); // the light's reading is begun a moment after the frame
    await quiet();
    out.push(await page.evaluate(async (to) => {
      const { screen, state: s } = globalThis.lampwise;
      const input = document.querySelector('.scrub');
      const until = async (ok) => {
        while (!ok()) await new Promise((r) => setTimeout(r, 1));
      };
      const from = performance.now();
      const began = screen.drawn;
      input.value = String(to);
      input.dispatchEvent(new Event('input', { bubbles: true }));
      await until(() => s.frame.value?.number === to);
      const had = performance.now() - from;
      await until(() => screen.drawn > began);
      screen.finish();
      const shown = performance.now() - from;
      await until(() => s.frame.value?.number === to && s.frame.value.width > 480);
      return { had, shown, sharp: performance.now() - from, number: to };
    }, n));
  }
  return out;
};
const lines = (name, all) => {
  line(`${name}: the frame is there`, all.map((x) => x.had));
  line(`${name}: drawn by software`, all.map((x) => x.shown));
  line(`${name}: there at full width (asked for 100 ms after)`, all.map((x) => x.sharp));
};

await step('places in the clip', async () => {
  const frames = await page.evaluate(() => globalThis.lampwise.state.clip.value.frames);
  const at = (parts) => parts.map((p) => Math.floor(p * (frames - 1)));
  lines('a place, just after the clip was opened', await scrub(at([0.1])));
  await page.waitForTimeout(6000);
  lines('a place, later', await scrub(at([0.8, 0.2, 0.95, 0.5, 0.05, 0.65, 0.3, 0.9])));
  lines('the next frame', await scrub([1, 2, 3, 4, 5, 6].map((k) => at([0.4])[0] + k)));
});

await step('a slider', async () => {
  const all = await page.evaluate(async () => {
    const { screen } = globalThis.lampwise;
    [...document.querySelectorAll('.path .stage')][1].click();
    await new Promise((r) => setTimeout(r, 300));
    const input = document.querySelector('.control input[type=range]');
    const out = [];
    for (let i = 0; i < 20; i++) {
      const n = screen.drawn;
      const from = performance.now();
      input.value = String(0.05 * (i + 1));
      input.dispatchEvent(new Event('input', { bubbles: true }));
      const handled = performance.now() - from;
      while (screen.drawn === n) await new Promise((r) => setTimeout(r, 1));
      screen.finish();
      out.push({ handled, drawn: screen.spent, whole: performance.now() - from });
    }
    return out;
  });
  for (const k of ['handled', 'drawn', 'whole']) console.log(`figure: a slider’s move, ${k}: ${middle(all.map((x) => x[k])).toFixed(1)} ms in the middle, ${Math.max(...all.map((x) => x[k])).toFixed(1)} at most`);
});

running.kill('SIGINT');
await step('nothing broke', async () => {
  await end().catch((e) => assert.match(String(e), /CONNECTION|nothing broke/));
});
