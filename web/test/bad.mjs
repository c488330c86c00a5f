// Goes through what goes wrong while the page is open, and through what it says
// of it. Starts lampwise itself, ends it and starts it again.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { copyFileSync, existsSync, mkdirSync, readdirSync, readFileSync, renameSync, rmSync, statfsSync, writeFileSync } from 'node:fs';
import { open } from './open.mjs';

const [program, folder, shots, elsewhere, small] = process.argv.slice(2);
let running = null;
const start = async () => {
  running = spawn(program, ['serve', '--no-open', '--json', '--data', `${elsewhere}/data`, folder], { stdio: ['ignore', 'pipe', 'inherit'] });
  let text = '';
  for await (const part of running.stdout) {
    text += part;
    try {
      return JSON.parse(text).url;
    } catch {
      // not all of it yet
    }
  }
  throw new Error(`lampwise serve ended: ${text}`);
};
const stop = async () => {
  const ended = once(running, 'exit');
  running.kill('SIGINT');
  await ended;
};
process.on('exit', () => running?.kill('SIGKILL'));

const url = await start();
const { page, origin, context, broken, watch, shot, step, accessible, fits, end } = await open(url, shots, { refused: true });
const state = (name, p = page) => p.evaluate((n) => globalThis.lampwise.state[n].value, name);
const alert = (p = page) => p.getByRole('alert');
const said = async (text) => {
  await alert().getByText(text).first().waitFor();
  return alert().first().textContent();
};
const close = () => page.getByRole('button', { name: 'close' }).click();
const drawn = (p = page) => p.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0 && globalThis.lampwise.state.grade.value && globalThis.lampwise.state.asking.value === 0);
const stage = (name, p = page) => p.locator('.path .stage', { has: p.locator(`span:text-is("${name}")`) });
const exposure = async (value, p = page) => {
  await stage('exposure', p).click();
  await p.getByLabel('exposure', { exact: true }).fill(String(value));
};
const stops = async (p = page) => (await state('grade', p)).exposure.stops;
const debug = await context.newCDPSession(page);
const hold = (type, files) => debug.send('Input.dispatchDragEvent', { type, x: 640, y: 300, data: { items: [], files, dragOperationsMask: 1 } });
const drop = async (...files) => {
  await hold('dragEnter', files);
  await hold('dragOver', files);
  await hold('drop', files);
};

await step('the page opens', async () => {
  await page.goto(url);
  await drawn();
});

await step('wrong files dropped are said, right ones opened', async () => {
  const put = (name, data) => {
    writeFileSync(`${elsewhere}/${name}`, data);
    return `${elsewhere}/${name}`;
  };
  await hold('dragEnter', [put('notes.txt', 'buy gaffer tape')]);
  await hold('dragOver', [put('notes.txt', 'buy gaffer tape')]);
  await page.getByText('Let go').waitFor();
  await shot('bad-dragging');
  await hold('drop', [put('notes.txt', 'buy gaffer tape')]);
  await said('“notes.txt” is nothing that can be opened here.');
  await page.getByText('Let go').waitFor({ state: 'detached' });
  await shot('bad-dropped');
  await accessible('a text dropped');
  await close();
  await drop(put('still.png', 'not even a picture'));
  assert.match(await said('still.png'), /picture “still.png” lies in no folder that is open here/);
  await drop(put('wide.cube', 'LUT_3D_SIZE 2\n'));
  assert.match(await said('wide.cube'), /Copy it into/);
  mkdirSync(`${elsewhere}/lesson-13`, { recursive: true });
  await drop(`${elsewhere}/lesson-13`);
  assert.match(await said('“lesson-13” is a folder.'), /lampwise serve lesson-13/);
  copyFileSync(`${folder}/lesson.toml`, put('lesson.toml', '# another\n'));
  await drop(put('lesson.toml', '# another\n'), put('notes.txt', 'x'));
  assert.match(await said('another file than the one of that name'), /Of the 2 that were dropped only the first/);
  assert.equal(page.url(), `${origin}/`, 'the browser did not leave the page');
  await drop(`${folder}/episode-1.mov`);
  await alert().waitFor({ state: 'detached' });
  await exposure(0);
  copyFileSync(`${folder}/amber-dusk.cube`, `${folder}/dusk-too.cube`);
  await drop(`${folder}/dusk-too.cube`);
  await page.waitForFunction(() => globalThis.lampwise.state.grade.value.look.lut === 'dusk-too.cube');
  await page.keyboard.press('Control+z');
  await page.waitForFunction(() => globalThis.lampwise.state.grade.value.look.lut === 'amber-dusk.cube');
  rmSync(`${folder}/dusk-too.cube`);
});

