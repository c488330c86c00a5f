// The whole way from an empty folder to a graded, verified render, with the
// keyboard alone: every control is reached with Tab and pressed.
import assert from 'node:assert/strict';
import { open } from './open.mjs';

const [url, , shots] = process.argv.slice(2);
const { page, shot, step, accessible, end } = await open(url, shots);

/** Tabs until the wanted control has the focus; every stop on the way is counted. */
const reach = async (role, name, want = page.getByRole(role, { name, exact: true })) => {
  await want.waitFor();
  for (let n = 0; n < 120; n++) {
    if (await want.evaluate((e) => e === document.activeElement)) {
      const seen = await want.evaluate((e) => getComputedStyle(e).outlineStyle !== 'none' || getComputedStyle(e).boxShadow !== 'none');
      assert.ok(seen, `the focus on ${name} is seen`);
      return n;
    }
    await page.keyboard.press('Tab');
  }
  assert.fail(`${role} ${name} can't be reached with Tab`);
};
const press = async (role, name) => {
  const n = await reach(role, name);
  await page.keyboard.press('Enter');
  return n;
};

await step('an empty folder: the example is made here', async () => {
  await page.goto(url);
  await page.getByRole('heading', { name: 'Begin with a clip' }).waitFor();
  await shot('first-start');
  await accessible('first start');
  await press('button', 'make the example here');
  await page.locator('.empty [role="status"]').waitFor();
  // What was made is opened by itself: a clip, its grade, the set.
  await page.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0 && globalThis.lampwise.state.grade.value && globalThis.lampwise.state.set.value, null, { timeout: 280000 });
  await shot('first-opened');
  await accessible('the example is there');
});

await step('the exposure is changed on its ruler, and saved', async () => {
  await reach('button', 'exposure', page.locator('.path .stage', { hasText: 'exposure' }));
  await page.keyboard.press('Enter');
  await reach('slider', 'exposure');
  for (let i = 0; i < 4; i++) await page.keyboard.press('ArrowRight');
  assert.ok(Math.abs((await page.evaluate(() => globalThis.lampwise.state.grade.value.exposure.stops)) - 0.2) < 1e-6);
  await press('button', 'save grade');
  await page.getByText('saved', { exact: true }).waitFor();
});

await step('rendered and verified', async () => {
  const again = await page.getByRole('button', { name: 'render again', exact: true }).count();
  await press('button', again ? 'render again' : 'render');
  await page.getByRole('button', { name: 'verify', exact: true }).waitFor({ timeout: 120000 });
  await press('button', 'verify');
  await page.getByText(/nothing is wrong|to look at/).waitFor({ timeout: 120000 });
  console.log(`figure: ${await page.locator('.jobs li', { hasText: 'verify' }).first().textContent()}`);
  await shot('from-nothing');
  await accessible('from nothing');
});

await step('nothing was asked of anyone else, nothing broke', end);
