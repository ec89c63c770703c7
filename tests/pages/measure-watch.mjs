// How long it takes from saving a rule to the new picture on the live page, over 50 edits, of which no two make the same band.
//
//     HITCHWORK=target/release/hitchwork npm run measure-watch
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { browser, watching, workshop } from './src/browser.js';

const EDITS = 50;
const { folder, done } = workshop();
const chromium = await browser();
const median = (all) => [...all].sort((a, b) => a - b)[Math.floor(all.length / 2)];
const rule = (threads, repeats, edit) =>
  `/// Edit ${edit}.\nband(${threads}).repeat(lattice(${threads}, 2, |row, column| if (row * ${edit + 5} + column * ${edit + 2}) % 11 < 4 { backward(column) } else { forward(column) })).repeats(${repeats}).title("edit ${edit}")\n`;

for (const [threads, repeats] of [[12, 60], [40, 200]]) {
  const file = join(folder, `rule-${threads}.rhai`);
  writeFileSync(file, rule(threads, repeats, 0));
  const command = await watching([file]);
  const page = await chromium.newPage();
  await page.setViewport({ width: 1280, height: 900 });
  await page.goto(command.address);
  await page.waitForSelector('#picture:not([hidden])');
  // The page notes when each picture has been painted, by the clock that this script has too.
  await page.evaluate(() => {
    window.painted = {};
    new MutationObserver(() => requestAnimationFrame(() => setTimeout(() => {
      const image = document.getElementById('picture');
      window.painted[image.alt] ??= [Date.now(), Number(image.dataset.took)];
    }))).observe(document.getElementById('table'), { childList: true });
  });
  const [whole, own] = [[], []];
  for (let edit = 1; edit <= EDITS; edit += 1) {
    const began = Date.now();
    writeFileSync(file, rule(threads, repeats, edit));
    const seen = `edit ${edit}: the finished band`;
    await page.waitForFunction((seen) => window.painted[seen], { timeout: 60_000, polling: 50 }, seen);
    const [at, took] = await page.evaluate((seen) => window.painted[seen], seen);
    whole.push(at - began);
    own.push(at - began - took);
  }
  const say = (name, all) => console.log(`  ${name}: median ${median(all).toFixed(1)} ms, worst ${Math.max(...all).toFixed(1)} ms`);
  console.log(`${threads} threads by ${repeats} repeats, ${EDITS} edits:`);
  say('from save to new picture', whole);
  say('of that, the run itself', whole.map((ms, at) => ms - own[at]));
  say('the page\'s own share', own);
  await page.close();
  await command.stop();
}
await chromium.close();
done();
