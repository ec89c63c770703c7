// "Looks wrong? Tap what you see", as a maker uses it.
import assert from 'node:assert/strict';
import { after as afterAll, before as beforeAll, describe, test } from 'node:test';
import axe from 'axe-core';
import { bandFile, browser, choose, hitchwork, open, sheet, source, words, workshop } from './src/browser.js';

const { folder, done } = workshop();
const quiet = ({ console, errors, requests }) => assert.deepEqual({ console, errors, requests }, { console: [], errors: [], requests: [] });

let chromium;
let diamonds;
beforeAll(async () => {
  chromium = await browser();
  diamonds = sheet(folder, 'diamonds', 'diamonds');
});
afterAll(async () => {
  await chromium?.close();
  done();
});

const PHONE = { width: 360, height: 740, touch: true };
const tile = (key) => `[data-tile="${key}"]`;
const press = (page, selector) => page.$eval(selector, (element) => element.click());
const rows = async (page, count) => {
  await page.$eval('#whole', (whole) => whole.click());
  for (let row = 0; row < count; row += 1) await press(page, '#next');
};
const opened = async (page) => {
  await press(page, '#sight > summary');
  await page.waitForSelector('[data-tile]');
};
const choices = (page) => page.$$eval('#choices button', (all) => all.map((button) => button.textContent));
const see = async (page, key, choice) => {
  await press(page, tile(key));
  await page.evaluate((choice) => [...document.querySelectorAll('#choices button')].find((button) => button.textContent === choice).click(), choice);
};
const answered = async (page) => {
  await press(page, '#ask');
  await page.waitForFunction(() => !/^(Looking|$)/.test(document.querySelector('#answer').textContent));
  return page.$$eval('#answer li', (all) => all.map((item) => [...item.children].map((sentence) => sentence.textContent)));
};
const label = (page, key) => page.$eval(tile(key), (element) => element.getAttribute('aria-label'));

