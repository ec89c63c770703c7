
// "Looks wrong? Tap what you see": a picture of the last knots and of the threads that hang, as they
// should be. What looks different is tapped, and the search for mistakes says what explains it.

/**
 * `find` searches the band of the page, and `chip(thread)` makes the chip of a thread. Gives `at`, which
 * is told the place whenever it has moved.
 */
const sightOf = (band, find, chip) => {
  const SHOWN = 5; // knots of each column, and when more are asked for:
  const MOST_SHOWN = 10;
  const TOLD = 3; // explanations, as the command
  const ROWS_BACK = 4; // orders to compare with
  const SLICE_MS = 24; // a page that answers a finger within this seems to be at once

  const by = (id) => document.getElementById(id);
  const make = (tag, attributes = {}, ...children) => {
    const element = document.createElement(tag);
    for (const [name, value] of Object.entries(attributes)) if (value !== null) element.setAttribute(name, value);
    element.append(...children);
    return element;
  };

  let place = null; // { hand, until, key }: where the maker is; null where nothing is tied
  let plan = null; // what was to be tied up to there
  let drawn = null; // the threads that should show and hang there
  let state = null; // what has been tapped there
  let chosen = null; // the tile whose choices are open: { column, entry } or { position }
  let focused = ''; // the one tile that the tab key reaches
  let asked = 0; // how often was asked; an answer to an earlier question is dropped
  const states = new Map(); // what has been tapped, by places

  const colours = [...new Set(band.hands[0].colours)].sort((one, other) => one - other);
  const name = (colour) => band.palette[colour];
  const colourOf = (thread) => plan.colours[thread];

  // What is seen of a knot or a thread is a colour, or one of these.
  const SEEN = { untold: '', right: 'as drawn', gone: 'not there', unknown: 'cannot tell' };

  // Of each column the knots from the last one up; `depth` counts those that are drawn, and one that
  // was seen besides has none.
  const fresh = () => ({
    others: true,
    far: false,
    hanging: drawn.order.map(() => 'untold'),
    columns: drawn.columns.map((threads) => threads.slice(-MOST_SHOWN).map((_, depth) => ({ depth, seen: 'untold' }))),
  });

  // What was kept may have been written by anybody.
  const isState = (found) => {
    const isSeen = (seen) => Object.hasOwn(SEEN, seen) || colours.includes(seen);
    const same = (one, other) => Array.isArray(one) && one.length === other.length;
    const drawnDepths = (column) => column.filter(({ depth }) => depth !== -1).map(({ depth }) => depth);
    const like = fresh();
    return same(found?.hanging, like.hanging) && found.hanging.every(isSeen) && same(found.columns, like.columns)
      && found.columns.every((column, index) => Array.isArray(column) && column.length < 4 * MOST_SHOWN && column.every((entry) => entry && isSeen(entry.seen))
        && drawnDepths(column).join() === drawnDepths(like.columns[index]).join());
  };

  const KEY = `${band.key} seen`;
  const keep = () => {
    try {
      localStorage.setItem(KEY, JSON.stringify({ key: place.key, state }));
    } catch {
      // Where nothing is kept it lasts as long as the page.
    }
  };
  const kept = () => {
    try {
      const { key, state: found } = JSON.parse(localStorage.getItem(KEY)) ?? {};
      return key === place.key && isState(found) ? found : null;
    } catch {
      return null;
    }
  };

  const shownOf = (column) => column.filter(({ depth }) => depth < (state.far ? MOST_SHOWN : SHOWN));
  const threadOf = (column, { depth }) => (depth < 0 ? null : drawn.columns[column].at(-1 - depth));

  // What is seen, as the search takes it. Where a knot is missing or too many, the maker has compared the
  // whole column.
  const seenCloth = (others) => {
    const known = (seen, thread, isCompared) => {
      if (typeof seen === 'number') return seen;
      return seen === 'right' || (seen === 'untold' && isCompared) ? colourOf(thread) : null;
    };
    return {
      hanging: state.hanging.map((seen, position) => known(seen, drawn.order[position], others)),
      columns: state.columns.map((column, index) => {
        const isCompared = others || column.some(({ depth, seen }) => depth < 0 || seen === 'gone');
        const there = shownOf(column).filter(({ seen }) => seen !== 'gone');
        return there.map((entry) => known(entry.seen, threadOf(index, entry), isCompared));
      }),
    };
  };
  const isTold = () => state.hanging.some((seen) => seen !== 'untold')
    || state.columns.some((column) => column.some(({ depth, seen }) => depth < 0 || seen !== 'untold'));

  // The words of a tile.
  const seenWords = (seen) => (typeof seen === 'number' ? `you see ${name(seen)}` : SEEN[seen]);
  const tileWords = (tile) => {
    if (tile.position !== undefined) {
      const words = [`Position ${tile.position + 1}, hanging thread`, name(colourOf(drawn.order[tile.position])), seenWords(state.hanging[tile.position])];
      return words.filter(Boolean).join(', ');
    }
    const { column, entry } = tile;
    const above = shownOf(state.columns[column]).indexOf(entry);
    const which = above === 0 ? 'last knot' : `knot ${above + 1} from the last`;
    const own = entry.depth < 0 ? 'one more than drawn' : name(colourOf(threadOf(column, entry)));
    return [`Positions ${column + 1} and ${column + 2}, ${which}`, own, seenWords(entry.seen)].filter(Boolean).join(', ');
  };

  // The picture.
  const tileKey = (tile) => (tile.position !== undefined ? `p${tile.position}` : `c${tile.column}.${shownOf(state.columns[tile.column]).indexOf(tile.entry)}`);
  const tileOf = (tile, seen, thread, kind) => {
    const shape = make('b', { class: `shape${kind === null ? '' : ` kind${kind}`}` });
    const colour = typeof seen === 'number' ? seen : thread === null ? null : colourOf(thread);
    if (colour !== null && seen !== 'gone' && seen !== 'unknown') shape.classList.add(`c${colour}`);
    const marks = { gone: '–', unknown: '?', right: '=' };
    const mark = typeof seen === 'number' ? '!' : marks[seen] ?? (thread === null ? '+' : thread + 1);
    shape.append(make('span', {}, String(mark)));
    const key = tileKey(tile);
    const button = make('button', { type: 'button', class: `tile${seen === 'untold' && thread !== null ? '' : ' tapped'}`, 'data-tile': key, 'aria-label': tileWords(tile), tabindex: key === focused ? 0 : -1, 'aria-pressed': String(chosen !== null && tileKey(chosen) === key) }, shape);
    button.addEventListener('click', () => choose(tile));
    return button;
  };

  // Neighbouring columns lie half a knot apart, as in the fabric.
  const isRaised = () => {
    const levels = drawn.columns.map(() => -2);
    for (const { column } of plan.all) {
      levels[column] = Math.max(levels[column] + 2, (levels[column - 1] ?? -2) + 1, (levels[column + 1] ?? -2) + 1);
    }
    const last = Math.max(...levels);
    return levels.map((level) => (last - level) % 2 === 1);
  };

  const tiles = () => [...by('look').querySelectorAll('[data-tile]')];
  const draw = () => {
    const raised = isRaised();
    const kinds = drawn.columns.map((_, index) => plan.all.filter(({ column }) => column === index).map(({ kind }) => kind));
    const all = state.columns.map((column, index) => {
      const shown = shownOf(column);
      if (!shown.length) return make('div', { class: 'lies' });
      const own = shown.map((entry) => tileOf({ column: index, entry }, entry.seen, threadOf(index, entry), entry.depth < 0 ? null : kinds[index].at(-1 - entry.depth)));
      return make('div', { class: raised[index] ? 'lies raised' : 'lies' }, ...own.reverse());
    });
    const hanging = drawn.order.map((thread, position) => tileOf({ position }, state.hanging[position], thread, null));
    const left = by('look').scrollLeft;
    by('look').replaceChildren(make('div', { class: 'lying' }, ...all), make('div', { class: 'hanging' }, ...hanging));
    by('look').scrollLeft = left;
    if (!tiles().some((tile) => tile.dataset.tile === focused)) {
      focused = tiles()[0].dataset.tile;
      tiles()[0].tabIndex = 0;
    }
  };

  const focus = (key) => {
    const to = tiles().find((tile) => tile.dataset.tile === key);
    if (!to) return;
    for (const tile of tiles()) tile.tabIndex = tile === to ? 0 : -1;
    focused = key;
    to.focus();
  };

  // The arrow keys go through the picture.
  const moved = (key, to) => {
    const [, kind, first, second] = key.match(/^([pc])(\d+)(?:\.(\d+))?$/);
    const [at, above] = [Number(first), Number(second)];
    const count = (column) => shownOf(state.columns[column] ?? []).length;
    const lying = (column, above) => (count(column) ? `c${column}.${Math.min(above, count(column) - 1)}` : null);
    if (kind === 'p') {
      if (to === 'ArrowUp') return lying(Math.min(at, state.columns.length - 1), 0);
      return { ArrowLeft: `p${at - 1}`, ArrowRight: `p${at + 1}`, Home: 'p0', End: `p${drawn.order.length - 1}` }[to];
    }
    if (to === 'ArrowDown') return above === 0 ? `p${at}` : lying(at, above - 1);
    return { ArrowUp: lying(at, above + 1), ArrowLeft: lying(at - 1, above), ArrowRight: lying(at + 1, above), Home: lying(0, above), End: lying(state.columns.length - 1, above) }[to];
  };
  by('look').addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || !/^(Arrow|Home|End)/.test(event.key)) return;
    event.preventDefault();
    focus(moved(event.target.dataset.tile, event.key));
  });

  // What is seen of one of them.
  const choose = (tile) => {
    chosen = tile;
    focused = tileKey(tile);
    draw();
    const isHanging = tile.position !== undefined;
    const set = (seen) => {
      if (isHanging) state.hanging[tile.position] = seen;
      else tile.entry.seen = seen;
      finish();
    };
    const choice = (words, act, ...chips) => {
      const button = make('button', { type: 'button' }, ...chips, words);
      button.addEventListener('click', act);
      return button;
    };
    const buttons = colours.map((colour) => choice(name(colour), () => set(colour), make('i', { class: `chip dot c${colour}` })));
    const isMore = !isHanging && tile.entry.depth < 0;
    if (!isMore) buttons.unshift(choice('As drawn', () => set('right')));
    buttons.push(choice('Cannot tell', () => set('unknown')));
    if (isMore) {
      buttons.push(choice('Take it away again', () => {
        state.columns[tile.column] = state.columns[tile.column].filter((entry) => entry !== tile.entry);
        finish();
      }));
    } else if (!isHanging) {
      buttons.push(choice('Not there', () => set('gone')), choice('One more knot below it', () => {
        const column = state.columns[tile.column];
        const more = { depth: -1, seen: 'unknown' };
        column.splice(column.indexOf(tile.entry), 0, more);
        changed();
        choose({ column: tile.column, entry: more });
      }));
    }
    by('choice-heading').textContent = `${tileWords(tile)}. What do you see?`;
    by('choices').replaceChildren(...buttons);
    by('choice').hidden = false;
    by('choice').scrollIntoView({ block: 'nearest', behavior: 'instant' });
    buttons[0].focus();
  };
  const changed = () => {
    by('answer').replaceChildren();
    asked += 1;
    keep();
  };
  const close = () => {
    chosen = null;
    by('choice').hidden = true;
    draw();
    focus(focused);
  };
  const finish = () => {
    changed();
    close();
  };
  by('choice').addEventListener('keydown', (event) => { if (event.key === 'Escape') close(); });

  // The answer.
  const orders = () => {
    const order = ({ after, threads }) => make('li', {}, make('span', {}, `${find.capitalised(after)}: `), ...threads.flatMap((thread) => [chip(thread + 1), ' ']));
    by('should').replaceChildren(...find.shouldHang(place.hand, place.until, ROWS_BACK).map(order));
  };
  const told = ({ words }) => {
    const [first, ...others] = words();
    return make('li', {}, make('p', { class: 'found' }, first), ...others.map((sentence) => make('p', {}, sentence)));
  };
  // A knot that is missing or too many where all are of one colour is not seen by the search: no colour is wrong.
  const OPEN = 'What you tapped leaves it open: it could look like that with nothing wrong. Tap more of what you see.';
  const UNSURE = 'If all that you have not tapped looks as drawn, no one or two mistakes explain it. If you are not sure of that:';
  const say = ({ isAsWritten, saidFirst: said, explanations, saidOfOthers }, isUnsure) => {
    const isRecounted = state.columns.some((column) => column.some(({ depth, seen }) => depth < 0 || seen === 'gone'));
    const saidFirst = isAsWritten && isRecounted ? OPEN : said;
    const answer = saidFirst ? [make('p', { class: 'found' }, saidFirst)] : [make('ol', {}, ...explanations.slice(0, TOLD).map(told))];
    const others = saidFirst ? null : saidOfOthers(TOLD);
    if (others) answer.push(make('p', {}, others));
    if (isUnsure) answer.unshift(make('p', { class: 'found' }, UNSURE));
    by('answer').replaceChildren(...answer);
    by('answer').scrollIntoView({ block: 'nearest', behavior: 'instant' });
  };
  const ask = async () => {
    asked += 1;
    const own = asked;
    if (!isTold()) {
      by('answer').replaceChildren(make('p', {}, 'Tap first what looks different, and say what you see there.'));
      return;
    }
    by('answer').replaceChildren(make('p', {}, 'Looking …'));
    let [search, isUnsure] = [find.search(plan, seenCloth(state.others)), false];
    for (;;) {
      const until = performance.now() + SLICE_MS;
      while (performance.now() < until) {
        const { done, value } = search.next();
        // What nobody has looked at closely may be wrong as well.
        if (done && state.others && !isUnsure && !value.isAsWritten && value.explanations.length === 0) {
          [search, isUnsure] = [find.search(plan, seenCloth(false)), true];
        } else if (done) {
          say(value, isUnsure && value.explanations.length > 0);
          return;
        }
      }
      await new Promise((next) => setTimeout(next));
      if (own !== asked) return;
    }
  };

  by('ask').addEventListener('click', ask);
  by('forget').addEventListener('click', () => {
    state = fresh();
    states.set(place.key, state);
    changed();
    show();
    focus(focused);
  });
  by('others').addEventListener('change', () => {
    state.others = by('others').checked;
    changed();
  });
  by('far').addEventListener('change', () => {
    state.far = by('far').checked;
    changed();
    show();
  });

  const show = () => {
    chosen = null;
    by('choice').hidden = true;
    by('sight-place').textContent = `This is how it should look ${find.afterWords(place.until)}. Tap a knot or a hanging thread that looks different.`;
    by('others').checked = state.others;
    by('far').checked = state.far;
    draw();
    orders();
  };

  const begin = () => {
    by('tapping').hidden = place === null;
    by('untied').hidden = place !== null;
    if (place === null) return;
    plan = find.planAt(place.hand, place.until);
    drawn = find.clothOf(plan);
    state = states.get(place.key) ?? kept() ?? fresh();
    states.set(place.key, state);
    focused = '';
    show();
  };
  let isStale = true;
  by('sight').addEventListener('toggle', () => {
    if (!by('sight').open) return;
    if (isStale) begin();
    isStale = false;
    by('sight').scrollIntoView({ block: 'start', behavior: 'instant' });
  });

  /** The place has moved: the hand, and the row and knot up to which it is tied, or nothing. */
  const at = (hand, until) => {
    const next = until && { hand, until, key: `${hand} ${JSON.stringify(until)}` };
    if (next?.key === place?.key) return;
    place = next;
    by('answer').replaceChildren();
    asked += 1;
    isStale = !by('sight').open;
    if (!isStale) begin();
  };

  return { at };
};
