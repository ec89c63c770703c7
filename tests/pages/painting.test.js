// Painting on the live page: with the mouse, a finger and keys, on the band and on the picture beside it.
import assert from 'node:assert/strict';
import { after as afterAll, afterEach, before as beforeAll, beforeEach, describe, test } from 'node:test';
import { mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import axe from 'axe-core';
import { browser, open, words, watching, workshop } from './src/browser.js';

const { folder, done } = workshop();
const RULE = `/// A wave at a mooring.
let sea = colour("sea", "#1d6f8c");
let foam = colour("foam", "#e8f1ee");
let wave = picture("wave.txt", #{ marks: #{ "~": sea, "-": foam } });
let tied = solved(wave);
band(tied.threads).repeat(tied.rows).colours(tied.colours).repeats(4)
`;
const WAVE = '~~~~~\n~~~~~\n~~~~-\n~~~--\n';
let chromium;
beforeAll(async () => { chromium = await browser(); });
afterAll(async () => {
  await chromium?.close();
  done();
});

/** Pixels as a PPM: the left half sea, the right half foam, in the colours of the rule. */
const pixels = (columns, rows) => `P3\n${columns} ${rows}\n255\n${Array.from({ length: rows }, () => Array.from({ length: columns }, (_, column) => (column < columns / 2 ? '29 111 140' : '232 241 238')).join(' ')).join('\n')}\n`;

let place, command, address, page, heard;
let count = 0;
beforeEach(async () => {
  count += 1;
  place = join(folder, `easel-${count}`);
  mkdirSync(place);
  writeFileSync(join(place, 'mooring.rhai'), RULE);
  writeFileSync(join(place, 'wave.txt'), WAVE);
  await start();
  ({ page, heard } = await open(chromium, address));
  await ready();
});

async function start() {
  command = await watching(['mooring.rhai', '--out', join(place, 'saved')], { cwd: place });
  ({ address } = command);
}
async function stop() {
  assert.equal(await command.stop(), 0, 'it ends cleanly on Ctrl-C');
}
afterEach(async () => {
  await page?.close();
  await stop();
});

/** Waits until the picture, the band and its knots are all there. */
const ready = () => page.waitForFunction(() => band.knots.length > 0 && papers.get('wave.txt')?.pots && document.querySelector('.end'), { timeout: 30_000 });
/** The marks of the picture, as the page knows them. */
const marks = () => page.evaluate(() => {
  const file = fileOf('wave.txt');
  const ids = papers.get('wave.txt').pots.map((pot) => file.pots[pot].id).join('');
  return Array.from({ length: file.rows }, (_, row) => ids.slice(row * file.columns, (row + 1) * file.columns));
});
/** Waits until the command has tied all that was painted, and the page shows it. */
async function settled() {
  await page.waitForFunction(() => acts.length === 0 && !posting && !view.is_busy && view.painting.tied === view.painting.version
    && Number(document.getElementById('picture').dataset.tied) === view.painting.version && band.picture === view.picture && papers.get('wave.txt')?.version === view.painting.version, { timeout: 30_000 });
}
/** Where the knots are that show a cell, on the screen; all of its repeats. */
const knots = (row, column) => page.evaluate((row, column) => {
  const { left, top } = table.getBoundingClientRect(), now = scale(painted.size);
  return band.knots.filter((knot) => knot.cell?.[1] === row && knot.cell[2] === column).map((knot) => [left + knot.x * now, top + knot.y * now]);
}, row, column);
/** The names of the colours that those knots show. */
const shows = (row, column) => page.evaluate((row, column) => band.knots.filter((knot) => knot.cell?.[1] === row && knot.cell[2] === column).map((knot) => band.colours[knot.shows][1]), row, column);
const take = (name) => page.evaluate((name) => [...document.querySelectorAll('.end')].find((end) => end.textContent.endsWith(name)).click(), name);
const onDisk = () => readFileSync(join(place, 'wave.txt'), 'utf8');
const button = (does) => page.waitForSelector(`#beside button[data-does="${does} wave.txt"]:not([disabled])`, { visible: true });
const told = (pattern) => page.waitForFunction((pattern) => new RegExp(pattern).test(document.getElementById('told').textContent), { timeout: 20_000 }, pattern.source);

describe('on the band itself', () => {
  test('a thread is drawn over knots, in every repeat at once, and one step takes it back', async () => {
    await take('foam');
    assert.equal(await page.$eval('.end[aria-pressed=true]', (end) => end.textContent), '1foam');
    await page.waitForFunction(() => band.column * scale(painted.size) >= 14, {}, 'the band is large enough to point at');
    await settled();
    const [from, to] = [(await knots(0, 0))[0], (await knots(0, 2))[0]];
    await page.mouse.move(...from);
    await page.mouse.down();
    await page.mouse.move(...to, { steps: 4 });
    // Before the command has answered the knots are wet with it: all that show the same cells.
    assert.ok(await page.evaluate(() => wet.size >= 2 || view.painting.version > 0));
    await page.mouse.up();
    await settled();
    const after = await marks();
    assert.equal(after[0][0] + after[0][2], '--');
    assert.ok((await shows(0, 0)).length >= 2);
    assert.deepEqual([...new Set(await shows(0, 0))], ['foam']);
    assert.equal(onDisk(), WAVE);
    await page.click('#undo');
    await settled();
    assert.equal((await marks()).join('\n') + '\n', WAVE);
    assert.deepEqual([...new Set(await shows(0, 0))], ['sea']);
    assert.ok(await page.$eval('#undo', (undo) => undo.disabled));
    await page.click('#redo');
    await settled();
    assert.deepEqual(await marks(), after);
    assert.deepEqual([heard.console, heard.errors], [[], []]);
  });

  test('without a thread in hand the band is moved about, not painted', async () => {
    const [x, y] = (await knots(0, 0))[0];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + 40, y, { steps: 4 });
    await page.mouse.up();
    await settled();
    assert.equal((await marks()).join('\n') + '\n', WAVE);
    assert.equal(await page.evaluate(() => view.painting.version), 0);
    await take('foam');
    await take('foam');
    assert.equal(await page.$('.end[aria-pressed=true]'), null, 'the same again lays it down');
  });

  test('keys go from knot to knot, take up threads, paint, and turn back', async () => {
    await page.focus('#fabric');
    await page.keyboard.press('t');
    await told(/foam is in your hand/);
    await page.keyboard.press('ArrowRight');
    for (let step = 0; step < 3; step += 1) await page.keyboard.press('ArrowRight');
    const cell = await page.evaluate(() => mark.cell);
    await told(new RegExp(`Row ${cell[1] + 1}, column ${cell[2] + 1} of wave.txt: (sea|foam); (sea|foam) shows`));
    const before = await page.evaluate(() => [mark.x, mark.y]);
    await page.keyboard.press('ArrowDown');
    const under = await page.evaluate(() => [mark.x, mark.y]);
    assert.ok(under[1] > before[1], 'down is down');
    await page.keyboard.press('ArrowUp');
    const [, row, column] = await page.evaluate(() => mark.cell);
    const was = (await marks())[row][column];
    await page.keyboard.press(was === '-' ? '2' : '1');
    await page.keyboard.press(' ');
    await settled();
    const now = was === '-' ? '~' : '-';
    assert.equal((await marks())[row][column], now);
    // The mark of a colour takes up its thread too, and Enter the thread of the knot.
    await page.keyboard.press(was);
    await page.keyboard.press(' ');
    await settled();
    assert.equal((await marks())[row][column], was);
    await page.keyboard.press(now);
    await page.keyboard.press('Enter');
    assert.equal(await page.evaluate(() => hand.pot), was);
    for (const [keys, expected] of [[['z'], now], [['z'], was], [['Shift', 'z'], now], [['y'], was]]) {
      await page.keyboard.down('Control');
      for (const key of keys.slice(0, -1)) await page.keyboard.down(key);
      await page.keyboard.press(keys.at(-1));
      for (const key of keys.slice(0, -1)) await page.keyboard.up(key);
      await page.keyboard.up('Control');
      await settled();
      assert.equal((await marks())[row][column], expected, keys.join('+'));
    }
    await page.keyboard.press('Escape');
    assert.equal(await page.evaluate(() => hand), null);
    // Then digits are what they always are.
    await page.keyboard.press('2');
    assert.ok(await page.$eval('#fabric', (pane) => pane.hidden));
    assert.ok(await page.$eval('#ends', (ends) => ends.hidden), 'threads hang below the fabric alone');
    assert.deepEqual([heard.console, heard.errors], [[], []]);
  });

  test('knots that miss are ringed with the colour that they should show', async () => {
    writeFileSync(join(place, 'mooring.rhai'), RULE.replace('solved(wave)', 'solved(wave, #{ counts: #{ "sea": 5, "foam": 1 } })'));
    writeFileSync(join(place, 'wave.txt'), '~-~-~\n-~-~-\n--~~-\n~~--~\n');
    await told(/knots? of the repeat shows? another colour/);
    const ink = () => page.evaluate(() => {
      const miss = band.knots.find((knot) => knot.is_missed), canvas = document.getElementById('marks');
      const fine = canvas.width / painted.area[2];
      const at = (knot, aside) => [...canvas.getContext('2d').getImageData(Math.round((knot.x + aside - painted.area[0]) * fine), Math.round((knot.y - painted.area[1]) * fine), 1, 1).data];
      const fine_knot = band.knots.find((knot) => !knot.is_missed);
      return { wanted: miss.wanted, middle: at(miss, 0), ring: at(miss, band.column * 0.4), other: at(fine_knot, 0) };
    });
    await page.waitForFunction(() => band.knots.some((knot) => knot.is_missed));
    await take('foam');
    await page.waitForFunction(() => band.column * scale(painted.size) >= 14);
    await page.waitForFunction(() => document.getElementById('marks').width > 0 && painted.area[2] > 0);
    await new Promise((later) => setTimeout(later, 300));
    const { wanted, middle, ring, other } = await ink();
    assert.equal(`#${middle.slice(0, 3).map((part) => part.toString(16).padStart(2, '0')).join('')}`, wanted);
    assert.ok(ring[3] > 100 && ring[0] < 200, `a dark ring: ${ring}`);
    assert.equal(other[3], 0, 'others are as they are');
  });
});

