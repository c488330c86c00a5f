// Goes through the page in a real browser. Prints what it measured; any
// failure ends it with a non-zero code. Pictures to be compared with the
// reference are written into a folder for browser_test.go.
import assert from 'node:assert/strict';
import { open } from './open.mjs';
import { shown } from './shown.mjs';

const [url, out, shots] = process.argv.slice(2);
const { page, origin, context, broken, watch, shot, step, accessible, fits, end } = await open(url, shots);

const { settled, handOver } = shown(page, out);
const stage = (name) => page.locator('.path .stage', { has: page.locator(`span:text-is("${name}")`) });
const dial = async (name, value) => {
  await page.getByLabel(name, { exact: true }).fill(String(value));
};
const settings = () => page.evaluate(() => globalThis.lampwise.state.grade.value);

await step('the page opens and shows the picture', async () => {
  const began = performance.now();
  await page.goto(url);
  await page.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0 && globalThis.lampwise.state.light.value);
  console.log(`figure: first picture and ladder ${Math.round(performance.now() - began)} ms after the address was opened`);
  assert.equal(page.url(), `${origin}/`, 'the token is out of the address');
  await settled();
  await shot('picture-1280x720');
  await accessible('picture');
  await handOver('the starting grade');
});

await step('every stage has its control', async () => {
  for (const name of ['decode', 'exposure', 'balance', 'split', 'curve', 'saturation', 'convert', 'look', 'vignette', 'encode']) {
    await stage(name).click();
    await page.getByRole('region', { name: `${name} settings` }).waitFor();
    await accessible(name);
  }
});

await step('settings change the picture, undo and redo go over them', async () => {
  await stage('exposure').click();
  const began = await page.evaluate(() => globalThis.lampwise.screen.drawn);
  await dial('exposure', 0.7);
  await page.waitForFunction((n) => globalThis.lampwise.screen.drawn > n, began);
  await stage('saturation').click();
  await dial('saturation', 1.4);
  await page.getByRole('button', { name: 'balance in use' }).click();
  await stage('balance').click();
  await dial('white as recorded', 4300);
  await stage('split').click();
  await stage('look').click();
  await dial('strength', 0.9);
  await stage('vignette').click();
  await dial('darker outside by', 2);
  await handOver('strong settings');
  await shot('picture-vignette');
  assert.equal((await settings()).exposure.stops, 0.7);
  for (let i = 0; i < 6; i++) await page.keyboard.press('Control+z');
  assert.equal((await settings()).exposure.stops, 0);
  await page.keyboard.press('Control+Shift+z');
  assert.equal((await settings()).exposure.stops, 0.7);
  await page.keyboard.press('Control+z');
});

await step('the picture as it is after a stage, and a wipe', async () => {
  const see = page.getByLabel('see', { exact: true });
  for (const at of ['decode', 'saturation', 'convert']) {
    await see.selectOption(at);
    await page.waitForFunction((a) => globalThis.lampwise.state.right.value.head.domain === (a === 'convert' ? 'screen' : a === 'decode' ? 'scene light, shown in log' : 'log'), at);
    await handOver(`after ${at}`);
  }
  await see.selectOption('');
  await page.getByLabel('beside it').selectOption('saturation');
  await page.getByRole('slider', { name: 'Wipe' }).focus();
  await page.keyboard.press('Shift+ArrowLeft');
  await settled();
  await shot('picture-wipe');
  await accessible('wipe');
  await page.getByLabel('beside it').selectOption('none');
});

await step('rungs are the curve: by keyboard', async () => {
  await stage('curve').click();
  const rung = page.getByRole('slider', { name: /^Rung at \+2/ });
  await rung.focus();
  const before = (await settings()).curve.master.find((p) => p[0] === 2)[1];
  await page.keyboard.press('Shift+ArrowUp');
  const after = (await settings()).curve.master.find((p) => p[0] === 2)[1];
  assert.ok(Math.abs(after - before - 0.25) < 1e-9, `${before} → ${after}`);
  await settled();
  await shot('picture-curve');
});

await step('a scope of the frame', async () => {
  await page.getByLabel('scope').selectOption('waveform');
  await page.locator('img.scope').waitFor();
  await page.waitForFunction(() => document.querySelector('img.scope').naturalWidth > 100);
  await settled();
  await shot('picture-scope');
  await accessible('scope');
  await page.getByLabel('scope').selectOption('');
});

