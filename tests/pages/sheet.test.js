// The maker's sheet, as a maker uses it.
import assert from 'node:assert/strict';
import { after as afterAll, before as beforeAll, describe, test } from 'node:test';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import axe from 'axe-core';
import { HtmlValidate } from 'html-validate';
import { bandFile, browser, choose, hitchwork, open, sheet, shown, source, words, workshop } from './src/browser.js';
import { orders } from './src/tying.js';

// Bands of different kinds: one that drifts, one with many short runs, one with a level
// start and a lead-in.
const DRIFT = ['drift', '--set', 'threads=10'];
const { folder, done } = workshop();
const quiet = ({ console, errors, requests }) => assert.deepEqual({ console, errors, requests }, { console: [], errors: [], requests: [] });

let chromium;
let drift;
beforeAll(async () => {
  chromium = await browser();
  drift = sheet(folder, 'drift', ...DRIFT);
});
afterAll(async () => {
  await chromium?.close();
  done();
});

/** Steps of one repeat of a sheet. */
const stepsOfRepeat = (page) =>
  page.$$eval('.written [data-hand="0"] [data-part="repeat"] ol > li', (steps) => steps.length);

/** Which steps of the repeat end a row, counted from 1. */
const rowEnds = (page) =>
  page.$$eval('.written [data-hand="0"] [data-part="repeat"] .row', (rows) => {
    let sum = 0;
    return rows.map((row) => (sum += row.querySelectorAll('ol > li').length));
  });

async function walk(page, band, steps, press) {
  const ends = await rowEnds(page);
  const expected = orders(band);
  let row = 0;
  for (let step = 1; step <= steps; step += 1) {
    await press();
    if (ends.includes(step)) {
      assert.deepEqual(await shown(page), expected[row], `after row ${row + 1}`);
      row += 1;
    }
  }
  assert.equal(row, band.repeat.length, 'every row was checked');
}

function madeBand(name, ...rule) {
  const out = join(folder, name);
  hitchwork('make', ...rule, '--with', 'text', '--out', out);
  return JSON.parse(readFileSync(join(out, `${rule[0]}.band.json`), 'utf8'));
}

