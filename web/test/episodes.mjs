// Goes through the Episodes page in a real browser: the record over time, a day
// added and worked off, a damaged clip set aside, pages to print.
import assert from 'node:assert/strict';
import { open } from './open.mjs';

const [url, , shots] = process.argv.slice(2);
const { page, origin, shot, step, accessible, fits, end } = await open(url, shots, { refused: true });
const turn = (name) => page.getByRole('button', { name, exact: true });

await step('the record of a set', async () => {
  await page.goto(url);
  await page.goto(`${origin}/#episodes`);
  await page.locator('.clips').waitFor();
  await page.locator('.ladder .mark').first().waitFor();
  await shot('episodes-1280x720');
  await accessible('episodes');
  await fits('episodes');
  await turn('day-2').or(page.getByRole('button', { name: /^day-2/ })).first().click();
  await page.getByRole('button', { name: 'day-2-2.mov' }).click();
  await page.getByText(/needs you/).waitFor();
  await accessible('a clip set aside');
});

await step('over time: what ages, what strays', async () => {
  await turn('over time').click();
  await page.locator('.plot').first().waitFor();
  const told = await page.locator('.told').textContent();
  assert.match(told, /day-3 strays.*exposure by \+0\.[45]/s, 'the day whose exposure strayed is named');
  assert.ok((await page.locator('.plot').count()) >= 4);
  await shot('episodes-time');
  await accessible('over time');
  await page.locator('.plot summary').first().focus();
  await page.keyboard.press('Enter');
  await page.locator('.plot details[open] table').waitFor();
});

await step('a day is added, with the keyboard alone, and worked off', async () => {
  await turn('another day …').focus();
  await page.keyboard.press('Enter');
  await accessible('another day');
  const box = (name) => page.getByRole('checkbox', { name: new RegExp(name) });
  for (const name of ['episode-1', 'damaged']) {
    if (!(await box(name).isChecked())) {
      await box(name).focus();
      await page.keyboard.press('Space');
    }
  }
  if (await box('episode-2').isChecked()) {
    await box('episode-2').focus();
    await page.keyboard.press('Space');
  }
  await page.getByLabel('call it').focus();
  await page.keyboard.type('friday');
  // At so few lines two lamps off and one gain leave a little more than usual.
  await page.getByLabel('stops that may be left').fill('0.3');
  await page.getByLabel('ΔE00 that may be left').fill('4');
  await turn('what will be done?').focus();
  await page.keyboard.press('Enter');
  await page.getByText(/2 clips/).waitFor();
  await shot('episodes-add');
  await accessible('what will be done');
  await turn('check, match, render and verify them').focus();
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { name: /friday/ }).waitFor();
  await page.locator('.jobs progress').first().waitFor();
  await shot('episodes-working');
  await page.getByRole('heading', { name: /friday.*1 done · 1 set aside/ }).waitFor({ timeout: 150000 });
  await page.getByRole('button', { name: 'damaged.mov' }).click();
  await page.getByText(/damaged.mov needs you/).waitFor();
  await shot('episodes-aside');
  await accessible('worked off');
  const left = await page.locator('.clips tr', { hasText: 'episode-1' }).textContent();
  console.log(`figure: ${left}`);
});

await step('beside another day: numbers, and what can’t be shown is said', async () => {
  await page.getByRole('button', { name: 'episode-1.mov' }).click();
  await turn('beside another').click();
  await page.locator('.numbers table tr').nth(3).waitFor();
  // The made-up days have no files: their pictures can't be there, the numbers are.
  await page.getByText(/The finished file of day-4 can’t be read/).waitFor();
  await shot('episodes-beside');
  await accessible('beside');
});

await step('to print and hand on', async () => {
  await turn('to print and hand on').click();
  await accessible('to print');
  // The set card is one page of paper, with the plan of the room and without.
  for (const [plan, drawings] of [['', 1], ['room.toml', 2]]) {
    await page.getByLabel('with the plan').selectOption(plan ? { label: plan } : '');
    const card = await page.getByRole('link', { name: 'open the set card' }).getAttribute('href');
    const answer = await page.request.get(`${origin}${card}`);
    assert.equal(answer.status(), 200);
    assert.match(answer.headers()['content-security-policy'], /sandbox/);
    const html = await answer.text();
    assert.equal(html.match(/<svg/g).length, drawings);
    // In its sandbox no script runs, the checker's neither.
    const paper = await page.context().newPage();
    await paper.setContent(html);
    const pdf = await paper.pdf({ preferCSSPageSize: true });
    assert.equal(pdf.toString('latin1').match(/\/Type \/Page\b/g).length, 1, `the set card ${plan} is one page`);
    await accessible(`set card ${plan}`, paper);
    await paper.screenshot({ path: `${shots}/set-card${plan && '-plan'}.png`, fullPage: true });
    await paper.close();
  }
  await turn('write them').click();
  await page.locator('.files li').first().waitFor({ timeout: 90000 });
  assert.ok((await page.locator('.files li').count()) >= 8);
  await shot('episodes-print');
});

await step('wide windows, phones', async () => {
  await turn('clips').click();
  for (const [w, h] of [[1920, 1080], [390, 844]]) {
    await page.setViewportSize({ width: w, height: h });
    await page.waitForTimeout(400);
    await shot(`episodes-${w}x${h}`);
    await accessible(`episodes at ${w}`);
    await fits(`episodes at ${w}`);
  }
});

await step('two finished days under a wipe', async () => {
  await page.setViewportSize({ width: 1280, height: 720 });
  await turn('another day …').click();
  await page.getByRole('checkbox', { name: /episode-2/ }).check();
  await page.getByRole('checkbox', { name: /episode-1/ }).uncheck();
  await page.getByRole('checkbox', { name: /damaged/ }).uncheck();
  await page.getByLabel('call it').fill('saturday');
  await page.getByLabel('stops that may be left').fill('0.5');
  await page.getByLabel('ΔE00 that may be left').fill('6');
  await turn('what will be done?').click();
  await turn('check, match, render and verify them').click();
  await page.getByRole('heading', { name: /saturday.*1 done/ }).waitFor({ timeout: 150000 });
  await turn('beside another').click();
  await page.getByLabel('saturday beside').selectOption('friday');
  for (const i of [0, 1]) await page.locator('.wiped img').nth(i).evaluate((x) => x.decode());
  await page.getByRole('slider', { name: 'Wipe' }).focus();
  await page.keyboard.press('Shift+ArrowLeft');
  assert.equal(await page.getByRole('slider', { name: 'Wipe' }).getAttribute('aria-valuenow'), '40');
  await shot('episodes-wipe');
  await accessible('wipe');
});

await step('nothing was asked of anyone else, nothing broke', end);