describe('what looks wrong', () => {
  test('is tapped, and what is said is what the command says', async () => {
    const { page, heard } = await open(chromium, diamonds, PHONE);
    await rows(page, 3);
    await opened(page);
    assert.match(await words(page, '#sight-place'), /^This is how it should look after row 3 of repeat 1\. Tap a knot/);
    assert.equal(await label(page, 'p6'), 'Position 7, hanging thread, teal');
    for (const [key, colour] of [['p5', 'As drawn'], ['p6', 'dark plum'], ['p7', 'teal']]) {
      await page.tap(tile(key));
      assert.match(await words(page, '#choice-heading'), /What do you see\?$/);
      await page.evaluate((colour) => [...document.querySelectorAll('#choices button')].find((button) => button.textContent === colour).click(), colour);
    }
    assert.equal(await label(page, 'p6'), 'Position 7, hanging thread, teal, you see dark plum');
    // The command knows of nothing else.
    await press(page, '#others');
    const found = await answered(page);
    const command = JSON.parse(hitchwork('mend', 'diamonds', '--row', '3', '--json', '--hangs', '?, ?, ?, ?, ?, dark plum, dark plum, teal, ?, ?, ?, ?'));
    assert.ok(found.length === 3 && command.explanations.length >= 3);
    for (const [index, [first, untying]] of found.entries()) {
      const { changes, sureness, untying: own } = command.explanations[index];
      assert.equal(first.toLowerCase(), `${changes.join('; and ')} (${sureness}).`.toLowerCase());
      assert.equal(untying, own);
    }
    // The orders that should hang, of this row and those before.
    const hang = await page.$$eval('#should li', (all) => all.map((item) => item.textContent.replace(/\s+/g, ' ').trim()));
    assert.equal(hang.length, 3);
    for (const [index, { after, colours }] of command.should_hang.entries()) {
      assert.ok(hang[index].toLowerCase().startsWith(`after ${after}: `), hang[index]);
      const names = hang[index].replace(/^[^:]*: /, '').split(/ ?\d+ /).filter(Boolean);
      assert.deepEqual(names.map((name) => name.trim()), colours);
    }
    quiet(heard);
    await page.close();
  });

  test('one knot that is not there, and one too many, are found where the others look as drawn', async () => {
    const { page, heard } = await open(chromium, sheet(folder, 'slant', bandFile(folder, 'slant', {
      title: 'The slant of the slipway',
      palette: [{ name: 'teal', srgb: '#14788c' }, { name: 'amber', srgb: '#f0be3c' }, { name: 'sand', srgb: '#d8c49a' }],
      threads: [0, 1, 2, 0, 1, 2],
      repeat: ['forward-backward', 'backward-forward'].map((kind) => ({ knots: [1, 2, 3, 4, 5].map((at) => ({ at, kind })) })),
      repeats: 9,
    }), '--as-written'), PHONE);
    // Before, of the first knot of a column nothing is left to be compared.
    await rows(page, 1);
    await opened(page);
    await see(page, 'c2.0', 'Not there');
    await press(page, '#ask');
    await page.waitForFunction(() => /^What you tapped leaves it open/.test(document.querySelector('#answer').textContent));
    await press(page, '#sight > summary');
    for (let row = 1; row < 8; row += 1) await press(page, '#next');
    await opened(page);
    await see(page, 'c2.0', 'Not there');
    assert.match(await label(page, 'c2.0'), /^Positions 3 and 4, last knot, teal, not there$/);
    const [[first, untying]] = await answered(page);
    assert.match(first, /^Row 2 of repeat 4, positions 3 and 4: the backward-forward knot is missing \(/);
    assert.match(untying, /^(Untie|Nothing lies)/);
    await press(page, '#forget');
    await see(page, 'c2.0', 'One more knot below it');
    assert.equal(await label(page, 'c2.1'), 'Positions 3 and 4, knot 2 from the last, teal');
    assert.deepEqual(await choices(page), ['teal', 'amber', 'sand', 'Cannot tell', 'Take it away again']);
    await see(page, 'c2.0', 'teal');
    assert.match(await label(page, 'c2.0'), /^Positions 3 and 4, last knot, one more than drawn, you see teal$/);
    // One missing before it would look the same in a column of two colours by turns, and is told as well.
    const more = (await answered(page)).map(([first]) => first);
    assert.ok(more.some((first) => /knot too many at positions 3 and 4, tied before row 2 of repeat 4, positions 4 and 5/.test(first)), more.join('\n'));
    quiet(heard);
    await page.close();
  });

  test('nothing tapped, nothing tied, and nothing wrong are said', async () => {
    const { page, heard } = await open(chromium, diamonds, PHONE);
    await press(page, '#sight > summary');
    await page.waitForFunction(() => !document.querySelector('#untied').hidden);
    assert.equal(await page.$eval('#tapping', (part) => part.hidden), true);
    await press(page, '#next');
    await page.waitForSelector('[data-tile]');
    assert.equal(await page.$eval('#tapping', (part) => part.hidden), false);
    await press(page, '#ask');
    assert.match(await words(page, '#answer'), /^Tap first what looks different/);
    await see(page, 'p0', 'As drawn');
    await press(page, '#ask');
    await page.waitForFunction(() => document.querySelector('#answer').textContent.startsWith('What you describe is as it should be.'));
    quiet(heard);
    await page.close();
  });

  test('in the midst of a row the picture ends there, and mirrored it is the mirror image', async () => {
    const { page } = await open(chromium, sheet(folder, 'drift', 'drift', '--set', 'threads=10'), { width: 800 });
    for (let step = 0; step < 4; step += 1) await press(page, '#next');
    await opened(page);
    assert.match(await words(page, '#sight-place'), /after knot \d of row 2 of repeat 1/);
    const labels = () => page.$$eval('#look [data-tile^="p"]', (all) => all.map((one) => one.getAttribute('aria-label').split(', ')[2]));
    const designed = await labels();
    const heights = () => page.$$eval('.lies', (all) => all.map((column) => column.children.length));
    const knots = await heights();
    await choose(page, 1);
    assert.deepEqual(await labels(), designed.reverse());
    assert.deepEqual(await heights(), knots.reverse());
    await page.close();
  });
});

describe('nothing is lost', () => {
  test('when it is closed, when another place is looked at, and when the page is loaded again', async () => {
    const { page, heard } = await open(chromium, diamonds, PHONE);
    await rows(page, 3);
    await opened(page);
    await see(page, 'p6', 'coral');
    await press(page, '#others');
    const seen = async () => [await label(page, 'p6'), await page.$eval('#others', (tick) => tick.checked)];
    const told = ['Position 7, hanging thread, teal, you see coral', false];
    assert.deepEqual(await seen(), told);
    await press(page, '#sight > summary');
    await press(page, '#sight > summary');
    assert.deepEqual(await seen(), told);
    await press(page, '#next');
    assert.doesNotMatch(await label(page, 'p6'), /you see/);
    await press(page, '#back');
    assert.deepEqual(await seen(), told);
    await page.reload();
    await opened(page);
    assert.deepEqual(await seen(), told);
    await press(page, '#forget');
    assert.doesNotMatch(await label(page, 'p6'), /you see/);
    quiet(heard);
    await page.close();
  });

  test('what somebody else has kept there is passed over', async () => {
    for (const spoilt of ['{', '7', 'null', '{"key":1}', '[]', '{"state":{"hanging":[],"columns":7}}']) {
      const { page, heard } = await open(chromium, diamonds, PHONE);
      await rows(page, 3);
      await opened(page);
      await see(page, 'p6', 'coral');
      await page.evaluate((spoilt) => {
        const key = Object.keys(localStorage).find((key) => key.endsWith(' seen'));
        const { key: place } = JSON.parse(localStorage.getItem(key));
        localStorage.setItem(key, spoilt.replace('{"key":1', `{"key":${JSON.stringify(place)},"state":{"hanging":["no"]}`).replace('{"state', `{"key":${JSON.stringify(place)},"state`));
      }, spoilt);
      await page.reload();
      await opened(page);
      assert.equal(await label(page, 'p6'), 'Position 7, hanging thread, teal');
      quiet(heard);
      await page.close();
    }
  });
});

describe('for every hand and eye', () => {
  test('by keyboard alone', async () => {
    const { page, heard } = await open(chromium, diamonds, { width: 800 });
    await rows(page, 3);
    await page.focus('#sight > summary');
    await page.keyboard.press('Enter');
    await page.waitForSelector('[data-tile]');
    await page.keyboard.press('Tab');
    const focused = () => page.evaluate(() => document.activeElement.dataset.tile ?? document.activeElement.textContent);
    assert.match(await focused(), /^[pc]\d/);
    await page.keyboard.press('End');
    await page.keyboard.press('ArrowDown');
    for (let step = 0; (await focused())[0] !== 'p' && step < 9; step += 1) await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Home');
    assert.equal(await focused(), 'p0');
    for (let step = 0; step < 6; step += 1) await page.keyboard.press('ArrowRight');
    assert.equal(await focused(), 'p6');
    await page.keyboard.press('ArrowUp');
    assert.equal(await focused(), 'c6.0');
    await page.keyboard.press('ArrowDown');
    await page.keyboard.press('Enter');
    assert.equal(await focused(), 'As drawn');
    await page.keyboard.press('Escape');
    assert.equal(await focused(), 'p6');
    await page.keyboard.press('Enter');
    await page.keyboard.press('Tab');
    const colour = await focused();
    await page.keyboard.press('Space');
    assert.equal(await focused(), 'p6');
    assert.equal(await label(page, 'p6'), `Position 7, hanging thread, teal, you see ${colour}`);
    // The place has not moved by any of these keys.
    assert.match(await words(page, '#where'), /Row 4 of/);
    await page.focus('#ask');
    await page.keyboard.press('Enter');
    await page.waitForSelector('#answer .found');
    assert.equal(await page.$eval('#answer', (answer) => answer.getAttribute('aria-live')), 'polite');
    quiet(heard);
    await page.close();
  });

  for (const scheme of ['light', 'dark']) {
    test(`axe-core finds nothing, with choices and an answer, ${scheme}`, async () => {
      const { page } = await open(chromium, diamonds, PHONE);
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }, { name: 'prefers-reduced-motion', value: 'reduce' }]);
      await rows(page, 12);
      await opened(page);
      await see(page, 'p6', 'coral');
      await see(page, 'c3.0', 'Not there');
      await see(page, 'c5.0', 'Cannot tell');
      await answered(page);
      await press(page, tile('p2'));
      await page.evaluate(axe.source);
      const { violations } = await page.evaluate(() => window.axe.run('#sight', { resultTypes: ['violations'] }));
      assert.deepEqual(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 160))]), []);
      await page.close();
    });
  }

  for (const [large, width] of [[false, 360], [true, 390]]) {
    test(`nothing scrolls sideways but the picture, and everything is large enough for a thumb: ${width} pixels${large ? ', text at 200 %' : ''}`, async () => {
      for (const rule of [['diamonds'], ['drift', '--set', 'threads=40']]) {
        const { page } = await open(chromium, sheet(folder, 'thumb', ...rule), { ...PHONE, width });
        if (large) {
          const session = await page.createCDPSession();
          await session.send('Page.enable');
          await session.send('Page.setFontSizes', { fontSizes: { standard: 32, fixed: 26 } });
        }
        await rows(page, rule[0] === 'drift' ? 4 : 12);
        await opened(page);
        await see(page, 'p3', 'Cannot tell');
        await see(page, 'c1.0', 'Not there');
        await answered(page);
        await press(page, tile('c2.0'));
        const small = await page.$$eval('#sight button, #sight summary, #sight label', (all) => all.map((each) => [each.textContent, each.getBoundingClientRect()])
          .filter(([, { width, height }]) => width < 43.9 || height < 43.9).map(([words, { width, height }]) => [words, width, height]));
        assert.deepEqual(small, [], rule.join(' '));
        assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width, rule.join(' '));
        await page.close();
      }
    });
  }

  // How long it takes is told and not asserted: another program may hold the processor.
  test('while two mistakes are looked for on a phone slowed six times, the page stays awake', async (t) => {
    const { page } = await open(chromium, diamonds, PHONE);
    await rows(page, 12);
    await opened(page);
    await see(page, 'p0', 'teal');
    await see(page, 'c9.0', 'Not there');
    await see(page, 'c1.0', 'coral');
    await page.emulateCPUThrottling(6);
    const { took, longest, turns } = await page.evaluate(async () => {
      const began = performance.now();
      let [last, longest, turns] = [began, 0, 0];
      document.querySelector('#ask').click();
      while (/^Looking/.test(document.querySelector('#answer').textContent)) {
        await new Promise((next) => setTimeout(next));
        longest = Math.max(longest, performance.now() - last);
        last = performance.now();
        turns += 1;
      }
      return { took: performance.now() - began, longest, turns };
    });
    t.diagnostic(`an answer in ${Math.round(took)} ms, at most ${Math.round(longest)} ms without a breath`);
    // One slice after another, never all at once.
    assert.ok(turns > 4, `${turns} turns`);
    await page.close();
  });
});

test('what the search needs adds little to a sheet of 12 threads and 60 rows', () => {
  const kinds = ['forward', 'backward', 'forward-backward', 'backward-forward'];
  const row = (at) => ({ knots: Array.from({ length: at % 2 ? 5 : 6 }, (_, index) => ({ at: 2 * index + 1 + (at % 2), kind: kinds[(at * 7 + index * 5) % 4] })) });
  const file = bandFile(folder, 'sixty', {
    title: 'Sixty rows of the ebb',
    palette: [{ name: 'teal', srgb: '#14788c' }, { name: 'amber', srgb: '#f0be3c' }, { name: 'sand', srgb: '#d8c49a' }],
    threads: Array.from({ length: 12 }, (_, index) => index % 3),
    repeat: Array.from({ length: 60 }, (_, at) => row(at)),
    repeats: 4,
  });
  const page = source(sheet(folder, 'sixty', file));
  const [, data] = page.match(/<script type="application\/json" id="band">(.*?)<\/script>/s);
  const [, script] = page.match(/<script>(.*?)<\/script>/s);
  assert.ok(data.length < 15_000 && script.length < 75_000, `${data.length} and ${script.length} bytes`);
});