await step('a file that only looks like a clip', async () => {
  writeFileSync(`${folder}/half.mov`, readFileSync(`${folder}/episode-1.mov`).subarray(0, 40000));
  await page.evaluate(() => dispatchEvent(new Event('focus')));
  const clips = page.locator('header label', { hasText: 'clip' }).locator('select');
  await clips.locator('option', { hasText: 'half.mov' }).waitFor({ state: 'attached' });
  const before = await clips.inputValue();
  await clips.selectOption({ label: 'half.mov' });
  await said('half.mov');
  assert.equal(await clips.inputValue(), before, 'the clip that was open still is');
  await shot('bad-clip');
  await accessible('a broken clip');
  rmSync(`${folder}/half.mov`);
  await close();
});

await step('a clip that vanishes while it is open, and comes back', async () => {
  renameSync(`${folder}/episode-1.mov`, `${folder}/away`);
  await exposure(0.4);
  await said('episode-1.mov is not in its folder any more');
  await shot('bad-vanished');
  await accessible('vanished');
  assert.equal(await stops(), 0.4);
  const seen = await page.evaluate(() => globalThis.lampwise.screen.drawn);
  renameSync(`${folder}/away`, `${folder}/episode-1.mov`);
  await alert().waitFor({ state: 'detached' });
  await page.waitForFunction((n) => globalThis.lampwise.screen.drawn > n, seen);
  assert.equal(await stops(), 0.4);
});

const render = () => page.getByRole('button', { name: /^render/ }).click();
if (small) {
  const fill = (left) => {
    const free = statfsSync(folder).bavail * statfsSync(folder).bsize;
    try {
      writeFileSync(`${folder}/filler`, Buffer.alloc(Math.max(0, free - left)));
    } catch (error) {
      if (error.code !== 'ENOSPC') throw error; // something else was written meanwhile: it is full, too
    }
  };
  await step('the disk is full: saving', async () => {
    const before = readFileSync(`${folder}/lesson.toml`, 'utf8');
    fill(0);
    await page.getByRole('button', { name: 'save grade' }).click();
    await said('the disk is full');
    await shot('bad-full-save');
    assert.equal(readFileSync(`${folder}/lesson.toml`, 'utf8'), before, 'the file is as it was');
    assert.equal(await stops(), 0.4);
    rmSync(`${folder}/filler`);
    await page.getByRole('button', { name: 'save grade' }).click();
    await page.getByText('saved', { exact: true }).waitFor();
    assert.equal(await alert().count(), 0, 'what is mended is said no more');
    assert.match(readFileSync(`${folder}/lesson.toml`, 'utf8'), /stops = 0.4/);
  });
  await step('the disk is full: while a render runs', async () => {
    await render();
    await page.waitForFunction(() => Object.values(globalThis.lampwise.state.jobs.value).some((j) => j.kind === 'render' && j.step?.done > 3), null, { polling: 5, timeout: 120000 });
    fill(0);
    await page.locator('.jobs .bad').first().waitFor({ timeout: 120000 });
    const text = await page.locator('.jobs li').first().textContent();
    console.log(`said: ${text}`);
    assert.match(text, /disk is full/);
    await shot('bad-full-render');
    await accessible('full disk');
    assert.deepEqual(readdirSync(folder).filter((f) => /finished|part/.test(f)), [], 'nothing is left behind');
    rmSync(`${folder}/filler`);
    await render();
    await page.getByRole('button', { name: 'verify' }).waitFor({ timeout: 120000 });
    assert.ok(existsSync(`${folder}/episode-1-finished.mov`));
  });
} else {
  console.log('not tried: the full disk');
}

