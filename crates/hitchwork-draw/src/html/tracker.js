
// Walks through the rows of a sheet. The sheet holds each row once, written for the first
// repeat; here the threads of the repeat at hand are put into their places.
(() => {
  const band = JSON.parse(document.getElementById('band').textContent);
  const by = (id) => document.getElementById(id);
  const all = (selector, inside = document) => [...inside.querySelectorAll(selector)];
  const count = (rows) => rows.reduce((sum, row) => sum + row.length, 0);

  // How many steps each part has; both hands have the same.
  const steps = { in: count(band.hands[0].leadIn), once: count(band.hands[0].repeat), out: count(band.hands[0].leadOut) };
  const beforeOut = steps.in + band.repeats * steps.once;
  const total = beforeOut + steps.out;

  let done = 0; // steps tied
  let hand = 0;
  let left = 0; // the place that was left by starting over
  let kept = true;
  let known = null; // what was kept when we last looked

  // Which part, repeat, row and step comes after this many.
  const place = (at) => {
    let part = 'repeat', repeat = 1, inside = at - steps.in;
    if (at < steps.in) { part = 'leadIn'; inside = at; }
    else if (at >= beforeOut) { part = 'leadOut'; repeat = band.repeats; inside = at - beforeOut; }
    else { repeat = Math.floor(inside / steps.once) + 1; inside %= steps.once; }
    const rows = band.hands[0][part];
    let row = 0;
    while (row < rows.length && inside >= rows[row].length) inside -= rows[row++].length;
    return { part, repeat, row, step: inside, rows: rows.length, finished: at >= total };
  };

  // The order after some steps of some rows, from an order. A step is its thread and its knots, each as
  // its column times four, and its kind: the first two change places.
  const tied = (order, rows, row = rows.length, step = 0) => {
    const after = [...order];
    const tie = ([, ...knots]) => {
      for (const knot of knots) {
        const left = knot >> 2;
        if (knot % 4 < 2) [after[left], after[left + 1]] = [after[left + 1], after[left]];
      }
    };
    rows.slice(0, row).forEach((runs) => runs.forEach(tie));
    if (row < rows.length) rows[row].slice(0, step).forEach(tie);
    return after;
  };

  // For each hand: the order when the repeats begin, and from which position each
  // position's thread comes in a repeat.
  const hands = band.hands.map((own) => {
    const first = tied(own.colours.map((_, index) => index + 1), own.leadIn);
    const from = tied(first, own.repeat).map((thread) => first.indexOf(thread));
    return { ...own, first, from };
  });

  // The order before a repeat, by repeated squaring of the way of one repeat.
  const before = ({ first, from }, repeat) => {
    let way = from, sum = first.map((_, index) => index);
    for (let times = repeat - 1; times > 0; times = Math.floor(times / 2)) {
      if (times % 2) sum = sum.map((position) => way[position]);
      way = way.map((position) => way[position]);
    }
    return sum.map((position) => first[position]);
  };

  // Who stands for each thread of the first repeat in another one.
  const standIns = (own, repeat) => {
    const order = before(own, repeat);
    const stands = [];
    own.first.forEach((thread, position) => { stands[thread] = order[position]; });
    return stands;
  };

  const orderAt = (at) => {
    const { part, repeat, row, step } = place(at);
    const own = hands[hand];
    if (part === 'leadIn') return tied(own.colours.map((_, index) => index + 1), own.leadIn, row, step);
    if (part === 'leadOut') return tied(before(own, band.repeats + 1), own.leadOut, row, step);
    const stands = standIns(own, repeat);
    return tied(own.first, own.repeat, row, step).map((thread) => stands[thread]);
  };

  const dress = (chip, thread) => {
    const { colours } = hands[hand];
    chip.classList.remove(...[...chip.classList].filter((name) => /^c\d+$/.test(name)));
    chip.classList.add('c' + colours[thread - 1]);
    if (chip.classList.contains('named')) {
      chip.querySelector('span').textContent = thread;
      chip.querySelector('bdi').textContent = band.palette[colours[thread - 1]];
    } else {
      chip.textContent = thread;
    }
  };

  // The chip of a thread: the name of its colour is for those who hear the page.
  const chipOf = (thread) => {
    const chip = document.createElement('b');
    chip.className = 'chip named';
    const name = document.createElement('bdi');
    name.className = 'unseen';
    chip.append(document.createElement('span'), ' ', name);
    dress(chip, thread);
    return chip;
  };

  // The same at its position.
  const hanging = (thread, index) => {
    const item = document.createElement('li');
    const position = document.createElement('i');
    position.textContent = index + 1;
    position.setAttribute('aria-hidden', 'true');
    item.append(position, chipOf(thread));
    return item;
  };

  // Up to which row, and which of its knots, is tied.
  const tiedUpTo = () => {
    if (done === 0) return null;
    const { part, repeat, row, step } = place(done - 1);
    const runs = hands[hand][part][row].slice(0, step + 1);
    const until = { part, pass: part === 'repeat' ? repeat : 1, row: row + 1 };
    if (runs.length < hands[hand][part][row].length) until.knots = runs.reduce((sum, run) => sum + run.length - 1, 0);
    return until;
  };
  const sight = sightOf(band, mistakesOf(band), chipOf);

  const partNames = { leadIn: 'lead-in', repeat: 'repeat', leadOut: 'lead-out' };
  const inHand = () => document.querySelector(`.written [data-hand="${hand}"]`);

  // Writes the rows of the repeat for another repeat than they stand in.
  const wordRepeat = (repeat) => {
    const stands = standIns(hands[hand], repeat);
    const part = inHand().querySelector('[data-part="repeat"]');
    if (part.dataset.repeat === String(repeat)) return;
    for (const chip of all('[data-t]', part)) dress(chip, stands[chip.dataset.t]);
    part.dataset.repeat = repeat;
  };

  // The row that has just been finished, in words.
  const finishedRow = () => {
    const { part, row } = place(done - 1);
    return part === 'repeat' ? `Row ${row + 1}` : `Row ${row + 1} of the ${partNames[part]}`;
  };

  const headingWords = (checking, whole) => {
    if (!checking) return 'Order now, with the positions above';
    return whole ? `${finishedRow()} is done: check the order before you go on` : `${finishedRow()} is done. Its order:`;
  };

  const whereWords = (at) => {
    if (at.finished) return 'All rows are tied';
    const row = `Row ${at.row + 1} of ${at.rows}`;
    return at.part === 'repeat' ? `Repeat ${at.repeat} of ${band.repeats} · ${row}` : `${row} (${partNames[at.part]})`;
  };

  // A step of the written rows, said again elsewhere.
  const worded = (into, item) => {
    into.append(...[...item.childNodes].map((node) => node.cloneNode(true)));
    return into;
  };
  const listed = (items, first) => {
    const list = document.createElement('ol');
    list.start = first;
    list.append(...items.map((item) => worded(document.createElement('li'), item)));
    return list;
  };

  const show = (speak) => {
    const at = place(done);
    const order = orderAt(done);
    wordRepeat(at.repeat);
    all('[aria-current]').forEach((mark) => mark.removeAttribute('aria-current'));
    all('.row.now').forEach((row) => row.classList.remove('now'));

    const checking = done > 0 && at.step === 0;
    const whole = by('whole').checked;
    by('where').textContent = whereWords(at);
    by('order-heading').textContent = headingWords(checking, whole);
    by('tracker').classList.toggle('checking', checking);
    by('progress').value = done / total;
    by('order').replaceChildren(...order.map(hanging));

    let sentence = 'Go on to the finish below.';
    if (at.finished) {
      by('step').textContent = sentence;
    } else {
      const part = inHand().querySelector(`[data-part="${partNames[at.part]}"]`);
      const row = all('.row', part)[at.row];
      // What is tied before the next press: one step, or all that are left of the row.
      const items = all('ol > li', row).slice(at.step, whole ? undefined : at.step + 1);
      const mark = whole ? row : items[0];
      row.classList.add('now');
      mark.setAttribute('aria-current', 'step');
      by('step').replaceChildren(whole ? listed(items, at.step + 1) : worded(document.createElement('p'), items[0]));
      const stands = at.part === 'repeat' ? standIns(hands[hand], at.repeat) : null;
      for (const [worker] of hands[hand][at.part][at.row].slice(at.step, at.step + items.length)) {
        by('order').children[order.indexOf(stands ? stands[worker] : worker)].classList.add('works');
      }
      sentence = items.map((item) => item.textContent).join(' ');
      // At once, so that the panel beside it can be brought into sight next.
      if (speak && matchMedia('(min-width: 64rem)').matches) mark.scrollIntoView({ block: 'nearest', behavior: 'instant' });
    }
    by('back').disabled = done === 0;
    by('next').disabled = at.finished;
    by('repeat').value = at.repeat;
    by('over').textContent = left > 0 && done === 0 ? 'Return to where you were' : 'Start over';
    if (speak) {
      const check = checking ? `${finishedRow()} is done; its order is ${order.join(' ')}. ` : '';
      by('said').textContent = `${check}${whereWords(at)}. ${sentence}`;
    }
    sight.at(hand, tiedUpTo());
    document.body.dataset.done = done;
    document.body.dataset.order = order.join(' ');
    bringIntoView(speak);
  };

  // The working thread's chip is in sight, and the whole panel when the place has moved.
  const bringIntoView = (moved) => {
    const [panel, hung, step] = [by('panel'), by('hung'), by('step')];
    const chip = by('order').querySelector('.works');
    step.scrollTop = 0;
    hung.scrollLeft = chip ? chip.offsetLeft - (hung.clientWidth - chip.offsetWidth) / 2 : 0;
    // What scrolls must be reached by keys.
    for (const each of [hung, step]) {
      if (each.scrollHeight > each.clientHeight || each.scrollWidth > each.clientWidth) each.tabIndex = 0;
      else each.removeAttribute('tabindex');
    }
    const { top, bottom } = panel.getBoundingClientRect();
    const room = document.documentElement.clientHeight;
    if (moved && (top < 0 || bottom > room)) scrollBy({ top: top - Math.max(0, (room - (bottom - top)) / 2), behavior: 'instant' });
  };

  // The place is kept where the browser allows it.
  const keep = () => {
    const text = JSON.stringify({ done, hand, whole: by('whole').checked });
    try {
      localStorage.setItem(band.key, text);
      known = text;
      kept = true;
    } catch {
      kept = false;
    }
    by('kept').textContent = kept
      ? 'Your place is kept in this browser.'
      : 'This browser keeps nothing: note down the repeat and row before you close the page.';
  };

  // All windows with this sheet are at one place, that which is kept. Takes it over where
  // another window has changed it since we looked, and says whether it has.
  const catchUp = () => {
    try {
      const text = localStorage.getItem(band.key);
      if (text === null || text === known) return false;
      known = text;
      const found = JSON.parse(text) ?? {};
      if (Number.isInteger(found.done)) done = Math.min(Math.max(found.done, 0), total);
      if (done > 0) left = 0;
      by('whole').checked = found.whole === true;
      switchHand(found.hand === 1 ? 1 : 0);
      show(false);
      return true;
    } catch {
      return false; // nothing can be kept, or it is nothing that we wrote
    }
  };

  // A step is taken from the place that is shown: where that has become another, it is only
  // shown.
  const go = (at) => {
    if (catchUp()) return;
    const next = Math.min(Math.max(at, 0), total);
    if (next !== 0) left = 0;
    done = next;
    show(true);
    keep();
    stayAwake();
  };

  // A choice holds wherever the place is by now.
  const choose = (choice) => {
    catchUp();
    choice();
    show(true);
    keep();
  };

  const rowStart = (at) => at - place(at).step;
  const rowEnd = (at) => {
    const { part, row, step, finished } = place(at);
    return finished ? total : at - step + band.hands[0][part][row].length;
  };
  const forth = (whole) => go(whole ? rowEnd(done) : done + 1);
  const back = (whole) => go(whole ? rowStart(Math.max(done - 1, 0)) : done - 1);
  const passStart = (at) => {
    const { part, repeat } = place(at);
    if (part === 'leadIn') return 0;
    return part === 'leadOut' ? beforeOut : steps.in + (repeat - 1) * steps.once;
  };
  const passLast = (at) => {
    const { part } = place(at);
    return passStart(at) + { leadIn: steps.in, repeat: steps.once, leadOut: steps.out }[part] - 1;
  };

  const switchHand = (to) => {
    hand = to;
    for (const part of all('[data-hand]')) part.hidden = Number(part.dataset.hand) !== hand;
    for (const choice of all('input[name="hand"]')) choice.checked = Number(choice.value) === hand;
  };

  // The screen stays on while steps are being tied.
  let lock = null;
  const stayAwake = async () => {
    if (!navigator.wakeLock || document.hidden) return;
    try {
      if (!by('awake').checked) {
        await lock?.release();
        lock = null;
      } else if (!lock || lock.released) {
        lock = await navigator.wakeLock.request('screen');
      }
    } catch {
      lock = null; // refused, for instance to save the battery
    }
  };

  by('next').addEventListener('click', () => forth(by('whole').checked));
  by('back').addEventListener('click', () => back(by('whole').checked));
  by('over').addEventListener('click', () => {
    if (catchUp()) return;
    if (left > 0 && done === 0) {
      go(left);
    } else {
      left = done;
      go(0);
    }
  });
  const goToRepeat = () => {
    const repeat = Math.round(Number(by('repeat').value));
    if (repeat >= 1) go(steps.in + (Math.min(repeat, band.repeats) - 1) * steps.once);
  };
  by('go').addEventListener('click', goToRepeat);
  by('repeat').addEventListener('keydown', (event) => { if (event.key === 'Enter') goToRepeat(); });
  by('whole').addEventListener('change', () => {
    const wish = by('whole').checked;
    choose(() => { by('whole').checked = wish; });
  });
  by('awake').addEventListener('change', stayAwake);
  document.addEventListener('visibilitychange', () => {
    if (lock) stayAwake();
    if (!document.hidden) catchUp();
  });
  addEventListener('storage', (event) => { if (event.key === band.key) catchUp(); });
  addEventListener('pageshow', catchUp);
  addEventListener('resize', () => bringIntoView(false));
  for (const choice of all('input[name="hand"]')) {
    choice.addEventListener('change', () => choose(() => switchHand(Number(choice.value))));
  }
  document.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    // Where keys have a meaning of their own they keep it.
    if (event.target.closest('input, select, textarea, summary, a, .pan, #sight')) return;
    if (event.key === ' ' && event.target.closest('button')) return;
    // Elsewhere these scroll the page.
    if ([' ', 'Home', 'End'].includes(event.key) && !event.target.closest('#tracker')) return;
    const move = {
      ArrowRight: () => forth(event.shiftKey || by('whole').checked),
      ' ': () => forth(event.shiftKey || by('whole').checked),
      ArrowLeft: () => back(event.shiftKey || by('whole').checked),
      Home: () => go(passStart(done)),
      End: () => go(passLast(done)),
    }[event.key];
    if (!move) return;
    event.preventDefault();
    move();
  });

  // Paper shows the first repeat, from which all others follow.
  addEventListener('beforeprint', () => wordRepeat(1));
  addEventListener('afterprint', () => show(false));

  document.documentElement.classList.add('live');
  document.querySelector('.hands').hidden = false;
  by('tracker').hidden = false;
  by('awake-choice').hidden = !navigator.wakeLock;
  by('repeat').max = band.repeats;
  switchHand(hand);
  if (!catchUp()) show(false);
  keep();
})();
