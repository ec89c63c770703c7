// The pictures of the README that show pages: `npm run pictures` makes them anew. Look at each before you commit it.
import { spawn } from 'node:child_process';
import { copyFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import { binary, browser, hitchwork, open, sheet, workshop } from './src/browser.js';

const root = fileURLToPath(new URL('../../', import.meta.url));
const into = (name) => join(root, 'demo/pictures', `${name}.png`);
const { folder, done } = workshop();
const chromium = await browser();

async function phone() {
  const address = sheet(folder, 'drift', 'drift', '--set', 'threads=10');
  const { page } = await open(chromium, address, { width: 360, height: 720, touch: true });
  await page.setViewport({ width: 360, height: 720, deviceScaleFactor: 2, hasTouch: true, isMobile: true });
  for (let step = 0; step < 22; step += 1) await page.$eval('#next', (next) => next.click());
  await page.$eval('#tracker', (tracker) => tracker.scrollIntoView({ block: 'start' }));
  await new Promise((later) => setTimeout(later, 1000));
  await page.screenshot({ path: into('sheet-phone') });
}

async function gallery() {
  const made = join(folder, 'class');
  hitchwork('collect', join(root, 'demo/evening-class/plan.toml'), '--out', made, '--quiet');
  const { page } = await open(chromium, pathToFileURL(join(made, 'index.html')).href, { width: 1080, height: 726 });
  await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
  await page.$$eval('.grid img', (all) => Promise.all(all.slice(0, 6).map((each) => each.decode())));
  await page.screenshot({ path: into('gallery') });
}

async function watch() {
  const rule = join(folder, 'tide.rhai');
  copyFileSync(join(root, 'scripts/flotsam.rhai'), rule);
  const command = spawn(binary, ['watch', rule, '--seed', '350027'], { stdio: ['ignore', 'ignore', 'pipe'] });
  const address = await new Promise((found) => {
    let said = '';
    command.stderr.on('data', (text) => {
      said += text;
      const [line] = said.match(/http:\/\/\S+/) ?? [];
      if (line) found(line);
    });
  });
  const { page } = await open(chromium, address, { width: 1080, height: 641 });
  await page.waitForFunction(() => document.querySelector('#picture')?.naturalWidth > 1);
  await new Promise((later) => setTimeout(later, 1000));
  await page.screenshot({ path: into('watch') });
  command.kill();
}

function explored() {
  const out = join(folder, 'explored');
  hitchwork('explore', 'flotsam', '--set', 'symmetry=glide', '--where', 'repeats_to_close <= 4', '--where', 'novelty > 0.15', '--count', '6', '--quiet', '--out', out);
  copyFileSync(join(out, 'contact.png'), into('explored'));
}

explored();
for (const picture of [phone, gallery, watch]) await picture();
await chromium.close();
done();