describe('on the picture beside it', () => {
  test('cells are drawn as small knots, and painted with mouse and keys', async () => {
    await take('foam');
    const cell = await cellsAt();
    await page.mouse.move(...cell(0, 0));
    await page.mouse.down();
    await page.mouse.move(...cell(0, 4), { steps: 3 });
    await page.mouse.up();
    await settled();
    assert.equal((await marks())[0], '-----');
    await page.click('#undo');
    await settled();
    assert.equal((await marks())[0], '~~~~~');
    await page.focus('#beside canvas');
    await page.evaluate(() => { cellMark = null; });
    for (const key of ['ArrowRight', 'ArrowDown', ' ']) await page.keyboard.press(key);
    await told(/Row 2, column 2 of wave\.txt: foam, painted/);
    await settled();
    assert.equal((await marks())[1][1], '-');
    for (let step = 0; step < 9; step += 1) await page.keyboard.press('ArrowDown');
    await told(/Row 4, column 2/);
    // Something is drawn in the colours of the threads.
    const seen = await page.$eval('#beside canvas', (canvas) => {
      const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
      const all = new Set();
      for (let at = 0; at < data.length; at += 4) if (data[at + 3] === 255) all.add(`${data[at]},${data[at + 1]},${data[at + 2]}`);
      return [...all];
    });
    assert.ok(seen.includes('29,111,140') && seen.includes('232,241,238'), seen.slice(0, 9).join(' '));
  });

  test('the line says what the mouse has painted, and the keys go on from there', async () => {
    const cell = await cellsAt();
    await take('foam');
    await page.mouse.click(...cell(0, 2));
    await told(/^Row 1, column 3 of wave\.txt: foam, painted$/);
    assert.deepEqual(await page.evaluate(() => cellMark), { file: 'wave.txt', row: 0, column: 2 });
    // Later strokes say it too, and one goes as far as it is drawn.
    await page.mouse.move(...cell(1, 0));
    await page.mouse.down();
    await page.mouse.move(...cell(1, 3), { steps: 4 });
    await page.mouse.up();
    await told(/^Row 2, column 4 of wave\.txt: foam, painted$/);
    await page.keyboard.press('ArrowDown');
    await told(/^Row 3, column 4 of wave\.txt: sea$/);
    await settled();
    assert.deepEqual((await marks()).slice(0, 2), ['~~-~~', '----~']);
    // Between the knots of the lattice nothing is tied.
    await page.mouse.click(...cell(0, 3));
    await told(/^Row 1, column 4 of wave\.txt: foam, painted, though no knot of the band shows it$/);
    await settled();
    // So it is on the band itself.
    await page.waitForFunction(() => band.column * scale(painted.size) >= 14);
    await settled();
    await page.mouse.click(...(await knots(2, 0))[0]);
    await told(/^Row 3, column 1 of wave\.txt: foam, painted$/);
    assert.deepEqual(await page.evaluate(() => mark.cell), [0, 2, 0]);
    await settled();
  });

  test('with nothing in hand nothing is painted, here as on the band, and it is said what to do', async () => {
    const cell = await cellsAt();
    await page.mouse.click(...cell(0, 2));
    await told(/^Row 1, column 3 of wave\.txt: sea\. To paint it, take up a thread that hangs below the band$/);
    assert.deepEqual(await page.evaluate(() => [hand, cellMark, view.painting.version, acts.length]), [null, { file: 'wave.txt', row: 0, column: 2 }, 0, 0]);
    await page.keyboard.press('ArrowDown');
    await told(/^Row 2, column 3 of wave\.txt: sea$/);
    await page.keyboard.press(' ');
    await told(/^Row 2, column 3 of wave\.txt: sea\. To paint it/);
    assert.deepEqual(await page.evaluate(() => [hand, view.painting.version, acts.length]), [null, 0, 0]);
    // A digit takes one up.
    await page.keyboard.press('1');
    await page.keyboard.press(' ');
    await told(/^Row 2, column 3 of wave\.txt: foam, painted, though no knot of the band shows it$/);
    await settled();
    assert.deepEqual((await marks()).slice(0, 2), ['~~~~~', '~~-~~']);
  });

  test('a thread that hangs for another picture is changed for its like, or refused', async () => {
    writeFileSync(join(place, 'tide.txt'), 'fs\nss\n');
    writeFileSync(join(place, 'mooring.rhai'), RULE.replace('let tied', 'let tide = picture("tide.txt", #{ marks: #{ "f": foam, "s": colour("sand", "#d9c27a") } });\nlet tied'));
    await page.waitForFunction(() => news.files.length === 2 && papers.get('tide.txt')?.pots && papers.get('wave.txt')?.pots);
    const box = await (await page.$('#beside canvas[data-file="tide.txt"]')).boundingBox();
    const cell = (row, column) => [box.x + (column + 0.5) * box.width / 2, box.y + (row + 0.5) * box.height / 2];
    const thread = (name) => page.evaluate((name) => take({ file: 'wave.txt', pot: fileOf('wave.txt').pots.find((pot) => pot.name === name).id }), name);
    await thread('sea');
    await page.mouse.click(...cell(1, 1));
    await told(/^Row 2, column 2 of tide\.txt: sand\. What is in your hand hangs for wave\.txt: take up a thread of tide\.txt$/);
    assert.deepEqual(await page.evaluate(() => [hand.file, view.painting.version, acts.length]), ['wave.txt', 0, 0]);
    await thread('foam');
    await page.mouse.click(...cell(1, 1));
    await told(/^Row 2, column 2 of tide\.txt: foam, painted, though no knot of the band shows it$/);
    assert.deepEqual(await page.evaluate(() => hand), { file: 'tide.txt', pot: 'f' });
    // The same over the knots of the band, which show the other picture.
    await page.evaluate(() => take({ file: 'tide.txt', pot: 's' }));
    await page.waitForFunction(() => band.files.includes('wave.txt') && band.knots.length > 0);
    await page.mouse.click(...(await knots(0, 0))[0]);
    await told(/^Row 1, column 1 of wave\.txt: .*\. What is in your hand hangs for tide\.txt: take up a thread of wave\.txt$/);
    await page.evaluate(() => take({ file: 'tide.txt', pot: 'f' }));
    await page.mouse.click(...(await knots(0, 0))[0]);
    await told(/^Row 1, column 1 of wave\.txt: foam, painted$/);
  });

  test('it is marked where the band begins', async () => {
    await page.waitForFunction(() => document.querySelector('#beside .lies').textContent !== '');
    assert.match(await words(page, '#beside .lies'), /The band begins, at the left where it lies straight, with the top row, marked here\./);
    const shadow = () => page.$eval('#beside canvas', (canvas) => getComputedStyle(canvas).boxShadow);
    assert.match(await shadow(), / 0px -3px 0px 0px$/);
    const before = await (await page.$('#beside canvas')).boundingBox();
    writeFileSync(join(place, 'mooring.rhai'), RULE.replace('solved(wave)', 'solved(wave.upside_down())'));
    await page.waitForFunction(() => /bottom row/.test(document.querySelector('#beside .lies').textContent));
    assert.match(await shadow(), / 0px 3px 0px 0px$/);
    assert.deepEqual(await (await page.$('#beside canvas')).boundingBox(), before);
  });

  test('a finger paints, on a phone too', async () => {
    await page.close();
    ({ page, heard } = await open(chromium, address, { width: 390, height: 844, touch: true }));
    await ready();
    await take('foam');
    await page.waitForFunction(() => band.column * scale(painted.size) >= 14);
    await settled();
    const [from, to] = [(await knots(0, 0))[0], (await knots(0, 2))[0]];
    await page.touchscreen.touchStart(...from);
    await page.touchscreen.touchMove(...to);
    await page.touchscreen.touchEnd();
    await settled();
    const [first] = await marks();
    assert.equal(first[0] + first[2], '--');
    assert.equal(await page.evaluate(() => scrollY), 0, 'the page stays where it is');
    assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= 390);
    assert.deepEqual([heard.console, heard.errors], [[], []]);
  });
});

