// The gallery of a collection, as somebody who chooses uses it.
import assert from 'node:assert/strict';
import { after as afterAll, before as beforeAll, describe, test } from 'node:test';
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath, pathToFileURL } from 'node:url';
import axe from 'axe-core';
import { HtmlValidate } from 'html-validate';
import { browser, hitchwork, open, words, workshop } from './src/browser.js';

const { folder, done } = workshop();
const PLAN = `
title = "Moorings & <knots>"
notes = "An invented class."
[defaults]
lengths = 4
write = ["fabric", "text"]
[[item]]
rule = "candy_stripe"
grid = { threads = [4, 6, 8] }
palettes = ["regatta", "spring tide"]
mirrored = [false, true]
[[item]]
rule = "drift"
grid = { threads = "5..9" }
`;
let chromium;
let address;
beforeAll(async () => {
  chromium = await browser();
  const plan = join(folder, 'moorings.toml');
  writeFileSync(plan, PLAN);
  hitchwork('collect', plan, '--out', join(folder, 'made'), '--quiet');
  address = pathToFileURL(join(folder, 'made', 'index.html')).href;
});
afterAll(async () => {
  await chromium?.close();
  done();
});

const names = (page) => page.$$eval('.grid li h2 + p', (all) => all.map((each) => each.textContent));
/** Waits until the bands shown are those asked for. */
const settled = (page) => page.waitForFunction(() => document.getElementById('grid').getAttribute('aria-busy') !== 'true');

/** The gallery with its members many times over. */
function large(times) {
  const text = readFileSync(join(folder, 'made', 'index.html'), 'utf8');
  const [, data] = text.match(/<script type="application\/json" id="members">([\s\S]*?)<\/script>/);
  const parsed = JSON.parse(data);
  parsed.members = Array.from({ length: times }, (_, round) => parsed.members.map((member) => ({ ...member, name: `${member.name} ${round}` }))).flat();
  const file = join(folder, 'made', 'large.html');
  writeFileSync(file, text.replace(data, () => JSON.stringify(parsed)));
  return { address: pathToFileURL(file).href, count: parsed.members.length };
}

