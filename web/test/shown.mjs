// Waits for the picture to be drawn, and hands what is drawn over to Go, which
// compares it with the path's own arithmetic.
import { writeFileSync } from 'node:fs';

/** out: the folder that pictures are handed over in. */
export function shown(page, out) {
  /** The picture is drawn and nothing is under way. */
  const settled = async (p = page) => {
    await p.waitForFunction(() => globalThis.lampwise?.screen.drawn > 0);
    let last = '';
    for (let still = 0, i = 0; still < 3 && i < 100; i++) {
      await p.waitForTimeout(100);
      const now = await p.evaluate(() => `${globalThis.lampwise.screen.drawn} ${globalThis.lampwise.state.asking.value}`);
      still = now === last && now.endsWith(' 0') ? still + 1 : 0;
      last = now;
    }
  };
  let pictures = 0;
  const handOver = async (name) => {
    await settled();
    const got = await page.evaluate(() => {
      const { screen, state: s } = globalThis.lampwise;
      const lamps = screen.source === 'lamps';
      return {
        clip: lamps ? '' : s.clip.value.id, frame: s.frameNumber.value, after: lamps ? '' : s.after.value, set: lamps ? s.setName.value : '', levels: s.levels.value, grade: s.grade.value,
        width: screen.canvas.width, height: screen.canvas.height, data: screen.pixels().toBase64?.() ?? btoa(Array.from(screen.pixels(), (b) => String.fromCharCode(b)).join('')),
      };
    });
    const { data, ...rest } = got;
    const file = `${out}/pixels-${++pictures}`;
    writeFileSync(`${file}.raw`, Buffer.from(data, 'base64'));
    writeFileSync(`${file}.json`, JSON.stringify({ name, ...rest, pixels: `${file}.raw` }));
  };
  return { settled, handOver };
}
