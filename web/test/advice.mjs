// Goes through what the Picture page says of a clip and its grade: suggestions
// taken and taken back, what the grade costs, problems.
import assert from 'node:assert/strict';
import { open } from './open.mjs';

const [url, , shots] = process.argv.slice(2);
const { page, shot, step, accessible, fits, end } = await open(url, shots);
const turn = (name) => page.getByRole('button', { name, exact: true });
const grade = () => page.evaluate(() => globalThis.lampwise.state.grade.value);

await step('suggestions with their reasons, one taken, and taken back', async () => {
  await page.goto(url);
  await page.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0 && globalThis.lampwise.state.grade.value);
  await turn('suggestions').click();
  await accessible('no suggestion yet');
  await turn('what should the grade be?').focus();
  await page.keyboard.press('Enter');
  await page.locator('.given li').first().waitFor({ timeout: 120000 });
  assert.equal(await page.locator('.given li').count(), 6, 'a word for each stage that has a suggestion');
  await shot('picture-suggestions');
  await accessible('suggestions');
  const before = await grade();
  const takes = page.getByRole('button', { name: /^take it/ });
  assert.ok((await takes.count()) > 0, 'something is suggested');
  await takes.first().click();
  await page.waitForFunction((b) => JSON.stringify(globalThis.lampwise.state.grade.value) !== b, JSON.stringify(before));
  await page.keyboard.press('Control+z');
  await page.waitForFunction((b) => JSON.stringify(globalThis.lampwise.state.grade.value) === b, JSON.stringify(before));
});

await step('what the grade costs', async () => {
  await turn('what it costs').click();
  await turn('what does the grade cost?').click();
  await page.locator('.advice .plot').waitFor({ timeout: 120000 });
  await shot('picture-cost');
  await accessible('cost');
});

await step('problems of the clip', async () => {
  await turn('problems').click();
  await turn('what is wrong with this clip?').click();
  await page.getByText(/frames/).first().waitFor();
  await page.getByRole('button', { name: 'measure it again' }).waitFor({ timeout: 120000 });
  await shot('picture-problems');
  await accessible('problems');
  await fits('problems');
});

await step('nothing was asked of anyone else, nothing broke', end);