describe('walking along with the rows', () => {
  for (const rule of [DRIFT, ['hearts'], ['straight_drift', '--as-written']]) {
    test(`${rule[0]}: a whole repeat by keyboard gives the orders of the band and of its report`, async () => {
      const address = sheet(folder, `keys-${rule[0]}`, ...rule);
      const { page, heard } = await open(chromium, address, { width: 800 });
      const steps = await stepsOfRepeat(page);
      // Space is a key of the tracker, and elsewhere of the page.
      await page.focus('#tracker');
      const keys = ['ArrowRight', 'Space'];
      let turn = 0;
      await walk(page, madeBand(`band-${rule[0]}`, ...rule), steps, () => page.keyboard.press(keys[turn++ % 2]));
      const report = JSON.parse(hitchwork('check', ...rule, '--json'));
      assert.deepEqual(await shown(page), report.order_after_repeat);
      assert.match(await words(page, '#where'), /^Repeat 2 of /);
      await page.keyboard.press('ArrowLeft');
      assert.match(await words(page, '#where'), /^Repeat 1 of /);
      quiet(heard);
      await page.close();
    });
  }

  test('by touch, on a phone', async () => {
    const { page, heard } = await open(chromium, drift, { width: 360, height: 740, touch: true });
    await walk(page, madeBand('touch', ...DRIFT), await stepsOfRepeat(page), () => page.tap('#next'));
    await page.tap('#back');
    assert.match(await words(page, '#where'), /^Repeat 1 of 37 · Row 2 of 2$/);
    quiet(heard);
    await page.close();
  });

  test('through every repeat to the end, row by row, each order as knotted by hand', async () => {
    const { page, heard } = await open(chromium, drift, { width: 800 });
    const band = madeBand('whole', ...DRIFT);
    await page.keyboard.press('Home');
    for (const [index, order] of orders(band).entries()) {
      await page.keyboard.down('Shift');
      await page.keyboard.press('ArrowRight');
      await page.keyboard.up('Shift');
      assert.deepEqual(await shown(page), order, `after row ${index + 1}`);
    }
    assert.equal(await words(page, '#where'), 'All rows are tied');
    assert.equal(await page.$eval('#next', (next) => next.disabled), true);
    quiet(heard);
    await page.close();
  });

  test('the step is worded for the threads that hang there in its repeat', async () => {
    const { page } = await open(chromium, drift);
    await page.click('#finding > summary');
    const text = hitchwork('sheet', ...DRIFT).replace(/\s+/g, ' ');
    for (const repeat of [2, 3, 10]) {
      await page.$eval('#repeat', (input) => { input.value = ''; });
      await page.type('#repeat', String(repeat));
      await page.click('#go');
      const [, number, name] = text.match(new RegExp(`Repeat ${repeat} begins with thread (\\d+), ([^.]+)\\.`));
      assert.match(await words(page, '#step'), new RegExp(`^Position 1, thread ${number} ${name}: forward knots over`));
    }
    await page.close();
  });

  test('home and end go to both ends of the repeat, and starting over can be undone', async () => {
    const { page } = await open(chromium, drift);
    await page.click('#finding > summary');
    await page.$eval('#repeat', (input) => { input.value = '5'; });
    await page.click('#go');
    await page.$eval('#tracker', (tracker) => tracker.querySelector('#next').focus());
    await page.keyboard.press('End');
    assert.equal(await words(page, '#where'), 'Repeat 5 of 37 · Row 2 of 2');
    const left = await page.$eval('body', (body) => body.dataset.done);
    await page.keyboard.press('Home');
    assert.equal(await words(page, '#where'), 'Repeat 5 of 37 · Row 1 of 2');
    await page.keyboard.press('End');
    await page.click('#over');
    assert.equal(await words(page, '#where'), 'Repeat 1 of 37 · Row 1 of 2');
    await page.click('#over');
    assert.equal(await page.$eval('body', (body) => body.dataset.done), left);
    await page.close();
  });

  test('keys that scroll a page move the place only from within the tracker', async () => {
    const { page } = await open(chromium, drift, { width: 800, height: 600 });
    const done = () => page.$eval('body', (body) => Number(body.dataset.done));
    for (let step = 0; step < 3; step += 1) await page.click('#next');
    await page.evaluate(() => { document.activeElement.blur(); scrollTo(0, 0); });
    for (const key of ['Space', 'End', 'Home', 'Space']) {
      await page.keyboard.press(key);
      assert.equal(await done(), 3, `${key} somewhere on the page`);
    }
    await page.waitForFunction(() => scrollY > 0);
    await page.keyboard.down('Shift');
    await page.keyboard.press('Space');
    await page.keyboard.up('Shift');
    assert.equal(await done(), 3, 'shift and space');
    await page.focus('#tracker');
    await page.keyboard.press('Space');
    assert.equal(await done(), 4, 'in the tracker');
    await page.keyboard.press('Home');
    assert.equal(await done(), 0);
    await page.focus('#next');
    await page.keyboard.press('Space');
    assert.equal(await done(), 1, 'space presses a button once');
    await page.close();
  });

  test('a whole row at a time shows all of its steps, and then its order', async () => {
    const { page, heard } = await open(chromium, drift, { width: 390, height: 844, touch: true });
    const heading = () => words(page, '#order-heading');
    const row = (at) => page.$$eval('.written [data-hand="0"] [data-part="repeat"] .row', (rows, at) =>
      [...rows[at].querySelectorAll('ol > li')].map((step) => step.textContent), at);
    const steps = () => page.$$eval('#step li', (all) => all.map((step) => step.textContent));
    assert.equal(await heading(), 'Order now, with the positions above');
    await page.click('#finding > summary');
    await page.click('#whole');
    assert.deepEqual(await steps(), await row(0));
    assert.equal((await steps()).length, 3);
    await page.click('#next');
    assert.equal(await heading(), 'Row 1 is done: check the order before you go on');
    assert.match(await words(page, '#where'), /Row 2 of 2$/);
    assert.deepEqual(await steps(), await row(1));
    assert.equal((await steps()).length, 7);
    for (const step of await row(1)) assert.ok((await words(page, '#said')).includes(step.replace(/\s+/g, ' ').trim()), step);
    // In the midst of a row, what is left of it.
    await page.click('#whole');
    await page.click('#next');
    await page.click('#next');
    assert.equal(await heading(), 'Order now, with the positions above');
    await page.click('#whole');
    assert.deepEqual(await steps(), (await row(1)).slice(2));
    assert.equal(await page.$eval('#step ol', (list) => list.start), 3);
    quiet(heard);
    await page.close();
  });

  test('the order is one line of threads under the numbers of their positions', async () => {
    const { page } = await open(chromium, drift, { width: 390, height: 844, touch: true });
    await page.tap('#next');
    const found = await page.$$eval('#order li', (all) => all.map((item) => {
      const [position, chip] = [item.querySelector('i'), item.querySelector('.chip')].map((part) => part.getBoundingClientRect());
      return { number: item.querySelector('i').textContent, above: position.bottom <= chip.top + 1, top: chip.top, left: chip.left };
    }));
    assert.deepEqual(found.map(({ number }) => number), ['1', '2', '3', '4', '5', '6', '7', '8', '9', '10']);
    assert.ok(found.every(({ above, top }) => above && Math.abs(top - found[0].top) < 1), JSON.stringify(found));
    assert.ok(found.every(({ left }, at) => at === 0 || left > found[at - 1].left));
    await page.tap('#next');
    await page.tap('#next');
    assert.equal(await words(page, '#order-heading'), 'Row 1 is done. Its order:');
    await page.close();
  });

  test('a screen reader is told where one is, what to do and the order to check', async () => {
    const { page } = await open(chromium, drift);
    assert.equal(await page.$eval('#said', (said) => said.getAttribute('aria-live')), 'polite');
    for (let step = 0; step < 3; step += 1) await page.keyboard.press('ArrowRight');
    assert.equal(
      await words(page, '#said'),
      'Row 1 is done; its order is 2 3 1 5 6 4 8 9 10 7. Repeat 1 of 37 · Row 2 of 2. Position 2, thread 3 light goldenrod: backward-forward knot over thread 2, and it stays at position 2.',
    );
    assert.equal(await page.$$eval('[aria-current="step"]', (marks) => marks.length), 1);
    await page.close();
  });

  test('a band of a million repeats is found through at once', async () => {
    const file = bandFile(folder, 'long', {
      title: 'The long quay',
      palette: [{ name: 'teal', srgb: '#14788c' }, { name: 'amber', srgb: '#f0be3c' }],
      threads: [0, 1, 1],
      repeat: [{ knots: [{ at: 1, kind: 'forward' }, { at: 2, kind: 'forward' }] }],
      repeats: 1_000_000,
    });
    const address = sheet(folder, 'long', file);
    assert.ok(source(address).length < 1_500_000);
    const { page, heard } = await open(chromium, address);
    await page.click('#finding > summary');
    await page.$eval('#repeat', (input) => { input.value = '999999'; });
    await page.click('#go');
    // 999,998 repeats turn three threads round 999,998 mod 3 = 2 times.
    assert.deepEqual(await shown(page), [3, 1, 2]);
    quiet(heard);
    await page.close();
  });
});