describe('the gallery', () => {
  test('shows every band with its picture, from disk, and asks for nothing else', async () => {
    const { page, heard } = await open(chromium, address);
    assert.equal((await names(page)).length, 17);
    assert.equal(await words(page, 'h1'), 'Moorings & <knots>');
    // Those in sight come by themselves, the others when they are near.
    await page.waitForFunction(() => document.querySelector('.grid img').naturalWidth > 0);
    await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
    await page.$$eval('.grid img', (all) => Promise.all(all.map((each) => each.decode())));
    assert.ok(heard.requests.every((request) => request.startsWith('file:') && request.endsWith('/fabric.svg')), heard.requests.join(' '));
    assert.deepEqual([heard.console, heard.errors], [[], []]);
    await page.close();
  });

  test('every link leads to a file', async () => {
    const { page } = await open(chromium, address);
    const links = await page.$$eval('.grid a', (all) => all.map((each) => each.href));
    assert.equal(links.length, 34);
    for (const link of links) assert.ok(existsSync(fileURLToPath(link)), link);
    await page.close();
  });

  test('searches names, settings, palettes and colours', async () => {
    const { page } = await open(chromium, address);
    await page.type('#search', 'regatta threads 6');
    await settled(page);
    assert.deepEqual(await names(page), ['candy_stripe-6-regatta-as-designed', 'candy_stripe-6-regatta-mirrored']);
    assert.equal(await words(page, '#count'), '2 of 17 bands');
    await page.type('#search', ' nonsense');
    await settled(page);
    assert.equal(await words(page, '#count'), 'No band matches.');
    await page.click('#over');
    await settled(page);
    assert.equal((await names(page)).length, 17);
    await page.close();
  });

  test('sorts by any measure, both ways', async () => {
    const { page } = await open(chromium, address);
    const threads = () => page.$$eval('.grid li p:nth-of-type(2)', (all) => all.map((each) => Number.parseInt(each.textContent, 10)));
    await page.select('#sort', 'threads');
    await settled(page);
    const least = await threads();
    assert.deepEqual(least, [...least].sort((a, b) => a - b));
    await page.select('#order', 'down');
    await settled(page);
    assert.deepEqual(await threads(), [...least].sort((a, b) => b - a));
    await page.close();
  });

  test('offers what most people choose by in words, and says the time as people do', async () => {
    const { page } = await open(chromium, address);
    const offered = await page.$$eval('#sort > option', (all) => all.map((option) => option.textContent));
    assert.deepEqual(offered.slice(0, 3), ['as planned', 'number of threads', 'width in mm']);
    assert.equal(offered.length, 11, 'every measure of the short list is one');
    assert.ok((await page.$$eval('#sort > optgroup > option', (all) => all.length)) > 10);
    const times = await page.$$eval('.grid li p:nth-of-type(3)', (all) => all.map((each) => each.textContent));
    assert.ok(times.every((text) => /^(\d+ h( \d+ min)?|\d+ min), difficulty [\d.]+, symmetry of the colours: /.test(text)), times[0]);
    await page.close();
  });

  test('keeps to limits of numbers, words and switches', async () => {
    const { page } = await open(chromium, address);
    const [first, second] = await page.$$('.limit');
    await (await first.$('select')).select('threads');
    await (await first.$$('input'))[0].type('5');
    await (await first.$$('input'))[1].type('7');
    await (await second.$('select')).select('drifts');
    await (await second.$$('input'))[0].type('yes');
    await settled(page);
    assert.deepEqual(await names(page), ['drift-5', 'drift-6', 'drift-7']);
    await page.close();
  });

  test('lays two or three bands side by side, by keyboard', async () => {
    const { page } = await open(chromium, address);
    const boxes = await page.$$('.links input');
    for (const at of [0, 3]) {
      await boxes[at].focus();
      await page.keyboard.press('Space');
    }
    assert.equal(await words(page, '#compare'), 'Compare 2 bands');
    await page.focus('#compare');
    await page.keyboard.press('Enter');
    const heads = await page.$$eval('#side thead small', (all) => all.map((each) => each.textContent));
    assert.deepEqual(heads, ['candy_stripe-4-regatta-as-designed', 'candy_stripe-4-spring-tide-mirrored']);
    assert.ok((await page.$$('#side .differs')).length > 0);
    await page.keyboard.press('Escape');
    assert.equal(await page.$eval('#beside', (dialog) => dialog.open), false);
    for (const at of [1, 2]) await boxes[at].click();
    assert.equal(await page.$eval('#compare', (button) => button.disabled), true);
    await page.close();
  });

  test('on a phone, what differs comes first, under its name, and Close is always in reach', async () => {
    for (const [width, count] of [[360, 2], [360, 3], [320, 3]]) {
      const { page, heard } = await open(chromium, address, { width, height: 740, touch: true });
      for (const at of [0, 3, 14].slice(0, count)) await (await page.$$('.links input'))[at].click();
      await page.click('#compare');
      await page.$$eval('#side img', (all) => Promise.all(all.map((each) => each.decode())));
      const seen = await page.evaluate(() => {
        const box = (each) => each.getBoundingClientRect();
        const lines = [...document.querySelectorAll('#side tbody tr')].filter((row) => row.querySelector('td'));
        return {
          sideways: [document.documentElement, document.getElementById('side')].map((each) => each.scrollWidth - each.clientWidth),
          // Values stand under their name, beside each other, and wide enough for words.
          under: lines.every((row) => [...row.querySelectorAll('td')].every((cell) => box(cell).top >= box(row.querySelector('th')).bottom - 1)),
          narrowest: Math.min(...lines.flatMap((row) => [...row.querySelectorAll('td')].map((cell) => box(cell).width))),
          differing: lines.map((row) => new Set([...row.querySelectorAll('td')].map((cell) => cell.textContent)).size > 1),
          tall: Math.max(...lines.map((row) => box(row).height)),
        };
      });
      assert.deepEqual(seen.sideways, [0, 0]);
      assert.ok(seen.under);
      assert.ok(seen.narrowest >= 80, `${seen.narrowest} pixels`);
      assert.ok(seen.tall < 370, `a line of ${seen.tall} pixels would be half a screen`);
      const first = seen.differing.indexOf(false);
      assert.ok(first > 0 && seen.differing.slice(first).every((differs) => !differs), 'those that differ come first');
      // From the last line as from the first: Close and the names of the bands are in sight.
      for (const scroll of [0, 1e6]) {
        await page.$eval('#side', (side, scroll) => side.scrollTo(0, scroll), scroll);
        for (const selector of ['#close', '#side .names']) {
          const inside = await page.$eval(selector, (each) => { const { top, bottom } = each.getBoundingClientRect(); return top >= 0 && bottom <= innerHeight; });
          assert.ok(inside, `${selector} at ${scroll}`);
        }
      }
      assert.ok(await page.$eval('#close', (close) => close.getBoundingClientRect().height >= 44));
      await page.click('#close');
      assert.equal(await page.$eval('#beside', (dialog) => dialog.open), false);
      assert.deepEqual(heard.errors, []);
      await page.close();
    }
  });

  test('what was looked for and chosen is still there when the page is loaded anew', async () => {
    const { page, heard } = await open(chromium, address);
    await page.type('#search', 'candy');
    await page.select('#sort', 'threads');
    await page.select('#order', 'down');
    const [limit] = await page.$$('.limit');
    await (await limit.$('select')).select('threads');
    await (await limit.$$('input'))[0].type('6');
    await settled(page);
    for (const at of [1, 2]) await (await page.$$('.links input'))[at].click();
    const state = () => page.evaluate(() => [
      [...document.querySelectorAll('#ask input, #ask select')].map((field) => field.value),
      [...document.querySelectorAll('.grid li h2 + p')].map((each) => each.textContent),
      [...document.querySelectorAll('.links input')].map((box) => box.checked),
      ...['count', 'compare'].map((id) => document.getElementById(id).textContent),
    ]);
    const before = await state();
    assert.equal(before[1].length, 8);
    await page.reload();
    assert.deepEqual(await state(), before);
    // So it is after a look at a sheet.
    await page.goto(pathToFileURL(join(folder, 'made')).href);
    await page.goBack();
    assert.deepEqual(await state(), before);
    await page.click('#compare');
    assert.equal((await page.$$('#side thead small')).length, 2);
    await page.click('#close');
    await page.click('#none');
    await page.click('#over');
    await settled(page);
    await page.reload();
    assert.deepEqual([(await names(page)).length, await words(page, '#compare')], [17, 'Compare: choose two or three']);
    // Another gallery knows nothing of it.
    await page.type('#search', 'drift');
    await settled(page);
    await page.goto(large(2).address);
    assert.equal(await page.$eval('#search', (field) => field.value), '');
    assert.deepEqual(heard.errors, []);
    await page.close();
  });

  test('a page of thousands is still there when it is loaded anew', async () => {
    const many = large(20);
    const { page } = await open(chromium, many.address);
    await page.$eval('#after', (button) => button.click());
    await page.reload();
    assert.equal(await words(page, '#count'), `${many.count} bands, 61 to 120 shown`);
    await page.close();
  });

  test('thousands of bands come in pages', async () => {
    const many = large(300);
    const { page, heard } = await open(chromium, many.address);
    assert.equal(await words(page, '#count'), `${many.count} bands, 1 to 60 shown`);
    await page.$eval('#after', (button) => button.click());
    assert.equal(await words(page, '#count'), `${many.count} bands, 61 to 120 shown`);
    assert.equal((await names(page)).length, 60);
    await page.type('#search', 'drift-7');
    await settled(page);
    assert.equal(await words(page, '#count'), `300 of ${many.count} bands, 1 to 60 shown`);
    for (let turn = 0; turn < 4; turn += 1) await page.$eval('#after', (button) => button.click());
    assert.equal(await page.$eval('#after', (button) => button.disabled), true);
    assert.deepEqual(heard.errors, []);
    await page.close();
  });

  test('nothing scrolls sideways on a phone, and everything to be touched is large enough', async () => {
    for (const width of [320, 390, 768]) {
      const { page } = await open(chromium, address, { width, height: 740, touch: true });
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width, `${width} pixels`);
      const small = await page.$$eval('button, select, .links label, .links a', (all) =>
        all.filter((each) => each.offsetParent).map((each) => [each.textContent, each.getBoundingClientRect().height]).filter(([, height]) => height < 44));
      assert.deepEqual(small, []);
      await page.close();
    }
  });

  for (const scheme of ['light', 'dark']) {
    test(`axe-core finds nothing, ${scheme}`, async () => {
      const { page } = await open(chromium, address);
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      for (const at of [0, 3]) await (await page.$$('.links input'))[at].click();
      await page.evaluate(axe.source);
      const check = () => page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
      const said = ({ violations }) => violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]);
      assert.deepEqual(said(await check()), []);
      await page.click('#compare');
      assert.deepEqual(said(await check()), []);
      await page.close();
    });
  }

  test('the page is valid', async () => {
    const report = await new HtmlValidate({ extends: ['html-validate:standard'], rules: { 'no-trailing-whitespace': 'off', 'long-title': 'off' } }).validateFile(fileURLToPath(address));
    const messages = report.results.flatMap((result) => result.messages.map((message) => `${message.line}: ${message.ruleId} ${message.message}`));
    assert.deepEqual(messages, []);
  });
});

test('the lists of a class and a contact sheet are sound pages too', async () => {
  hitchwork('collect', join(folder, 'made'), '--class', join(folder, 'class.html'), '--people', '5');
  hitchwork('explore', 'flotsam', '--set', 'threads=6', '--count', '3', '--seeds', '1..30', '--length', '3', '--quiet', '--out', join(folder, 'found'));
  for (const file of ['class.html', 'found/contact.html']) {
    for (const scheme of ['light', 'dark']) {
      const { page, heard } = await open(chromium, pathToFileURL(join(folder, file)).href, { width: 360 });
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 360, file);
      await page.evaluate(axe.source);
      const { violations } = await page.evaluate(() => window.axe.run({ exclude: [['svg > *']] }, { resultTypes: ['violations'] }));
      assert.deepEqual(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]), [], file);
      assert.deepEqual([heard.console, heard.errors, heard.requests], [[], [], []]);
      await page.close();
    }
  }
});