/** Where the cells of the picture are on the screen. */
async function cellsAt() {
  const box = await (await page.$('#beside canvas')).boundingBox();
  return (row, column) => [box.x + (column + 0.5) * box.width / 5, box.y + (row + 0.5) * box.height / 4];
}

/** Paints a cell of the picture, which may be any. */
async function dab(row, column, name = 'foam') {
  await page.evaluate((row, column, name) => { take({ file: 'wave.txt', pot: fileOf('wave.txt').pots.find((pot) => pot.name === name).id }); dab('wave.txt', row, column); }, row, column, name);
}

describe('strokes on their way', () => {
  test('the first of a stroke is sent at once, and the fabric is decoded with the frame that shows it', async () => {
    const sent = await page.evaluate(async () => {
      take({ file: 'wave.txt', pot: fileOf('wave.txt').pots[0].id });
      dab('wave.txt', 0, 0);
      let frames = 0;
      requestAnimationFrame(() => { frames += 1; });
      await Promise.resolve();
      await Promise.resolve();
      return [posting, frames];
    });
    assert.deepEqual(sent, [true, 0]);
    await settled();
    assert.equal(await page.$eval('#picture', (picture) => picture.decoding), 'sync');
  });

  test('one whose answer is lost is sent again and done once; none overtakes another', async () => {
    await page.setRequestInterception(true);
    let lost = 0;
    const sent = [];
    page.on('request', async (request) => {
      if (!request.url().endsWith('/painting/strokes') || request.method() !== 'POST') { request.continue(); return; }
      sent.push(JSON.parse(request.postData()));
      if (lost < 2) {
        lost += 1;
        // The first arrives, and its answer does not; the second does not even arrive.
        if (lost === 1) await fetch(request.url(), { method: 'POST', headers: request.headers(), body: request.postData() });
        request.abort();
        return;
      }
      request.continue();
    });
    await dab(0, 0, 'foam');
    await new Promise((later) => setTimeout(later, 200));
    await dab(0, 0, 'sea');
    await dab(2, 2, 'foam');
    await page.evaluate(() => turnBack('undo'));
    await dab(0, 2, 'foam');
    await settled();
    const now = await marks();
    assert.equal([now[0][0], now[2][2], now[0][2]].join(''), '~~-');
    for (const way of ['undo', 'undo', 'undo']) await page.evaluate((way) => turnBack(way), way);
    await settled();
    assert.equal((await marks()).join('\n') + '\n', WAVE);
    assert.ok(sent.length >= 3 && sent.every((body, at) => at === 0 || body.from >= sent[at - 1].from));
  });

  test('a hand that never rests sends no more than one bundle a frame, and the fabric follows', async () => {
    let sent = 0;
    page.on('request', (request) => { if (request.url().endsWith('/painting/strokes')) sent += 1; });
    await take('foam');
    const box = await (await page.$('#beside canvas')).boundingBox();
    const frames = page.evaluate(() => new Promise((resolve) => { let frames = 0; const count = () => { frames += 1; if (window.rests) resolve(frames); else requestAnimationFrame(count); }; count(); }));
    await page.mouse.move(box.x + 2, box.y + 2);
    await page.mouse.down();
    for (let turn = 0; turn < 60; turn += 1) await page.mouse.move(box.x + 2 + (turn % 5) * box.width / 5, box.y + 2 + (turn % 4) * box.height / 4);
    await page.mouse.up();
    await page.evaluate(() => { window.rests = true; });
    assert.ok(sent <= (await frames) + 1, `${sent}`);
    await settled();
    const after = await (await page.$('#beside canvas')).boundingBox();
    assert.deepEqual(after, box, 'nothing moves under the hand');
    const painted = (await marks()).join('');
    assert.equal([...painted].filter((mark) => mark === '-').length, 20);
    await page.click('#undo');
    await settled();
    assert.equal((await marks()).join('\n') + '\n', WAVE, 'one stroke');
  });

  test('what is painted is painted again where the command is started again', async () => {
    await dab(0, 0);
    await dab(2, 2);
    await settled();
    const before = await marks();
    await stop();
    assert.match(command.said, /what was painted on wave\.txt was not saved/);
    await start();
    await page.waitForFunction(() => view.painting.files[0]?.is_unsaved && view.painting.version > 0 && acts.length === 0, { timeout: 30_000 });
    await settled();
    assert.deepEqual(await marks(), before);
    assert.equal(onDisk(), WAVE);
  });
});