describe('keeping the place', () => {
  test('a reload finds the place and the hand; another band does not', async () => {
    const { page, heard } = await open(chromium, drift);
    for (let step = 0; step < 4; step += 1) await page.keyboard.press('ArrowRight');
    await choose(page, 1);
    const [order, where] = [await shown(page), await words(page, '#where')];
    await page.reload();
    assert.deepEqual([await shown(page), await words(page, '#where')], [order, where]);
    assert.equal(await page.$eval('input[value="1"]', (choice) => choice.checked), true);
    quiet(heard);
    await page.goto(sheet(folder, 'other', 'drift', '--set', 'threads=11'));
    assert.match(await words(page, '#where'), /^Repeat 1 of \d+ · Row 1 of 2$/);
    await page.close();
  });

  test('without storage it works, says so, and nothing goes wrong', async () => {
    const { page, heard } = await open(chromium, drift, {
      before: () => {
        Object.defineProperty(window, 'localStorage', { get() { throw new DOMException('denied', 'SecurityError'); } });
      },
    });
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    assert.deepEqual(await shown(page), [2, 3, 1, 5, 6, 4, 7, 8, 9, 10]);
    assert.match(await words(page, '#kept'), /^This browser keeps nothing/);
    quiet(heard);
    await page.close();
  });

  test('two windows stay at one place, and neither undoes what was done in the other', async () => {
    const { page: one, heard } = await open(chromium, drift);
    const two = await one.browserContext().newPage();
    await two.goto(drift);
    const done = (page) => page.$eval('body', (body) => Number(body.dataset.done));
    // Windows behind others paint nothing, so that they are asked by the clock.
    const POLLED = { polling: 100 };
    const reaches = (page, steps) => page.waitForFunction((steps) => Number(document.body.dataset.done) === steps, POLLED, steps);
    await one.bringToFront();
    for (let step = 0; step < 5; step += 1) await one.click('#next');
    await reaches(two, 5);
    await two.bringToFront();
    await two.click('#next');
    await reaches(one, 6);
    await one.bringToFront();
    await one.click('#back');
    await reaches(two, 5);
    // The hand and the size of a step go along.
    await choose(one, 1);
    await two.waitForFunction(() => document.querySelector('input[name="hand"][value="1"]').checked, POLLED);
    assert.deepEqual(await shown(two), await shown(one));
    await two.bringToFront();
    await two.click('#finding > summary');
    await two.click('#whole');
    await one.waitForFunction(() => document.getElementById('whole').checked, POLLED);
    assert.equal(await done(one), 5);
    // Starting over in one cannot be undone in the other once the band has gone on there.
    await one.bringToFront();
    await one.click('#finding > summary');
    await one.click('#over');
    await reaches(two, 0);
    await two.bringToFront();
    await two.click('#next');
    await one.waitForFunction(() => document.body.dataset.done !== '0', POLLED);
    assert.equal(await words(one, '#over'), 'Start over');
    quiet(heard);
    await two.close();
    await one.close();
  });

  test('a window that missed the news shows the place before it moves on', async () => {
    // As after a long sleep: this window hears nothing of what the other keeps.
    const { page: asleep } = await open(chromium, drift, {
      before: () => {
        for (const news of ['storage', 'visibilitychange']) addEventListener(news, (event) => event.stopImmediatePropagation(), true);
      },
    });
    const awake = await asleep.browserContext().newPage();
    await awake.goto(drift);
    for (let step = 0; step < 7; step += 1) await awake.click('#next');
    const done = (page) => page.$eval('body', (body) => Number(body.dataset.done));
    await asleep.bringToFront();
    await asleep.click('#next');
    assert.equal(await done(asleep), 7, 'the place of the other window, and not one of its own');
    await asleep.click('#next');
    assert.equal(await done(asleep), 8);
    await awake.reload();
    assert.equal(await done(awake), 8);
    await asleep.close();
  });

  test('a spoilt memory is passed over', async () => {
    for (const spoilt of ['{', '7', 'null', '{"done":1e99,"hand":"x"}', '{"done":-3}', '[]']) {
      const { page, heard } = await open(chromium, drift);
      await page.evaluate((text) => {
        for (const key of Object.keys(localStorage)) localStorage.setItem(key, text);
      }, spoilt);
      await page.reload();
      assert.equal((await shown(page)).length, 10);
      quiet(heard);
      await page.close();
    }
  });

  test('the screen is kept awake where the browser can, and no longer than wished', async () => {
    const { page, heard } = await open(chromium, drift, {
      before: () => {
        window.locks = { asked: 0, freed: 0 };
        const lock = () => ({ released: false, release: async () => { window.locks.freed += 1; } });
        Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => { window.locks.asked += 1; return lock(); } } });
      },
    });
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    assert.deepEqual(await page.evaluate(() => window.locks), { asked: 1, freed: 0 });
    await page.click('#finding > summary');
    await page.click('#awake');
    assert.deepEqual(await page.evaluate(() => window.locks), { asked: 1, freed: 1 });
    quiet(heard);
    await page.close();
  });
});