await step('lampwise is ended while a render runs, and started again', async () => {
  await exposure(0.6);
  await render();
  await page.waitForFunction(() => Object.values(globalThis.lampwise.state.jobs.value).some((j) => j.kind === 'render' && j.state === 'running' && j.step?.done > 3), null, { polling: 5, timeout: 120000 });
  await exposure(0.9);
  await stop();
  await said('lampwise does not answer.');
  await exposure(1.1); // goes on being changed meanwhile
  await page.waitForTimeout(400);
  assert.equal(await alert().count(), 1, 'it is said once');
  await shot('bad-lost');
  await accessible('lost');
  await fits('lost');
  const address = await start();
  assert.equal(new URL(address).origin, origin, 'the same folder has the same address');
  await said('lampwise was started again.');
  await shot('bad-anew');
  await accessible('started anew');
  const other = await context.newPage();
  watch(other);
  await other.goto(address);
  await drawn(other);
  assert.equal(await stops(other), 1.1, 'the window opened anew has what was not saved');
  await other.close();
  await alert().waitFor({ state: 'detached' });
  await page.getByText('lampwise ended while this was running.').waitFor();
  assert.equal(await stops(), 1.1);
  await page.waitForFunction(() => globalThis.lampwise.state.asking.value === 0);
  await exposure(1);
  await page.getByText('not saved', { exact: true }).waitFor();
  await shot('bad-back');
});

await step('a reload keeps everything', async () => {
  await page.getByLabel('see', { exact: true }).selectOption('curve');
  await page.getByLabel('beside it').selectOption('decode');
  await page.getByLabel('scope').selectOption('waveform');
  await page.getByLabel('Place in the clip').fill('37');
  await stage('vignette').click();
  await page.waitForFunction(() => globalThis.lampwise.state.asking.value === 0);
  await page.reload();
  await drawn();
  assert.deepEqual([await state('after'), await state('wipeStage'), await state('scope'), await state('frameNumber'), await state('stage'), await stops()], ['curve', 'decode', 'waveform', 37, 'vignette', 1]);
  await page.keyboard.press('Control+z');
  assert.notEqual(await stops(), 1, 'undo goes back over the reload');
  await page.keyboard.press('Control+Shift+z');
  assert.equal(await stops(), 1);
  await page.getByLabel('see', { exact: true }).selectOption('');
  await page.getByLabel('beside it').selectOption('none');
  await page.getByLabel('scope').selectOption('');
});

await step('two windows on one grade, and a change from outside', async () => {
  const other = await context.newPage();
  watch(other);
  await other.goto(`${origin}/`);
  await drawn(other);
  assert.equal(await stops(other), 1);
  await exposure(-0.5, other);
  await page.waitForFunction(() => globalThis.lampwise.state.grade.value.exposure.stops === -0.5);
  await page.keyboard.press('Control+z');
  await other.waitForFunction(() => globalThis.lampwise.state.grade.value.exposure.stops === 1);
  await other.getByRole('button', { name: 'save grade' }).click();
  await page.getByText('saved', { exact: true }).waitFor();
  await other.close();
  const outside = () => writeFileSync(`${folder}/lesson.toml`, readFileSync(`${folder}/lesson.toml`, 'utf8').replace(/amount = [\d.]+/, 'amount = 0.77'));
  outside();
  await exposure(0.2);
  await page.getByRole('button', { name: 'save grade' }).click();
  await said('was changed elsewhere since it was opened here');
  await shot('bad-changed');
  await accessible('changed elsewhere');
  assert.match(readFileSync(`${folder}/lesson.toml`, 'utf8'), /amount = 0.77/);
  await page.getByRole('button', { name: 'take what it holds' }).click();
  await page.waitForFunction(() => globalThis.lampwise.state.grade.value.saturation.amount === 0.77);
  await page.getByText('saved', { exact: true }).waitFor();
  await page.keyboard.press('Control+z');
  assert.equal(await stops(), 0.2, 'what was mine is one step back');
  await page.getByRole('button', { name: 'save grade' }).click();
  await page.getByText('saved', { exact: true }).waitFor();
  assert.doesNotMatch(readFileSync(`${folder}/lesson.toml`, 'utf8'), /amount = 0.77/);
});

await stop();
running = null;
const harmless = /ERR_CONNECTION_REFUSED|ERR_EMPTY_RESPONSE|ERR_CONNECTION_RESET|ERR_INCOMPLETE_CHUNKED|status of 4\d\d/;
broken.splice(0, broken.length, ...broken.filter((b) => !harmless.test(b)));
await step('nothing was asked of anyone else, nothing broke', end);
