// Goes through the Room page in a real browser: from no plan to a changed and
// saved one, with the mouse and with the keyboard.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { open } from './open.mjs';

const [url, folder, shots] = process.argv.slice(2);
const { page, origin, shot, step, accessible, fits, end } = await open(url, shots, { refused: true });
const file = `${folder}/garage.toml`;
const mark = (name) => page.locator('.ladder .mark', { has: page.locator(`text:has-text("${name}")`) });
/** What the ladder says of a region. */
const reads = async (name) => Number(/([+−]?[\d.]+) ±/.exec(await mark(name).locator('title').last().textContent())[1].replace('−', '-'));
const field = (name) => page.getByRole('spinbutton', { name: new RegExp(`^${name}`) });
const handle = (name, side = false) => page.getByRole('button', { name: new RegExp(`^${name},${side ? ' from the side,' : ''} at`) });
/** Nothing is under way, and what was changed is answered. */
const settled = async () => {
  for (let still = 0, i = 0; still < 3 && i < 100; i++) {
    await page.waitForTimeout(60);
    still = (await page.evaluate(() => globalThis.lampwise.state.asking.value + Object.keys(globalThis.lampwise.room.moving.value).length)) === 0 ? still + 1 : 0;
  }
};
const differs = (name, from) => page.waitForFunction(([n, was]) => {
  const t = [...document.querySelectorAll('.ladder .mark')].find((g) => g.querySelector('.name')?.textContent.startsWith(`${n} `));
  return t && !t.querySelector(':scope > title').textContent.includes(was);
}, [name, from]);
const said = async (name) => /: (\S+)/.exec(await mark(name).locator('title').last().textContent())[1];

await step('no plan yet: the page offers one', async () => {
  await page.goto(url);
  await page.goto(`${origin}/#room`);
  await page.getByRole('heading', { name: 'No plan of the room yet' }).waitFor();
  await shot('room-empty');
  await accessible('no plan');
  await page.getByLabel('call it').fill('garage');
  await page.getByRole('button', { name: 'the mechanic’s garage, with notes' }).click();
  await page.locator('.drawing svg').first().waitFor();
  await settled();
  await page.waitForFunction(() => document.querySelectorAll('.isolux').length > 2);
  await shot('room-1280x720');
  await accessible('room');
  await fits('room');
});

await step('the key is dragged; the ladder follows', async () => {
  const before = await reads('face-lit');
  const was = await said('face-lit');
  const h = await handle('lamp key').boundingBox();
  const [x, y] = [h.x + h.width / 2, h.y + h.height / 2];
  await page.mouse.move(x, y);
  await page.mouse.down();
  const took = [];
  for (let i = 1; i <= 12; i++) {
    const now = await said('face-lit');
    const began = performance.now();
    await page.mouse.move(x, y + 8 * i);
    await differs('face-lit', now).catch(() => {});
    took.push(performance.now() - began);
  }
  await page.mouse.up();
  took.sort((a, b) => a - b);
  console.log(`figure: a step of a drag to the changed ladder ${took[6].toFixed(0)} ms in the middle, ${took[11].toFixed(0)} ms at most (the test's own round trips included)`);
  await settled();
  assert.ok((await reads('face-lit')) < before - 0.2, `farther from the face is darker: ${before} → ${await reads('face-lit')}`);
  assert.notEqual(await said('face-lit'), was);
  await shot('room-dragged');
  // One drag is one step of undo.
  await page.keyboard.press('Control+z');
  await settled();
  assert.equal(await said('face-lit'), was);
  await page.keyboard.press('Control+Shift+z');
  await settled();
  assert.notEqual(await said('face-lit'), was);
  await page.keyboard.press('Control+z');
  await settled();
});

