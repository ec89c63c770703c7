// The live page, beside an editor that is this test.
import assert from 'node:assert/strict';
import { after as afterAll, afterEach, before as beforeAll, beforeEach, describe, test } from 'node:test';
import { mkdirSync, readdirSync, readFileSync, renameSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import axe from 'axe-core';
import { HtmlValidate } from 'html-validate';
import { browser, hitchwork, open, words, watching, workshop } from './src/browser.js';

const { folder, done } = workshop();
const rule = (threads, more = '') => `/// Stripes at a mooring.
let threads = whole("threads", ${threads}, 4..=12, "threads on the band");
let turned = flag("turned", false, "whether the threads turn back");
let leans = choice("leans", "left", ["left", "right"], "from which edge the threads travel");
let tones = palette("palette", "regatta", "the colours");
let row = if chance(0.5) { forward(1..threads) } else { backward(1..threads) };
${more}
band(threads).repeat(if turned { row.turned() } else { row }).colours(in_turn(contrasting(tones, 3), threads))
`;
let chromium;
beforeAll(async () => { chromium = await browser(); });
afterAll(async () => {
  await chromium?.close();
  done();
});

let place, file, command, address, page, heard;
let count = 0;
beforeEach(async () => {
  count += 1;
  place = join(folder, `desk-${count}`);
  mkdirSync(place);
  file = join(place, 'mooring.rhai');
  writeFileSync(file, rule(6));
  await start('--length', '4');
  ({ page, heard } = await open(chromium, address));
  await title('mooring, 6 threads');
});

/** Starts the command, and learns its address. */
async function start(...more) {
  command = await watching(['mooring.rhai', ...more, '--out', join(place, 'saved')], { cwd: place });
  ({ address } = command);
}
async function stop() {
  assert.equal(await command.stop(), 0, 'it ends cleanly on Ctrl-C, with the page still listening');
}
afterEach(async () => {
  await page?.close();
  await stop();
});

/** Waits until the page shows a band of that title, with its picture. */
async function title(wanted, at = page) {
  await at.waitForFunction((wanted) => document.getElementById('title').textContent === wanted && document.getElementById('picture').alt.startsWith(wanted), { timeout: 20_000 }, wanted);
}
const picture = () => page.$eval('#picture', (image) => Number(image.dataset.picture));
const another = (than) => page.waitForFunction((than) => Number(document.getElementById('picture').dataset.picture) > than, { timeout: 20_000 }, than);
const source = () => page.evaluate(() => fetch(document.getElementById('picture').src).then((answer) => answer.arrayBuffer()).then((bytes) => String(new Uint8Array(bytes))));
async function set(name, value, at = page) {
  await at.$eval(`#setting-${name}`, (input, value) => {
    input.value = value;
    input.dispatchEvent(new Event('change', { bubbles: true }));
  }, value);
}

describe('beside an editor', () => {
  test('what is saved is seen, also where the editor puts a new file in the place of the old one', async () => {
    writeFileSync(file, rule(7));
    await title('mooring, 7 threads');
    const beside = join(place, '.mooring.rhai.new');
    writeFileSync(beside, rule(8));
    renameSync(beside, file);
    await title('mooring, 8 threads');
    rmSync(file);
    setTimeout(() => writeFileSync(file, rule(9)), 100);
    await title('mooring, 9 threads');
    assert.deepEqual([heard.console, heard.errors], [[], []]);
  });

  test('a broken rule keeps the last picture, with what is wrong over it, until it is mended', async () => {
    const kept = await picture();
    writeFileSync(file, rule(6, 'let lost = forwrd(3);'));
    await page.waitForSelector('#troubles:not([hidden])');
    const said = await words(page, '#troubles');
    assert.match(said, /there is no function called forwrd.*line 7, character 12.*did you mean forward\?/);
    assert.equal(await words(page, '#troubles mark'), 'forwrd');
    assert.equal(await picture(), kept);
    writeFileSync(file, rule(10));
    await title('mooring, 10 threads');
    assert.ok(await page.$eval('#troubles', (box) => box.hidden));
  });

  test('an endless rule is stopped by its limit or by the next save', async () => {
    writeFileSync(file, rule(6, 'let n = 0; while true { n += 1; if n > 1000000 { n = 0; } }'));
    await new Promise((later) => setTimeout(later, 300));
    writeFileSync(file, rule(11));
    await title('mooring, 11 threads');
  });

  test('an imported rule may come later, and its changes count', async () => {
    writeFileSync(file, rule(6, 'import "knots" as knots; let more = knots::more();').replace('band(threads)', 'band(threads + more)').replace('in_turn(contrasting(tones, 3), threads)', 'in_turn(contrasting(tones, 3), threads + more)'));
    await page.waitForSelector('#troubles:not([hidden])');
    writeFileSync(join(place, 'knots.rhai'), 'fn more() { 1 }');
    await title('mooring, 7 threads');
    writeFileSync(join(place, 'knots.rhai'), 'fn more() { 3 }');
    await title('mooring, 9 threads');
  });

  test('so may one in a folder of its own, and the folder too', async () => {
    writeFileSync(file, rule(6, 'import "shed/knots" as knots; let more = knots::more();').replace('band(threads)', 'band(threads + more)').replace('in_turn(contrasting(tones, 3), threads)', 'in_turn(contrasting(tones, 3), threads + more)'));
    await page.waitForSelector('#troubles:not([hidden])');
    for (const more of [1, 2]) {
      mkdirSync(join(place, 'shed'));
      await new Promise((later) => setTimeout(later, 200));
      writeFileSync(join(place, 'shed', 'knots.rhai'), `fn more() { ${more} }`);
      await title(`mooring, ${6 + more} threads`);
      writeFileSync(join(place, 'shed', 'knots.rhai'), `fn more() { ${more + 2} }`);
      await title(`mooring, ${8 + more} threads`);
      rmSync(join(place, 'shed'), { recursive: true });
      await page.waitForSelector('#troubles:not([hidden])');
    }
  });

  test('a hundred saves in a hurry end on the last', async () => {
    for (let turn = 0; turn < 100; turn += 1) {
      writeFileSync(file, rule(4 + (turn % 8)));
      if (turn % 10 === 0) await new Promise((later) => setTimeout(later, 5));
    }
    writeFileSync(file, rule(12));
    await title('mooring, 12 threads');
    await new Promise((later) => setTimeout(later, 500));
    assert.equal(await words(page, '#title'), 'mooring, 12 threads');
  });
});

describe('what is wanted stands with the command alone', () => {
  /** All that the fields of a page say; one that is not there yet says nothing. */
  const fields = (at) => at.evaluate(() => Object.fromEntries(['seed', 'length', 'mirrored', 'setting-threads', 'setting-turned', 'setting-leans', 'setting-palette'].map((id) => {
    const field = document.getElementById(id);
    return [id.replace('setting-', ''), field?.type === 'checkbox' ? field.checked : field?.value];
  })));
  /** Waits until the fields of a page say this, and nothing is under way. */
  async function say(wanted, at = page) {
    let found;
    for (let turn = 0; turn < 200; turn += 1) {
      found = await fields(at);
      if (JSON.stringify(found) === JSON.stringify(wanted) && (await words(at, '#state')).startsWith('Worked out in')) return;
      await new Promise((later) => setTimeout(later, 100));
    }
    assert.deepEqual(found, wanted);
  }
  // As by hand, in one go: the page is told, and what arrives meanwhile leaves the field alone.
  async function clear(id, at = page) {
    await at.$eval(`#${id}`, (input) => {
      input.focus();
      input.value = '';
      input.dispatchEvent(new Event('input', { bubbles: true }));
    });
  }
  async function write(id, text, at = page) {
    await at.bringToFront();
    await clear(id, at);
    await at.keyboard.type(text);
    await at.keyboard.press('Tab');
  }
  const FIRST = { seed: '0', length: '4', mirrored: false, threads: '6', turned: false, leans: 'left', palette: 'regatta' };

  test('two tabs show the same, and each changes only what it touches', async () => {
    const other = await page.browserContext().newPage();
    await other.goto(address);
    await title('mooring, 6 threads', other);
    await set('threads', '10');
    await title('mooring, 10 threads', other);
    await say({ ...FIRST, threads: '10' }, other);
    // Once the second wrote back all that it knew when it was opened.
    await write('seed', '7', other);
    await say({ ...FIRST, threads: '10', seed: '7' });
    await say({ ...FIRST, threads: '10', seed: '7' }, other);
    await page.select('#setting-leans', 'right');
    await other.click('#setting-turned');
    await write('length', '5', other);
    await page.bringToFront();
    await page.click('#mirrored');
    for (const at of [page, other]) await say({ seed: '7', length: '5', mirrored: true, threads: '10', turned: true, leans: 'right', palette: 'regatta' }, at);
    // A setting that is refused is seen by both, too, and so is what lets go of it.
    await set('threads', '99', other);
    await page.waitForSelector('#troubles:not([hidden])');
    assert.equal((await fields(page)).threads, '99');
    await page.click('#defaults');
    for (const at of [page, other]) await say({ ...FIRST, seed: '7', length: '' }, at);
    await other.close();
  });

  test('what somebody is typing is not written over', async () => {
    const other = await page.browserContext().newPage();
    await other.goto(address);
    await title('mooring, 6 threads', other);
    await page.bringToFront();
    await clear('seed');
    await page.keyboard.type('41');
    await set('threads', '9', other);
    await title('mooring, 9 threads');
    await page.keyboard.type('5');
    await page.keyboard.press('Enter');
    for (const at of [page, other]) await say({ ...FIRST, threads: '9', seed: '415' }, at);
    await other.close();
  });

  test('a command that is started again goes on where the page is', async () => {
    await set('threads', '10');
    await write('seed', '18446744073709551615');
    await say({ ...FIRST, threads: '10', seed: '18446744073709551615' });
    await page.click('#pin');
    await page.waitForFunction(() => document.querySelector('#pins img').naturalWidth > 0);
    const before = address;
    await stop();
    await page.waitForFunction(() => document.getElementById('state').textContent.startsWith('No answer'), { timeout: 20_000 });
    // What is touched meanwhile counts as well.
    await set('palette', 'gull');
    await start('--length', '4');
    assert.equal(address, before, 'the page finds its way back');
    await say({ ...FIRST, threads: '10', seed: '18446744073709551615', palette: 'gull' });
    assert.equal(await words(page, '#command'), 'hitchwork make mooring.rhai --set palette=gull --set threads=10 --seed 18446744073709551615 --length 4');
    // It can be turned on as if nothing had happened, also back to what was pinned.
    await set('threads', '8');
    await title('mooring, 8 threads');
    await page.click('#pins button');
    await say({ ...FIRST, threads: '10', seed: '18446744073709551615' });
    await page.click('[data-save="band"]');
    await page.waitForFunction(() => document.getElementById('saved').textContent.startsWith('Saved:'));
    // What the command line changes is meant.
    await stop();
    await start('--length', '6', '--set', 'threads=12');
    await say({ ...FIRST, length: '6', threads: '12', seed: '18446744073709551615' });
    assert.deepEqual(heard.errors, []);
  });

  test('a page that is loaded anew shows what is true, after a start of the command too', async () => {
    await set('threads', '10');
    await page.click('#mirrored');
    await say({ ...FIRST, threads: '10', mirrored: true });
    await page.reload();
    await title('mooring, 10 threads');
    await say({ ...FIRST, threads: '10', mirrored: true });
    await stop();
    await start('--length', '4');
    await page.reload();
    await say({ ...FIRST, threads: '10', mirrored: true });
    await title('mooring, 10 threads');
    assert.match(await words(page, '#command'), /--set threads=10 --length 4 --mirrored$/);
    // Another tab that knew nothing is told the same.
    const other = await page.browserContext().newPage();
    await other.goto(address);
    await title('mooring, 10 threads', other);
    await say({ ...FIRST, threads: '10', mirrored: true }, other);
    await other.close();
  });

  test('seeds and whole numbers beyond 2^53 stay what they are, to the last digit', async () => {
    // 2^53 + 1 is the first whole number that a browser's numbers cannot hold (IEEE 754, binary64).
    const large = '9007199254740993';
    await write('seed', '18446744073709551615');
    assert.ok(await page.$eval('#seed', (input) => input.scrollWidth <= input.clientWidth), 'all of it is seen');
    await write('seed', large);
    await say({ ...FIRST, seed: large });
    await page.click('#setting-turned');
    await say({ ...FIRST, seed: large, turned: true });
    assert.match(await words(page, '#command'), new RegExp(`--seed ${large} `));
    await page.click('#another');
    await page.waitForFunction((large) => document.getElementById('seed').value !== large, {}, large);
    await page.click('#back');
    await say({ ...FIRST, seed: large, turned: true });
    for (const wrong of ['18446744073709551616', '-1', '1e3', 'gull']) {
      await write('seed', wrong);
      assert.match(await words(page, '#state'), /A seed is a whole number from 0 to 18446744073709551615/, wrong);
      assert.equal(await page.$eval('#seed', (input) => input.value), large);
    }
    writeFileSync(file, rule(6, `let berth = whole("berth", ${large}, 0..=${large}, "where it lies");`));
    await page.waitForSelector('#setting-berth');
    assert.equal(await page.$eval('#setting-berth', (input) => input.value), large);
    await set('berth', '9007199254740991');
    await page.waitForFunction(() => document.getElementById('command').textContent.includes('berth=9007199254740991'));
  });
});

describe('by hand', () => {
  test('sliders, switches and lists change the band and its measures', async () => {
    const width = () => page.$$eval('.measures dt', (names) => names.find((name) => name.textContent === 'width').nextElementSibling.textContent);
    const before = await width();
    await set('threads', '10');
    await title('mooring, 10 threads');
    assert.notEqual(await width(), before);
    assert.equal(await page.$eval('#setting-threads', (input) => `${input.min} ${input.max}`), '4 12');
    let shown = await picture();
    await page.click('#setting-turned');
    await another(shown);
    shown = await picture();
    await page.select('#setting-palette', 'gull');
    await another(shown);
    assert.equal(await words(page, '#command'), "hitchwork make mooring.rhai --set palette=gull --set threads=10 --set turned=yes --length 4");
    await set('threads', '99');
    await page.waitForSelector('#troubles:not([hidden])');
    assert.match(await words(page, '#troubles'), /99 is not a whole number from 4 to 12/);
  });

  test('a wrist takes the place of a length, and another seed is offered only where it may make another band', async () => {
    assert.equal(await page.$eval('#chance', (chance) => chance.hidden), false);
    await page.select('#wrist', '12.5');
    await page.waitForFunction(() => document.getElementById('command').textContent.endsWith(' --wrist 12.5'));
    assert.equal(await page.$eval('#length', (input) => input.value), '');
    assert.match(await words(page, '#cautions'), /This one is for a child/);
    writeFileSync(file, rule(6).replace('if chance(0.5) { forward(1..threads) } else { backward(1..threads) }', 'forward(1..threads)'));
    await page.waitForFunction(() => document.getElementById('chance').hidden);
    assert.match(await words(page, '#state'), /^Worked out in \d+ ms$/);
    // The key of the hidden button does nothing.
    const command = await words(page, '#command');
    await page.keyboard.press('d');
    await new Promise((later) => setTimeout(later, 300));
    assert.equal(await words(page, '#command'), command);
  });

  test('seeds are thrown, pinned, and come back', async () => {
    const first = await source();
    await page.click('#pin');
    let other = first;
    for (let turn = 0; turn < 20 && other === first; turn += 1) {
      const shown = await picture();
      await page.keyboard.press('d');
      await another(shown);
      other = await source();
    }
    assert.notEqual(other, first, 'one of twenty seeds makes another band');
    const shown = await picture();
    await page.click('#pins button');
    await another(shown);
    assert.equal(await source(), first);
    assert.equal(await page.$eval('#seed', (input) => input.value), '0');
    const back = await picture();
    await page.click('#back');
    await another(back);
    assert.equal(await source(), other);
  });

  test('what is saved is what make writes, to the byte', async () => {
    await set('threads', '8');
    await title('mooring, 8 threads');
    await page.click('.save summary');
    const offered = await page.$$eval('[data-save]', (buttons) => buttons.map((button) => button.dataset.save));
    for (const what of offered) {
      await page.click(`[data-save="${what}"]`);
      await page.waitForFunction(() => document.getElementById('saved').textContent.startsWith('Saved:'));
      await page.$eval('#saved', (said) => { said.textContent = ''; });
    }
    const here = process.cwd();
    process.chdir(place);
    const outputs = offered.filter((what) => what !== 'band').join(',');
    hitchwork('make', 'mooring.rhai', '--set', 'threads=8', '--length', '4', '--out', 'made', '--with', outputs);
    process.chdir(here);
    const made = readdirSync(join(place, 'made')).filter((name) => !name.startsWith('.') && !name.endsWith('.png'));
    assert.ok(made.length > offered.length - 2, made.join(' '));
    for (const name of made) {
      const [saved, made] = ['saved', 'made'].map((which) => readFileSync(join(place, which, name)));
      assert.ok(saved.equals(made), name);
    }
  });

  test('who zooms in and moves about sees every part of it sharp', async () => {
    const part = () => page.evaluate(() => {
      const image = document.getElementById('picture'), pane = document.getElementById('fabric');
      const [there, here] = [image, pane].map((each) => each.getBoundingClientRect());
      return {
        asked: Object.fromEntries([...new URL(image.src).searchParams].map(([name, value]) => [name, Number(value)])),
        sharp: Math.abs(image.naturalWidth - there.width * devicePixelRatio) < 1 && Math.abs(image.naturalHeight - there.height * devicePixelRatio) < 1,
        covers: there.left <= Math.max(here.left + 1, document.getElementById('table').getBoundingClientRect().left + 1) && there.right >= Math.min(here.right, document.getElementById('table').getBoundingClientRect().right) - 1,
      };
    });
    const settled = async (scale) => {
      await page.waitForFunction((scale) => document.getElementById('picture').src.includes(`scale=${scale}&`), { timeout: 20_000 }, scale);
      let seen;
      for (let turn = 0; turn < 200; turn += 1) {
        seen = await part();
        if (seen.sharp && seen.covers) break;
        await new Promise((later) => setTimeout(later, 100));
      }
      assert.ok(seen.sharp && seen.covers, JSON.stringify(seen));
      return seen.asked;
    };
    const fits = (await part()).asked;
    assert.deepEqual([fits.left, fits.top], [0, 0]);
    await page.click('#more');
    await settled(1);
    for (let turn = 0; turn < 4; turn += 1) await page.click('#more');
    const middle = await settled(4);
    assert.ok(middle.left > 0, 'what was in the middle stays there');
    await page.$eval('#fabric', (pane) => pane.scrollTo(pane.scrollWidth, 0));
    await page.waitForFunction((left) => Number(new URL(document.getElementById('picture').src).searchParams.get('left')) > left, { timeout: 20_000 }, middle.left);
    const end = await settled(4);
    assert.ok(end.width < 2 * 1280, 'only what is near is painted');
    const shown = await picture();
    await set('threads', '9');
    await another(shown);
    await settled(4);
    await page.click('#fit');
    await page.waitForFunction(() => document.getElementById('scale').textContent === 'fits');
    assert.ok(await page.$eval('#fabric', (pane) => pane.scrollWidth <= pane.clientWidth));
  });

  test('chart and steps are one key away', async () => {
    await page.keyboard.press('2');
    await page.waitForSelector('#strands img');
    await page.$eval('#strands img', (image) => image.decode());
    await page.keyboard.press('3');
    await page.waitForFunction(() => document.querySelector('#steps pre').textContent.includes('Row 1'));
    await page.keyboard.press('1');
    await page.focus('#tab-fabric');
    await page.keyboard.press('ArrowRight');
    assert.equal(await page.evaluate(() => document.activeElement.id), 'tab-strands');
    await page.click('#tab-fabric');
    await page.click('#more');
    assert.equal(await words(page, '#scale'), '100 %');
    await page.click('#fit');
    assert.equal(await words(page, '#scale'), 'fits');
  });

  test('nothing scrolls sideways on a phone, and everything to be touched is large enough', async () => {
    for (const width of [320, 390, 768]) {
      await page.setViewport({ width, height: 740 });
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width, `${width} pixels`);
    }
    const small = await page.$$eval('button, select, input[type=number], .check', (all) =>
      all.filter((each) => each.offsetParent).map((each) => [each.id || each.textContent, each.getBoundingClientRect().height]).filter(([, height]) => height < 44));
    assert.deepEqual(small, []);
  });

  for (const scheme of ['light', 'dark']) {
    test(`axe-core finds nothing, ${scheme}, with a trouble on the page`, async () => {
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      await page.click('#pin');
      writeFileSync(file, rule(6, 'let lost = forwrd(3);'));
      await page.waitForSelector('#troubles:not([hidden])');
      // The page's policy lets nothing in, not even the checker: it comes as a tool of the browser.
      await page.evaluate(axe.source);
      const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
      assert.deepEqual(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]), []);
    });
  }

  test('the page is valid', async () => {
    const text = await (await fetch(address)).text();
    const report = await new HtmlValidate({ extends: ['html-validate:standard'], rules: { 'no-trailing-whitespace': 'off', 'long-title': 'off' } }).validateString(text);
    assert.deepEqual(report.results.flatMap((result) => result.messages.map((message) => `${message.line}: ${message.ruleId} ${message.message}`)), []);
  });
});
