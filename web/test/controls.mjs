// Goes through the stages' drawn controls: the split's strips, rungs of a
// channel alone, a conversion LUT of the user's own; by pointer and by keyboard,
// each change taken back by undo.
import assert from 'node:assert/strict';
import { open } from './open.mjs';
import { shown } from './shown.mjs';

const [url, out, shots] = process.argv.slice(2);
const { page, shot, step, accessible, fits, end } = await open(url, shots);
const { settled, handOver } = shown(page, out);
const stage = (name) => page.locator('.path .stage', { has: page.locator(`span:text-is("${name}")`) });
const grade = () => page.evaluate(() => globalThis.lampwise.state.grade.value);
const undo = () => page.keyboard.press('Control+z');

await step('the split: strips by keyboard, by pointer, by number', async () => {
  await page.goto(url);
  await settled();
  await stage('split').click();
  const high = page.getByRole('slider', { name: 'high, cooler to warmer' });
  await high.focus();
  await page.keyboard.press('Shift+ArrowRight');
  assert.equal((await grade()).split.high.mired, 20);
  await page.keyboard.press('Home');
  assert.equal((await grade()).split.high.mired, 0);
  await undo();
  await undo();
  assert.equal((await grade()).split.high.mired, 10);
  const green = page.getByRole('slider', { name: 'middle, pinker to greener' });
  const box = await green.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.mouse.move(box.x + box.width / 2 + 40, box.y + box.height / 2, { steps: 5 });
  await page.mouse.up();
  const duv = (await grade()).split.middle.duv;
  assert.ok(duv > 0.008 && duv < 0.016, `${duv} Duv after 40 px`);
  await undo();
  assert.equal((await grade()).split.middle.duv, 0, 'one drag is one step');
  assert.equal(await page.getByRole('slider', { name: 'shadow, cooler to warmer' }).count(), 0, 'a solved band has no handle');
  // What the server solved is of the grade before until it has answered.
  await settled();
  const solved = await page.evaluate(() => globalThis.lampwise.state.right.value.head.split.pushes[0].mired);
  assert.ok(solved < 0, `the shadow is pushed by ${solved} mired against the high band`);
  await page.getByRole('button', { name: 'shadow solved' }).click();
  assert.equal((await grade()).split.shadow.mired, Math.round(solved), 'left where it was solved to');
  await page.getByLabel('shadow, cooler to warmer, mired').fill('-35');
  await page.getByLabel('shadow, cooler to warmer, mired').press('Enter');
  await page.getByLabel('Middle of shadow, stops from grey').fill('-4');
  await page.getByLabel('Middle of shadow, stops from grey').press('Enter');
  await page.getByLabel('high, cooler to warmer, mired').fill('40');
  await page.getByLabel('high, cooler to warmer, mired').press('Enter');
  const { split } = await grade();
  assert.deepEqual([split.shadow.mired, split.high.mired, split.centres[0], split.counter], [-35, 40, -4, 'none']);
  await handOver('a strong split');
  await shot('picture-split');
  await accessible('split');
  await fits('split');
});

await step('rungs of a channel alone', async () => {
  await stage('curve').click();
  await page.getByRole('button', { name: 'blue', exact: true }).click();
  assert.equal(await page.getByRole('slider', { name: /rung at/i }).count(), 0);
  await page.getByRole('button', { name: 'add a rung' }).click();
  const rung = page.getByRole('slider', { name: /^Blue rung at −4/ });
  await rung.focus();
  await page.keyboard.press('Shift+ArrowUp');
  await page.getByRole('slider', { name: /^Blue rung at \+3/ }).focus();
  await page.keyboard.press('Shift+ArrowDown');
  const { curve } = await grade();
  assert.deepEqual([curve.blue[0][1], curve.blue.at(-1)[1]], [-3.75, 2.75]);
  assert.ok(curve.master.every(([, o], i) => o === [-4.3, -2.1, 0, 2.05, 3.9][i]), 'the rungs of all stay');
  await handOver('blue rungs');
  await shot('picture-channel');
  await accessible('channel');
  await undo();
  await undo();
  await undo();
  assert.deepEqual((await grade()).curve.blue ?? [], []);
  await page.getByRole('button', { name: 'all', exact: true }).click();
  await page.getByRole('slider', { name: /^Rung at/ }).first().waitFor();
});

await step('a conversion LUT of one’s own', async () => {
  await stage('convert').click();
  await page.getByLabel('by', { exact: true }).focus();
  await page.getByLabel('by', { exact: true }).selectOption('my-conversion.cube');
  await page.getByLabel('it gives 0 to 1 as').selectOption('data');
  assert.deepEqual(await page.evaluate(() => { const c = globalThis.lampwise.state.grade.value.convert; return [c.by, c.lut, c.lut_in, c.lut_out]; }), ['lut', 'my-conversion.cube', 'data', 'data']);
  await handOver('a conversion LUT');
  await shot('picture-conversion');
  await accessible('conversion LUT');
  await undo();
  await undo();
  assert.equal((await grade()).convert.by, 'tone');
  await settled();
  assert.equal(await page.getByRole('alert').count(), 0);
});

await step('nothing was asked of anyone else, nothing broke', end);