await step('with the keyboard: nudged, lifted, turned, dimmed', async () => {
  await handle('lamp fill').focus();
  const at = await field('right').inputValue();
  await page.keyboard.press('ArrowLeft');
  await settled();
  assert.ok(Math.abs(Number(await field('right').inputValue()) - (Number(at) - 0.05)) < 1e-6);
  const high = Number(await field('high').inputValue());
  await page.keyboard.press('PageUp');
  await settled();
  assert.ok(Math.abs(Number(await field('high').inputValue()) - high - 0.05) < 1e-6);
  const shade = await reads('face-shade');
  for (let i = 0; i < 6; i++) await page.keyboard.press('[');
  await settled();
  assert.notEqual(await reads('face-shade'), shade, 'turning the fill changes the shaded side');
  await handle('lamp fill', true).focus();
  await page.keyboard.press('ArrowDown');
  await settled();
  assert.ok(Math.abs(Number(await field('high').inputValue()) - high) < 1e-6);
  const lit = await reads('face-lit');
  await page.getByLabel('Level of key').focus();
  for (let i = 0; i < 20; i++) await page.keyboard.press('ArrowLeft');
  await settled();
  assert.ok((await reads('face-lit')) < lit - 0.1);
  await accessible('room, nudged');
});

await step('what can’t be is said, and nothing is lost', async () => {
  const before = await page.evaluate(() => globalThis.lampwise.room.text.value);
  await field('high').fill('9');
  await page.keyboard.press('Tab');
  await page.locator('.mid [role="alert"]').waitFor();
  assert.match(await page.locator('.mid [role="alert"]').textContent(), /garage\.toml:\d+/);
  await shot('room-refused');
  await accessible('refused');
  assert.equal(await page.evaluate(() => globalThis.lampwise.room.text.value), before);
});

await step('camera, another lamp, and out with it', async () => {
  await handle('camera').focus();
  const before = await reads('face-lit');
  await page.getByLabel('f-number').selectOption('4');
  await settled();
  assert.ok((await reads('face-lit')) < before - 0.5);
  const n = await page.locator('.rows .lamp').count();
  await page.getByLabel('another lamp').selectOption({ index: 2 });
  await page.getByRole('button', { name: 'add', exact: true }).click();
  await settled();
  assert.equal(await page.locator('.rows .lamp').count(), n + 1);
  await shot('room-added');
  await page.getByRole('button', { name: /^take .* out$/ }).click();
  await settled();
  assert.equal(await page.locator('.rows .lamp').count(), n);
});

await step('what is wanted is solved and taken', async () => {
  await page.getByRole('button', { name: 'what is wanted' }).click();
  await page.getByLabel('one wish a line').fill('face-lit=-0.5 ±0.1\nface-lit/face-shade=3 ±0.3');
  await page.getByRole('button', { name: 'find the levels' }).click();
  await page.getByText(/All is met|Not all can be met/).waitFor();
  await shot('room-solved');
  await accessible('solved');
  const met = (await page.getByText('All is met').count()) > 0;
  await page.getByRole('button', { name: 'take these into the plan' }).click();
  await settled();
  if (met) assert.ok(Math.abs((await reads('face-lit')) + 0.5) <= 0.11, `face-lit reads ${await reads('face-lit')}`);
});

await step('every view below', async () => {
  for (const name of ['light and colour', 'lens and exposure', 'beside a set', 'as text', 'readings']) {
    await page.getByRole('button', { name }).click();
    await accessible(name);
    if (name === 'light and colour') await shot('room-light');
  }
  assert.match(await page.getByRole('region', { name: 'Power and cautions' }).textContent(), /local codes/);
});

await step('reload keeps what is not saved; save writes it with its notes', async () => {
  const text = await page.evaluate(() => globalThis.lampwise.room.text.value);
  assert.notEqual(text, readFileSync(file, 'utf8'));
  await page.reload();
  await page.locator('.drawing svg').first().waitFor();
  await page.waitForFunction((t) => globalThis.lampwise?.room.text.value === t, text);
  await page.getByText('not saved', { exact: true }).waitFor();
  await page.getByRole('button', { name: 'save plan' }).click();
  await page.getByText('saved', { exact: true }).waitFor();
  assert.equal(readFileSync(file, 'utf8'), text);
  assert.ok(text.split('\n').filter((l) => l.includes('#')).length > 10, 'the notes are still there');
});

await step('wide windows, phones', async () => {
  for (const [w, h] of [[1920, 1080], [390, 844]]) {
    await page.setViewportSize({ width: w, height: h });
    await page.waitForTimeout(500);
    await settled();
    await shot(`room-${w}x${h}`);
    await accessible(`room at ${w}`);
    await fits(`room at ${w}`);
  }
});

await step('nothing was asked of anyone else, nothing broke', end);