await step('slider to picture: main-thread work', async () => {
  await stage('exposure').click();
  const spent = await page.evaluate(async () => {
    const { screen } = globalThis.lampwise;
    const input = [...document.querySelectorAll('.control input[type=range]')][0];
    const all = [];
    for (let i = 0; i < 12; i++) {
      const n = screen.drawn;
      const began = performance.now();
      input.value = String(0.05 * (i + 1));
      input.dispatchEvent(new Event('input', { bubbles: true }));
      const handled = performance.now() - began;
      while (screen.drawn === n) await new Promise((r) => setTimeout(r, 2));
      all.push({ handled, drawn: screen.spent, whole: performance.now() - began });
    }
    return all;
  });
  const of = (k) => spent.map((x) => x[k]).sort((a, b) => a - b);
  const at = (v, q) => v[Math.floor(q * (v.length - 1))].toFixed(1);
  console.log(`figure: a slider's move takes ${at(of('handled'), 0.5)} ms to handle and ${at(of('drawn'), 0.5)} ms to draw on the main thread (95 %: ${at(of('handled'), 0.95)}, ${at(of('drawn'), 0.95)}); from move to drawn picture ${at(of('whole'), 0.5)} ms (95 %: ${at(of('whole'), 0.95)}), software WebGL`);
  await page.keyboard.press('Control+z');
});

await step('scrubbing shows other frames', async () => {
  const began = performance.now();
  await page.getByLabel('Place in the clip').fill('3');
  await page.waitForFunction(() => globalThis.lampwise.state.frameNumber.value === 3);
  const seen = await page.evaluate(() => globalThis.lampwise.screen.drawn);
  await page.waitForFunction((n) => globalThis.lampwise.screen.drawn > n, seen);
  console.log(`figure: scrub to shown frame ${Math.round(performance.now() - began)} ms`);
  await handOver('frame 3');
});

await step('the graphics processor is taken away and comes back', async () => {
  await page.evaluate(async () => {
    const x = globalThis.lampwise.screen.canvas.getContext('webgl2').getExtension('WEBGL_lose_context');
    x.loseContext();
    await new Promise((r) => setTimeout(r, 200));
    x.restoreContext();
  });
  await page.waitForTimeout(400);
  await handOver('after the context was lost');
});

await step('reload keeps what is not saved; save writes it', async () => {
  const now = await settings();
  await page.reload();
  await page.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0 && globalThis.lampwise.state.grade.value);
  assert.deepEqual(await settings(), now);
  await page.getByText('not saved', { exact: true }).waitFor();
  await page.getByRole('button', { name: 'save grade' }).click();
  await page.getByText('saved', { exact: true }).waitFor();
  assert.deepEqual((await settings()).curve.master, now.curve.master);
});

await step('two tabs see the same jobs; render and verify with the keyboard alone', async () => {
  const other = await context.newPage();
  watch(other);
  await other.goto(`${origin}/`);
  await page.getByRole('button', { name: 'render', exact: true }).focus();
  await page.keyboard.press('Enter');
  await page.getByRole('button', { name: 'verify' }).waitFor({ timeout: 90000 });
  await other.getByRole('button', { name: 'verify' }).waitFor();
  await other.close();
  await page.getByRole('button', { name: 'verify' }).focus();
  await page.keyboard.press('Enter');
  await page.getByText(/nothing is wrong|to look at/).waitFor({ timeout: 90000 });
  console.log(`figure: ${await page.locator('.jobs li', { hasText: 'verify' }).first().textContent()}`);
  await shot('picture-verified');
  await accessible('verified');
});

await step('a new grade for the clip', async () => {
  const grades = page.locator('header label', { hasText: 'grade' }).locator('select');
  const first = await grades.inputValue();
  await grades.selectOption('new');
  await page.getByRole('heading', { name: /starting grade/ }).waitFor();
  await shot('picture-new-grade');
  await accessible('new grade');
  await page.getByLabel('camera curve').selectOption('log-420');
  await page.getByRole('button', { name: 'write episode-1.toml' }).click();
  await page.waitForFunction(() => globalThis.lampwise?.state.gradeFile.value === '0/episode-1.toml');
  await page.locator('.path').waitFor();
  await settled();
  await handOver('a new grade');
  await grades.selectOption(first);
  await page.waitForFunction((f) => globalThis.lampwise.state.gradeFile.value === f, first);
});

await step('an export as a LUT', async () => {
  await page.getByRole('button', { name: 'export LUT' }).click();
  await page.getByText(/points a side/).waitFor();
});

await step('lamps: the mix through the grade', async () => {
  await page.goto(`${origin}/#lamps`);
  await page.waitForFunction(() => globalThis.lampwise?.screen.source === 'lamps' && globalThis.lampwise.screen.weights.length > 1);
  await settled();
  await shot('lamps-1280x720');
  await accessible('lamps');
  await handOver('the reference mix');
  await page.getByLabel('Level of key').fill('0.4');
  await page.waitForFunction(() => Math.abs(globalThis.lampwise.screen.weights[0][1] - 0.4) < 0.02);
  await handOver('key at 40 %');
  await page.getByRole('button', { name: 'key alone' }).click();
  await page.getByText('key alone, graded').waitFor();
  await settled();
  await page.getByRole('button', { name: 'key alone' }).click();
});

await step('targets on the ladder, solved', async () => {
  await page.getByRole('button', { name: 'as it was learned' }).click();
  await page.getByRole('button', { name: 'targets' }).click();
  await page.getByRole('button', { name: 'face-lit', exact: true }).click();
  await page.getByRole('slider', { name: 'Target for face-lit' }).focus();
  for (let i = 0; i < 6; i++) await page.keyboard.press('ArrowDown');
  await page.getByRole('button', { name: 'solve for targets' }).click();
  await page.getByText('Every target is met.').waitFor();
  await page.getByRole('button', { name: 'show this mix' }).click();
  await settled();
  await shot('lamps-solved');
  await accessible('solved');
});

