// The page's search for mistakes says what the library says, over bands and mistakes by chance.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { test } from 'node:test';
import { readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { runInNewContext } from 'node:vm';
import { binary } from './src/browser.js';

const SCRIPT = readFileSync(new URL('../../crates/hitchwork-draw/src/html/mistake.js', import.meta.url), 'utf8');
const { CASES = '240', SEED = '7' } = process.env;
const TOLD = 3;

/** Cases with what the library answers: written by a program of the tests, built with the rest of them. */
const cases = () => JSON.parse(execFileSync(join(dirname(binary), 'mistake_cases'), [SEED, CASES], { encoding: 'utf8', maxBuffer: 1 << 28 }));

const plainly = (value) => JSON.parse(JSON.stringify(value));

const answered = ({ data, hand, until, seen }) => {
  const band = JSON.parse(data);
  const find = runInNewContext(`${SCRIPT}\nmistakesOf`)(band);
  const search = find.search(find.planAt(hand, until), seen);
  let step = search.next();
  while (!step.done) step = search.next();
  const { isAsWritten, explanations, saidFirst, saidOfOthers } = step.value;
  return plainly({
    isAsWritten,
    saidFirst,
    saidOfOthers: saidOfOthers(TOLD),
    all: explanations.map(({ changes, alike }) => [changes, ...alike]),
    told: explanations.slice(0, TOLD).map(({ words }) => words()),
    shouldHang: find.shouldHang(hand, until, TOLD + 1).map(({ after, threads }) => [after, threads.map((thread) => band.hands[hand].colours[thread])]),
  });
};

test('what explains a sight, in which order and words, is the same', () => {
  const all = cases();
  const count = { cases: 0, one: 0, two: 0, none: 0, asWritten: 0, within: 0, mirrored: 0 };
  for (const { answer, ...asked } of all) {
    const found = answered(asked);
    assert.deepEqual(found, answer, JSON.stringify({ ...asked, data: undefined }));
    count.cases += 1;
    count.asWritten += answer.isAsWritten;
    count.none += !answer.isAsWritten && !answer.all.length;
    count[answer.all[0]?.[0].includes('; and ') ? 'two' : 'one'] += answer.all.length > 0;
    count.within += asked.until.knots !== null;
    count.mirrored += asked.hand;
  }
  // All kinds of answers were among them.
  const { asWritten, none, one, two, within, mirrored } = count;
  assert.ok(count.cases >= 200 && one > 60 && two > 20 && none > 0 && asWritten > 5 && within > 40 && mirrored > 60, JSON.stringify({ asWritten, none, one, two, within, mirrored }));
});