describe('mirrored', () => {
  test('mirrors the order, the words, the cut list and the pictures, and keeps the place', async () => {
    const { page, heard } = await open(chromium, drift);
    for (let step = 0; step < 3; step += 1) await page.keyboard.press('ArrowRight');
    const where = await words(page, '#where');
    const order = await shown(page);
    const visible = () => page.$$eval('[data-hand]:not([hidden])', (parts) => parts.map((part) => part.innerText).join('\n'));
    const designed = await visible();
    await choose(page, 1);
    assert.equal(await words(page, '#where'), where);
    assert.deepEqual(await shown(page), order.map((thread) => 11 - thread).reverse());
    const mirrored = await visible();
    assert.match(designed, /ties one backward knot round/);
    assert.match(mirrored, /ties one forward knot round/);
    assert.match(mirrored, /backward knots over the next 2 threads to its left/);
    // What the page says is what the command writes mirrored.
    const text = hitchwork('sheet', ...DRIFT, '--mirrored');
    for (const [line] of text.matchAll(/^- .*cm, thread \d+$/gm)) assert.ok(mirrored.includes(line.slice(2)), line);
    await choose(page, 0);
    assert.equal(await visible(), designed);
    quiet(heard);
    await page.close();
  });
});

describe('what the proofs found', () => {
  test('stands before the cutting, for either hand', async () => {
    const { page } = await open(chromium, sheet(folder, 'found', 'blend'));
    const know = () => words(page, '#know [data-hand]:not([hidden])');
    assert.match(await know(), /cannot be told apart at the size of a knot\. Number the threads at the start, and tie by the numbers\./);
    assert.equal(await page.evaluate(() => document.getElementById('know').nextElementSibling.id), 'cut');
    await choose(page, 1);
    assert.match(await know(), /Number the threads at the start/);
    await page.close();
  });
});

