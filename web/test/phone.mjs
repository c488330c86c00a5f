// Pairs a phone by the computer's code and goes through what it shows.
import assert from 'node:assert/strict';
import { open } from './open.mjs';

const [url, , shots, lan] = process.argv.slice(2);
const { page, origin, browser, shot, step, accessible, end } = await open(url, shots, { phone: lan, refused: true });
const hand = await browser.newContext({ viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true, userAgent: 'a test (iPhone; like a phone)' });
hand.setDefaultTimeout(30000);
const phone = await hand.newPage();
const held = (name) => phone.screenshot({ path: `${shots}/${name}.png` });
const fits = async (name) => assert.ok((await phone.evaluate(() => document.documentElement.scrollWidth - innerWidth)) <= 0, `${name} is too wide`);

await step('the computer shows a code, the phone is paired by it', async () => {
  await page.goto(url);
  await page.goto(`${origin}/#lamps`);
  await page.getByRole('button', { name: 'phones', exact: true }).click();
  await page.getByRole('button', { name: 'pair a phone' }).click();
  const code = (await page.locator('.phones .code').textContent()).replace(/\D/g, '').slice(0, 6);
  await shot('lamps-phones');
  await accessible('phones');
  await phone.goto(lan);
  await phone.getByRole('heading', { name: 'Pair this phone' }).waitFor();
  await held('phone-pair');
  await accessible('pairing', phone);
  await phone.getByLabel('code').fill(code === '000000' ? '000001' : '000000');
  await phone.getByRole('button', { name: 'pair', exact: true }).click();
  await phone.getByRole('alert').getByText('that is not the code').waitFor();
  await phone.getByRole('button', { name: 'close' }).click();
  await phone.getByLabel('code').fill(code);
  await phone.getByLabel('code').press('Enter');
  await phone.getByRole('button', { name: 'check the set' }).waitFor();
  await page.getByText(/a phone, since/).waitFor();
});

await step('set check, set card, caller in the hand', async () => {
  await phone.getByRole('button', { name: 'check the set' }).tap();
  await phone.locator('.verdict').waitFor({ timeout: 60000 });
  assert.equal(await phone.getByRole('alert').count(), 0, 'nothing is refused that the phone asks by itself');
  await held('phone-check');
  await accessible('check', phone);
  await fits('check');
  await phone.getByRole('button', { name: 'set card' }).tap();
  await phone.locator('.card table').first().waitFor();
  await held('phone-card');
  await accessible('card', phone);
  await fits('card');
  await phone.getByRole('button', { name: 'caller' }).tap();
  await phone.getByRole('button', { name: 'call it' }).waitFor();
  await held('phone-caller');
  await accessible('caller', phone);
  await fits('caller');
  await phone.reload();
  await phone.getByRole('button', { name: 'check the set' }).waitFor();
  for (const [w, h] of [[360, 640], [844, 390]]) {
    await phone.setViewportSize({ width: w, height: h });
    await fits(`${w} wide`);
  }
});

await step('a forgotten phone is a stranger again', async () => {
  await page.getByRole('button', { name: 'forget it' }).click();
  await page.getByText('No phone is paired.').waitFor();
  await phone.reload();
  await phone.getByRole('heading', { name: 'Pair this phone' }).waitFor();
});

await step('nothing was asked of anyone else, nothing broke', end);