await step('who lights what, the set card, the set check', async () => {
  await page.getByRole('button', { name: 'who lights what' }).click();
  await page.locator('.sharename').first().waitFor();
  await page.getByRole('button', { name: 'set card' }).click();
  await shot('lamps-share');
  await accessible('share');
  await page.getByRole('button', { name: 'who lights what' }).click();
  await page.getByRole('button', { name: 'set check' }).click();
  await page.getByRole('button', { name: 'check the set' }).click();
  await page.locator('.verdict').waitFor({ timeout: 60000 });
  await shot('lamps-check');
  await accessible('check');
});

await step('the caller', async () => {
  await page.getByRole('button', { name: 'caller' }).click();
  await accessible('caller');
  await page.getByRole('button', { name: 'call it' }).click();
  await page.locator('.caller .big').waitFor();
  await page.waitForTimeout(700);
  await shot('lamps-caller');
  await page.getByRole('button', { name: 'stop' }).click();
});

/** The holds' pictures are there. */
const seen = (n) => page.waitForFunction((want) => {
  const all = [...document.querySelectorAll('.holds img')];
  for (const i of all) i.loading = 'eager';
  return all.length === want && all.every((i) => i.naturalWidth > 100);
}, n);

await step('learning a set from the switch clip', async () => {
  await page.getByRole('button', { name: 'learn a set' }).click();
  await page.getByLabel('switch clip').selectOption({ label: 'switch.mov' });
  await page.getByLabel('call the set').fill('again');
  await page.getByLabel('what was switched').fill('all, -key, all, -fill, all, -rim, all, -tube, all, -tail, all, dark');
  await page.getByRole('button', { name: 'learn', exact: true }).click();
  await page.locator('.holds li').first().waitFor({ timeout: 90000 });
  assert.equal(await page.locator('.holds li').count(), 12);
  await seen(12);
  await page.locator('.holds').scrollIntoViewIfNeeded();
  await shot('lamps-learned');
  await accessible('learn');
  await page.getByLabel('call the set').fill('short');
  await page.getByLabel('what was switched').fill('all, -key, all');
  await page.getByRole('button', { name: 'learn', exact: true }).click();
  await page.getByText('These holds were found').waitFor({ timeout: 90000 });
  await seen(12);
  await page.locator('.jobs .bad').first().scrollIntoViewIfNeeded();
  await shot('lamps-mismatch');
  await accessible('holds that don’t go with the order');
});

await step('wrong orders and lost servers are said', async () => {
  await page.getByLabel('call the set').fill('third');
  await page.getByLabel('what was switched').fill('all, -key, what?');
  await page.getByRole('button', { name: 'learn', exact: true }).click();
  await page.locator('.jobs .bad').nth(1).waitFor();
  await page.route('**/api/**', (r) => r.abort());
  await page.goto(`${origin}/#picture`);
  await page.waitForTimeout(200);
  await stage('exposure').click();
  await dial('exposure', 0.3);
  await page.getByRole('alert').first().waitFor();
  await page.waitForTimeout(300); // the frame's light is asked for a moment later
  await page.waitForFunction(() => globalThis.lampwise.state.asking.value === 0);
  await page.unroute('**/api/**');
  await page.waitForTimeout(200);
  broken.length = 0; // the requests refused above are told on the console
});

await step('places to come, wide windows, phones', async () => {
  for (const p of ['room', 'episodes']) {
    await page.goto(`${origin}/#${p}`);
    await page.locator('.empty, .adding').waitFor();
    await shot(`${p}-1280x720`);
    await accessible(p);
  }
  for (const [w, h] of [[1920, 1080], [390, 844]]) {
    await page.setViewportSize({ width: w, height: h });
    for (const p of ['picture', 'lamps', 'room', 'episodes']) {
      await page.goto(`${origin}/#${p}`);
      await page.waitForTimeout(900);
      await shot(`${p}-${w}x${h}`);
      await accessible(`${p} at ${w}`);
      await fits(`${p} at ${w}`);
    }
  }
});

await step('what the set measured stands beside the plan on the ladder', async () => {
  await page.setViewportSize({ width: 1280, height: 720 });
  await page.goto(`${origin}/#room`);
  await page.getByLabel('call it').fill('garage');
  await page.getByRole('button', { name: 'the mechanic’s garage, with notes' }).click();
  await page.getByRole('button', { name: 'beside a set' }).click();
  assert.equal(await page.locator('.ladder .measured').count(), 0);
  await page.locator('.besideset select').selectOption('garage');
  await page.locator('.ladder .measured').first().waitFor();
  await page.waitForTimeout(500);
  await shot('room-measured');
  await accessible('room beside a set');
});

await step('nothing was asked of anyone else, nothing broke', end);