describe('on paper', () => {
  // 72 points to the inch: 210 x 297 mm, and 8.5 x 11 inches (tests/published/paper_sizes.json).
  for (const [format, width, height] of [['A4', 595.2756, 841.8898], ['Letter', 612, 792]]) {
    test(`${format}: a few pages of the right size, whatever is on the screen`, async () => {
      const { page, heard } = await open(chromium, drift);
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: 'dark' }]);
      for (let step = 0; step < 15; step += 1) await page.keyboard.press('ArrowRight');
      const pdf = Buffer.from(await page.pdf({ format })).toString('latin1');
      const boxes = [...pdf.matchAll(/\/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]/g)];
      assert.ok(boxes.length >= 2 && boxes.length <= 7, `${boxes.length} pages`);
      for (const [, wide, high] of boxes) {
        assert.ok(Math.abs(wide - width) < 1 && Math.abs(high - height) < 1, `${wide} by ${high}`);
      }
      await page.emulateMediaType('print');
      assert.equal(await page.$eval('#tracker', (tracker) => getComputedStyle(tracker).display), 'none');
      assert.equal(await page.$eval('body', (body) => getComputedStyle(body).backgroundColor), 'rgb(255, 255, 255)');
      quiet(heard);
      await page.close();
    });
  }

  // 178 mm between the margins; of the papers, Letter is the lower: 11 inches without 32 mm of margins.
  const onPaper = async (page) => {
    await page.emulateMediaType('print');
    await page.setViewport({ width: Math.round((178 / 25.4) * 96), height: 900 });
    await page.$$eval('details', (all) => all.forEach((each) => { each.open = true; }));
  };

  test('a heading is printed on one page with its chart', async () => {
    const { page } = await open(chromium, sheet(folder, 'charted', 'zigzag'));
    await onPaper(page);
    const height = await page.$eval('[data-hand="0"] .chart-of-rows', (part) => part.querySelector('.chart').getBoundingClientRect().bottom - part.querySelector('summary').getBoundingClientRect().top);
    assert.ok(height > 300 && height < ((11 * 25.4 - 32) / 25.4) * 96, `${height} pixels`);
    await page.close();
  });

  test('rows are printed in short where that says all, and followed step by step on a screen', async () => {
    const { page } = await open(chromium, sheet(folder, 'in-short', 'hearts'));
    const full = () => page.$$eval('.written [data-hand="0"] .row', (all) => all.filter((row) => row.offsetParent).length);
    assert.equal(await full(), 14);
    await onPaper(page);
    assert.equal(await full(), 0);
    const told = await page.$$eval('.written [data-hand="0"] .told', (all) => all.map((rows) => rows.innerText.replace(/\s+/g, ' ').trim()));
    assert.equal(told[0], 'Row 1 of 14 (repeat) Positions 2, 4, 8, 10, 14 and 16: backward-forward; 5 and 11: forward-backward.');
    assert.ok(told.some((words) => words === 'Row 5 of 14 (repeat) As row 3.'), told.join('\n'));
    assert.ok(told.every((words) => !words.includes('Order now')), told.join('\n'));
    assert.equal(await page.$eval('[data-hand="0"] .chart-of-rows summary', (summary) => summary.innerText), 'The rows as a chart of knots');
    await page.close();
  });

  test('a leader is followed from its edge to the other in one step', async () => {
    const { page, heard } = await open(chromium, sheet(folder, 'led', 'harbour_wall'), { width: 800 });
    assert.equal(await stepsOfRepeat(page), 8);
    assert.match(await words(page, '#step'), /^Position 1, thread 1 mortar, leads to the right edge: each of the next 4 threads \(2, 3, 4, 5\) ties a backward knot round it, then it ties a forward knot over thread 6, then/);
    await walk(page, madeBand('led', 'harbour_wall'), 8, () => page.keyboard.press('ArrowRight'));
    quiet(heard);
    await page.close();
  });

  test('the rows are printed for the first repeat, and come back afterwards', async () => {
    const { page } = await open(chromium, drift);
    const rows = () => page.$eval('.written [data-part="repeat"]', (part) => part.textContent);
    const first = await rows();
    for (let row = 0; row < 15; row += 1) await page.keyboard.press('ArrowRight');
    const later = await rows();
    assert.notEqual(later, first);
    await page.evaluate(() => dispatchEvent(new Event('beforeprint')));
    assert.equal(await rows(), first);
    await page.evaluate(() => dispatchEvent(new Event('afterprint')));
    assert.equal(await rows(), later);
    await page.close();
  });

  test('without a script it is a sheet to read and print', async () => {
    const page = await chromium.newPage();
    await page.setJavaScriptEnabled(false);
    await page.goto(drift);
    await page.emulateMediaType('print');
    const text = await page.$eval('body', (body) => body.innerText);
    assert.match(text, /Row 2 of 2 \(repeat\)/);
    assert.match(text, /Repeat 2 begins with thread 2 apricot\./);
    assert.doesNotMatch(text, /Back\s+Next/);
    await page.close();
  });
});