describe('pictures and files', () => {
  test('what is painted is saved beside the rule, and nowhere else', async () => {
    assert.ok(await page.$eval('#beside button[data-does^="save"]', (save) => save.disabled), 'there is nothing to save');
    await dab(0, 0);
    await settled();
    assert.ok(await page.$eval('#unsaved', (note) => !note.hidden), 'the command would make another band');
    assert.match(await words(page, '#unsaved'), /^Save the picture first/);
    await (await button('save')).click();
    await told(/^Saved: .*wave\.txt/);
    assert.equal(onDisk(), `-${WAVE.slice(1)}`);
    await page.waitForFunction(() => !view.painting.files[0].is_unsaved && document.getElementById('unsaved').hidden);
    assert.deepEqual(readdirSync(place).sort(), ['mooring.rhai', 'wave.txt']);
  });

  test('a file that is taken away elsewhere can only be kept, and is written anew', async () => {
    await dab(0, 0);
    await settled();
    rmSync(join(place, 'wave.txt'));
    const keep = await button('keep');
    assert.match(await words(page, '#beside figcaption'), /taken away while it was painted here/);
    assert.equal(await page.$('#beside button[data-does^="take"]'), null, 'there is nothing to take');
    await keep.click();
    await (await button('save')).click();
    await told(/^Saved/);
    assert.equal(onDisk(), `-${WAVE.slice(1)}`);
  });

  test('a file that is changed elsewhere is asked about, and either is kept', async () => {
    await dab(0, 0);
    await settled();
    writeFileSync(join(place, 'wave.txt'), '-~-~-\n~~~~~\n~~~~~\n--~~~\n');
    const keep = await button('keep');
    assert.match(await words(page, '#beside figcaption'), /changed elsewhere/);
    assert.equal((await marks())[0], '-~~~~', 'what is painted stays in sight');
    await keep.click();
    await (await button('save')).click();
    await told(/^Saved/);
    assert.equal(onDisk(), `-${WAVE.slice(1)}`);
    await dab(0, 2);
    await settled();
    writeFileSync(join(place, 'wave.txt'), '~~~~~\n-----\n~~~~~\n~~~~~\n');
    await (await button('take')).click();
    await settled();
    assert.equal((await marks())[1], '-----');
    await page.click('#undo');
    await settled();
    assert.equal((await marks())[0], '-~-~~', 'and what was painted can be had back');
  });

  test('a picture is dropped on the page or chosen, and why it is not taken is said', async () => {
    const drop = (text, name) => page.evaluate((text, name) => {
      const data = new DataTransfer();
      data.items.add(new File([text], name));
      for (const type of ['dragover', 'drop']) document.querySelector('#beside figure').dispatchEvent(new DragEvent(type, { bubbles: true, cancelable: true, dataTransfer: data }));
    }, text, name);
    await drop('~~--~~-\n~--~~--\n', 'tide.txt');
    await told(/tide\.txt is in the place of wave\.txt, and is not saved\. It has 7 columns and 2 rows, and shows foam and sea\./);
    await page.waitForFunction(() => document.getElementById('title').textContent === 'mooring, 8 threads');
    assert.equal(onDisk(), WAVE);
    await drop('<script>alert(1)</script>', 'evil.html');
    await told(/evil\.html was not taken: nobody has said what "<"/);
    assert.equal(await page.$('#told script'), null);
    await page.click('#undo');
    await settled();
    assert.equal((await marks()).join('\n') + '\n', WAVE);
    const other = join(folder, 'other.txt');
    writeFileSync(other, '~-~\n-~-\n');
    await (await page.$('#beside input[type=file]')).uploadFile(other);
    await told(/other\.txt is in the place of wave\.txt/);
    await page.waitForFunction(() => document.getElementById('title').textContent === 'mooring, 4 threads');
    // Pixels become as wide as the picture was, which is said.
    await drop(pixels(6, 4), 'heart.ppm');
    await told(/heart\.ppm is in the place of wave\.txt, and is not saved\. It was shrunk from 6 columns and 4 rows to 3 columns and 2 rows, no wider than wave\.txt was, and shows foam and sea\./);
    await page.waitForFunction(() => news.files[0].columns === 3 && news.files[0].rows === 2);
    assert.deepEqual(readdirSync(place).sort(), ['mooring.rhai', 'wave.txt']);
  });

  test('who closes the page before saving is asked, and the command says at its end what is not saved', async () => {
    const asked = [];
    page.on('dialog', (dialog) => { asked.push(dialog.type()); dialog.accept(); });
    // Browsers ask only for those who have done something on the page.
    await page.mouse.click(...(await cellsAt())(0, 0));
    await page.reload();
    await ready();
    assert.deepEqual(asked, [], 'nothing is painted');
    await take('foam');
    await page.mouse.click(...(await cellsAt())(0, 0));
    await settled();
    await page.reload();
    await ready();
    assert.deepEqual(asked, ['beforeunload']);
    assert.equal((await marks())[0][0], '-', 'as long as the command runs it knows what is painted');
    await page.close();
    await stop();
    assert.match(command.said, /what was painted on wave\.txt was not saved/);
    await start();
    ({ page, heard } = await open(chromium, address));
    await ready();
    page.on('dialog', (dialog) => { asked.push(dialog.type()); dialog.accept(); });
    await take('foam');
    await page.mouse.click(...(await cellsAt())(0, 0));
    await settled();
    await (await button('save')).click();
    await told(/^Saved/);
    await page.waitForFunction(() => !view.painting.files[0].is_unsaved);
    await page.reload();
    await ready();
    assert.deepEqual(asked, ['beforeunload'], 'it is saved');
  });

  test('what the rule is to say to read pixels that were saved as text stays in sight, to be copied', async () => {
    const asked = [];
    page.on('dialog', (dialog) => { asked.push(dialog.type()); dialog.accept(); });
    await page.browserContext().overridePermissions(address, ['clipboard-read', 'clipboard-write', 'clipboard-sanitized-write']);
    writeFileSync(join(place, 'art.ppm'), pixels(6, 4));
    writeFileSync(join(place, 'mooring.rhai'), 'let tied = solved(picture("art.ppm", #{ columns: 3 }));\nband(tied.threads).repeat(tied.rows).colours(tied.colours).repeats(4)\n');
    await page.waitForFunction(() => news.files[0]?.name === 'art.ppm' && papers.get('art.ppm')?.pots && band.files[0] === 'art.ppm');
    assert.ok(await page.$eval('#beside .reads', (reads) => reads.hidden));
    await page.evaluate(() => { take({ file: 'art.ppm', pot: fileOf('art.ppm').pots[0].id }); dab('art.ppm', 0, papers.get('art.ppm').pots[0] === 0 ? 2 : 0); });
    const save = await page.waitForSelector('#beside button[data-does="save art.ppm"]:not([disabled])', { visible: true });
    await page.waitForFunction(() => acts.length === 0 && !posting && !view.is_busy);
    await save.click();
    await told(/^Saved: .*art\.txt/);
    const call = await words(page, '#beside .reads:not([hidden]) code');
    assert.match(call, /^picture\("art\.txt", #\{ marks: #\{ .* \} \}\)$/);
    assert.match(await words(page, '#beside .reads p'), /art\.txt\. Now the rule still reads art\.ppm, which stays as it was: in line 1 of the rule, write$/);
    await page.waitForFunction(() => /saved as text, which the rule does not read yet/.test(document.querySelector('#beside figcaption').textContent));
    assert.match(await words(page, '#unsaved'), /^Let the rule read the text that was saved/);
    // The next message takes away the status line alone.
    await page.focus('#beside canvas');
    await page.keyboard.press('ArrowRight');
    await told(/^Row 1, column 2/);
    const copy = await page.waitForSelector('#beside button[data-does="copy art.ppm"]', { visible: true });
    await copy.click();
    await told(/has been copied/);
    assert.equal(await page.evaluate(() => navigator.clipboard.readText()), call);
    const seen = await page.evaluate(() => { const file = fileOf('art.ppm'); return papers.get('art.ppm').pots.map((pot) => file.pots[pot].colour); });
    // Nothing is lost any more: nobody is asked, and nothing is told at the end.
    await page.reload();
    await page.waitForFunction(() => news.files[0]?.name === 'art.ppm');
    assert.deepEqual(asked, []);
    // The rule as the line says ties what was painted.
    writeFileSync(join(place, 'mooring.rhai'), `let tied = solved(${call});\nband(tied.threads).repeat(tied.rows).colours(tied.colours).repeats(4)\n`);
    await page.waitForFunction(() => news.files.length === 1 && news.files[0].name === 'art.txt' && papers.get('art.txt')?.pots);
    assert.deepEqual(await page.evaluate(() => { const file = fileOf('art.txt'); return papers.get('art.txt').pots.map((pot) => file.pots[pot].colour); }), seen);
    assert.equal(await page.$('#beside .reads:not([hidden])'), null);
    await stop();
    assert.doesNotMatch(command.said, /not saved/);
    await start();
  });

  test('a text beside pixels that is changed elsewhere is asked about, and there is a way on', async () => {
    writeFileSync(join(place, 'art.ppm'), pixels(6, 4));
    writeFileSync(join(place, 'mooring.rhai'), 'let tied = solved(picture("art.ppm", #{ columns: 3 }));\nband(tied.threads).repeat(tied.rows).colours(tied.colours).repeats(4)\n');
    await page.waitForFunction(() => news.files[0]?.name === 'art.ppm' && papers.get('art.ppm')?.pots && band.files[0] === 'art.ppm');
    const paint = (pot) => page.evaluate((pot) => { take({ file: 'art.ppm', pot: fileOf('art.ppm').pots[pot].id }); dab('art.ppm', 0, 0); }, pot);
    const press = async (does) => {
      await page.waitForFunction(() => acts.length === 0 && !posting && !view.is_busy);
      await (await page.waitForSelector(`#beside button[data-does="${does} art.ppm"]:not([disabled])`, { visible: true })).click();
    };
    await paint(1);
    await press('save');
    await told(/^Saved: .*art\.txt/);
    writeFileSync(join(place, 'art.txt'), 'mine');
    await paint(2);
    await press('save');
    await told(/^art\.txt was changed elsewhere since it was saved here/);
    await page.waitForFunction(() => /saved as art\.txt, which was changed elsewhere since/.test(document.querySelector('#beside figcaption').textContent));
    await press('keep');
    await press('save');
    await told(/^Saved: .*art-2\.txt/);
    assert.equal(readFileSync(join(place, 'art.txt'), 'utf8'), 'mine');
  });

  test('a rule that reads no picture shows nothing of all this', async () => {
    writeFileSync(join(place, 'mooring.rhai'), '/// Plain.\nband(5).repeat(forward(1..5)).title("plain")\n');
    await page.waitForFunction(() => document.getElementById('title').textContent === 'plain');
    for (const each of ['beside', 'ends', 'painting', 'drawn']) assert.ok(await page.$eval(`#${each}`, (part) => part.hidden), each);
    await page.keyboard.press('t');
    assert.equal(await page.evaluate(() => hand), null);
  });

  test('of a picture that is drawn in the rule it is said why it cannot be painted, and what to do', async () => {
    assert.ok(await page.$eval('#drawn', (words) => words.hidden));
    writeFileSync(join(place, 'mooring.rhai'), 'band(4).repeat(over_leader(picture(["#.#", ".#."]))).title("drawn")\n');
    await page.waitForFunction(() => document.getElementById('title').textContent === 'drawn');
    await page.waitForFunction(() => !document.getElementById('drawn').hidden);
    assert.match(await words(page, '#drawn'), /drawn in the rule itself.*put it into a text file beside the rule/);
    await page.click('#tab-steps');
    assert.ok(await page.$eval('#drawn', (words) => words.hidden));
  });
});

describe('for everybody', () => {
  for (const scheme of ['light', 'dark']) {
    test(`axe-core finds nothing, ${scheme}, with paint on the page`, async () => {
      await page.emulateMediaFeatures([{ name: 'prefers-color-scheme', value: scheme }]);
      await dab(0, 0);
      await settled();
      writeFileSync(join(place, 'wave.txt'), '-----\n~~~~~\n~~~~~\n~~~~~\n');
      await button('keep');
      await page.evaluate(axe.source);
      const { violations } = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
      assert.deepEqual(violations.map(({ id, nodes }) => [id, nodes.map((node) => node.html.slice(0, 120))]), []);
    });
  }

  test('nothing scrolls sideways, all is large enough to be touched, and nothing moves where that is not wanted', async () => {
    await dab(0, 0);
    await settled();
    for (const width of [320, 390, 768, 1100]) {
      await page.setViewport({ width, height: 740 });
      assert.ok((await page.evaluate(() => document.documentElement.scrollWidth)) <= width, `${width} pixels`);
      const small = await page.$$eval('#desk button, #painting button', (all) => all.filter((each) => each.offsetParent).map((each) => [each.textContent, each.getBoundingClientRect().height]).filter(([, height]) => height < 44));
      assert.deepEqual(small, []);
    }
    const moves = () => page.$eval('.end svg', (strand) => getComputedStyle(strand).transitionDuration);
    assert.notEqual(await moves(), '0s');
    await page.emulateMediaFeatures([{ name: 'prefers-reduced-motion', value: 'reduce' }]);
    assert.equal(await moves(), '0s');
  });
});