describe('the picture of the start', () => {
  test('fits a phone from edge to edge', async () => {
    const { page } = await open(chromium, drift, { width: 390, height: 844, touch: true });
    const [pan, picture] = await page.$eval('#start [data-hand="0"] .chart', (pan) => [pan, pan.firstElementChild].map((part) => part.scrollWidth || part.getBoundingClientRect().width));
    assert.ok(picture > 300 && picture <= 390 && pan <= 390, `${picture} in ${pan}`);
    await page.close();
  });
});

describe('for every eye and screen', () => {
  for (const scheme of ['light', 'dark']) {
    test(`no sideways scrolling at 360 pixels, ${scheme}`, async () => {
      for (const rule of [DRIFT, ['hearts'], ['drift', '--set', 'threads=40']]) {
        const { page, heard } = await open(chromium, sheet(folder, 'narrow', ...rule), { width: 360, height: 640, touch: true });
        await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
        await page.$$eval('details', (all) => all.forEach((each) => { each.open = true; }));
        assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 360, rule.join(' '));
        quiet(heard);
        await page.close();
      }
    });

    for (const hand of [0, 1]) {
      test(`axe-core finds nothing, ${scheme}, ${hand ? 'mirrored' : 'as designed'}`, async () => {
        for (const rule of [DRIFT, ['stars', '--palette', 'gull']]) {
          const { page } = await open(chromium, sheet(folder, 'seen', ...rule));
          await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }, { name: 'prefers-reduced-motion', value: 'reduce' }]);
          await choose(page, hand);
          await page.keyboard.press('Tab');
          await page.keyboard.press('ArrowRight');
          await page.$$eval('details', (all) => all.forEach((each) => { each.open = true; }));
          // A picture is one thing to axe-core; its knots are not looked through one by one.
          await page.evaluate(axe.source);
          const { violations } = await page.evaluate(() => window.axe.run({ exclude: [['svg > *']] }, { resultTypes: ['violations'] }));
          assert.deepEqual(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]), [], rule.join(' '));
          await page.close();
        }
      });
    }
  }

  // Text twice as large as usual (WCAG 2.2, success criterion 1.4.4), as set in the browser.
  const textTwiceAsLarge = async (page) => {
    const session = await page.createCDPSession();
    await session.send('Page.enable');
    await session.send('Page.setFontSizes', { fontSizes: { standard: 32, fixed: 26 } });
  };
  const SCREENS = [
    { width: 360, height: 740, large: false },
    { width: 390, height: 844, large: true },
    { width: 740, height: 360, large: false },
    { width: 1280, height: 900, large: false },
    { width: 1280, height: 900, large: true },
  ];
  for (const { width, height, large } of SCREENS) {
    test(`at every step the place, the step, its thread and the keys are in sight: ${width} by ${height}${large ? ', text at 200 %' : ''}`, async () => {
      for (const rule of [DRIFT, ['hearts'], ['drift', '--set', 'threads=40']]) {
        const { page } = await open(chromium, sheet(folder, 'in-sight', ...rule), { width, height, touch: width < 800 });
        if (large) await textTwiceAsLarge(page);
        const steps = Math.min(await stepsOfRepeat(page), 40);
        for (let step = 1; step <= steps; step += 1) {
          await page.$eval('#next', (next) => next.click());
          const hidden = await page.evaluate(() => {
            const box = (selector) => document.querySelector(selector)?.getBoundingClientRect();
            const [hung, keys] = [box('#hung'), box('.keys')];
            const within = ({ top, bottom, left, right }, from, to) => top >= from - 1 && bottom <= to + 1 && left >= -1 && right <= innerWidth + 1;
            const faults = [];
            for (const selector of ['#where', '#back', '#next']) if (!within(box(selector), 0, innerHeight)) faults.push(selector);
            // The step begins in sight, with no less than two lines of it; the rest scrolls.
            const text = box('#step');
            const line = parseFloat(getComputedStyle(document.querySelector('#step')).lineHeight);
            if (text.top < -1 || text.bottom > keys.top + 1 || text.height < Math.min(2 * line, document.querySelector('#step').scrollHeight) - 1) faults.push('#step');
            if (document.querySelector('#step').scrollTop !== 0) faults.push('#step is scrolled');
            const chip = box('.works .chip');
            const inSight = chip.height <= hung.height ? within(chip, hung.top, Math.min(hung.bottom, keys.top)) : chip.top >= hung.top - 1;
            if (!inSight) faults.push('.works');
            if (document.documentElement.scrollWidth > innerWidth) faults.push('scrolls sideways');
            // The written rows stand below each other in full.
            const rows = [...document.querySelectorAll('.written [data-hand="0"] .row')];
            if (rows.some((row) => row.scrollHeight > row.clientHeight + 2)) faults.push('rows overlap');
            const item = document.querySelector('.written [aria-current]').getBoundingClientRect();
            if (matchMedia('(min-width: 64rem)').matches && !within(item, 0, innerHeight)) faults.push('the written step');
            return faults;
          });
          assert.deepEqual(hidden, [], `${rule.join(' ')}, step ${step}`);
        }
        await page.close();
      }
    });
  }

  test('on a phone the keys stay under the thumb from step to step', async () => {
    const { page } = await open(chromium, drift, { width: 360, height: 740, touch: true });
    await page.tap('#next');
    const places = new Set();
    for (let step = 0; step < 12; step += 1) {
      places.add(await page.$eval('#next', (next) => Math.round(next.getBoundingClientRect().top)));
      await page.tap('#next');
    }
    assert.equal(places.size, 1, [...places].join(', '));
    await page.close();
  });

  test('nothing scrolls sideways when the text is twice as large', async () => {
    for (const rule of [DRIFT, ['hearts'], ['drift', '--set', 'threads=40']]) {
      const { page } = await open(chromium, sheet(folder, 'large', ...rule), { width: 390, height: 844, touch: true });
      await textTwiceAsLarge(page);
      await page.$$eval('details', (all) => all.forEach((each) => { each.open = true; }));
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 390, rule.join(' '));
      await page.close();
    }
  });

  test('everything to be touched is at least 44 pixels high', async () => {
    const { page } = await open(chromium, drift, { width: 360, height: 740, touch: true });
    await page.$$eval('details', (all) => all.forEach((each) => { each.open = true; }));
    const small = await page.$$eval('button, nav a, summary, .hands label, label.check, #repeat', (all) =>
      all.filter((each) => each.offsetParent).map((each) => [each.textContent, each.getBoundingClientRect().height]).filter(([, height]) => height < 44));
    assert.deepEqual(small, []);
    await page.close();
  });

  test('who wants less motion gets none', async () => {
    const { page } = await open(chromium, drift);
    await page.emulateMediaFeatures([{ name: 'prefers-reduced-motion', value: 'reduce' }]);
    const moving = await page.$$eval('*', (all) => all.filter((each) => getComputedStyle(each).transitionDuration !== '0s').length);
    assert.equal(moving, 0);
    await page.close();
  });
});

describe('whatever a band is called', () => {
  const HOSTILE = [
    '<script>document.title="taken"</script>',
    '</script><script>document.title="taken"</script>',
    '"><img src=x onerror="document.title=\'taken\'">',
    "' onmouseover='document.title=1' x='",
    '&lt;b&gt; & &amp; ]]> --> <!--',
    'bell\u0007 and null\u0000 and escape\u001b[31m',
    '\u202egnorw eht yaw dnuor\u202c',
    'שפל וגאות',
    '</style><style>*{display:none}</style>',
    '\u2028\u2029\ufffe\ufdd0 odd ends',
  ];

  test('it stands there as text and does nothing', async () => {
    for (const [index, hostile] of HOSTILE.entries()) {
      const file = bandFile(folder, `hostile-${index}`, {
        title: hostile,
        notes: hostile,
        palette: [{ name: hostile, srgb: '#14788c' }, { name: `${hostile} too`, srgb: '#f0be3c' }],
        threads: [0, 1, 1, 0],
        repeat: [{ knots: [1, 2, 3].map((at) => ({ at, kind: 'forward' })) }],
        repeats: 8,
        origin: { rule: hostile, settings: { [hostile]: hostile }, seed: 7, hitchwork: hostile },
      });
      const address = sheet(folder, `hostile-${index}`, file);
      const { page, heard } = await open(chromium, address);
      await page.keyboard.press('ArrowRight');
      await choose(page, 1);
      const kept = hostile.replace(/[\u202a-\u202e\u2066-\u2069\ufffe\ufdd0]/g, '').replace(/[\s\u0000-\u001f\u007f-\u009f]+/g, ' ').trim();
      assert.equal(await words(page, 'h1'), kept);
      assert.ok((await words(page, '#order')).includes(kept));
      assert.equal(await page.$$eval('script', (all) => all.length), 2);
      assert.equal(await page.$$eval('img, iframe, link:not([rel="icon"])', (all) => all.length), 0);
      assert.match(await page.title(), /: how to tie it$/);
      quiet(heard);
      await page.close();
      await valid(source(address), hostile);
    }
  });
});

const validator = new HtmlValidate({
  extends: ['html-validate:standard'],
  rules: {
    // The page is written without needless space and ends of lines.
    'no-trailing-whitespace': 'off',
    'long-title': 'off',
  },
});

async function valid(text, what) {
  const report = await validator.validateString(text);
  const found = report.results.flatMap(({ messages }) => messages.map(({ ruleId, message, line, column }) => `${ruleId}: ${message} (${line}:${column})`));
  assert.deepEqual([...new Set(found)].slice(0, 12), [], what);
}

describe('as HTML', () => {
  for (const rule of [DRIFT, ['hearts'], ['gulls'], ['drizzle']]) {
    test(`${rule[0]} is valid`, async () => valid(source(sheet(folder, `valid-${rule[0]}`, ...rule)), rule[0]));
  }

  test('its policy lets nothing in from outside, and its own style and script are named by their digests', () => {
    const policy = source(drift).match(/Content-Security-Policy" content="([^"]+)"/)[1];
    assert.match(policy, /^default-src 'none'; script-src 'sha256-[^']{44}'; style-src 'sha256-[^']{44}'; img-src data:; font-src data:;/);
    assert.doesNotMatch(policy, /unsafe|https?:|\*/);
  });

  test('the same band gives the same page, byte for byte', () => {
    assert.equal(source(sheet(folder, 'again', ...DRIFT)), source(drift));
  });
});
