// What went wrong at the table: the search of the library (`mistake`), done by the page itself. It
// tries the same changes in the same order, weighs them alike and says the same sentences, which come
// with the page; tests hold both together. Nothing here knows of elements or of the clock.
'use strict';

/**
 * Looks for mistakes in the band of a page.
 *
 * `band` is the page's data: `kinds` and `sentences`, `palette`, `repeats` and `hands`, each with the
 * colour of every thread and its rows as runs of a thread and its knots (column times four, and the
 * kind). Threads, columns and colours count from 0 in here, rows, repeats and knots of a row from 1.
 */
const mistakesOf = (band) => {
  // As in the library.
  const LAST_KNOTS = 40;
  const SEEN_IN_COLUMN = 12;
  const MOST_TIED = 1_000_000;
  const MOST_FITTING = 5_000;
  const MOST_EXPLANATIONS = 100;
  const [VERY_LIKELY, LIKELY] = [0.8, 0.5];
  const KINDS = [0, 1, 2, 3]; // forward, backward, forward-backward, backward-forward
  const changesPlaces = (kind) => kind < 2;
  const worksFromRight = (kind) => kind % 2;

  const range = (from, to) => Array.from({ length: Math.max(to - from, 0) }, (_, index) => from + index);
  const swap = (order, left) => { [order[left], order[left + 1]] = [order[left + 1], order[left]]; };
  const pass = (order, { column, kind }) => { if (changesPlaces(kind)) swap(order, column); };

  // The sentences.
  const say = (name, slots = {}) => band.sentences[name].replace(/\{(\w+)\}/g, (_, slot) => slots[slot]);
  const numbered = (n, one, several, slots = {}) => (n === 0 ? null : say(n === 1 ? one : several, { ...slots, n }));
  const capitalised = (words) => words.slice(0, 1).toUpperCase() + words.slice(1);
  const positions = (column) => say('POSITIONS', { left: column + 1, right: column + 2 });
  const rowWords = ({ part, pass, row }) => say({ leadIn: 'ROW_OF_LEAD_IN', repeat: 'ROW_OF_REPEAT', leadOut: 'ROW_OF_LEAD_OUT' }[part], { pass, row });
  const placeWords = (place) => (place.knots ? say('KNOT_OF_ROW', { number: place.knots, place: rowWords(place) }) : rowWords(place));
  const afterWords = (place) => say('AFTER', { place: placeWords(place) });
  const knotWords = ({ row, number, column, isOnly }) =>
    say(isOnly ? 'KNOT' : 'KNOT_OF_SEVERAL', { place: rowWords(row), number, positions: positions(column) });

  // All rows of the band, one after another.
  const hands = band.hands.map(({ colours, leadIn, repeat, leadOut }) => {
    const knotsOf = (row) => {
      const codes = row.flatMap(([, ...codes]) => codes);
      const knots = codes.map((code, index) => ({ number: index + 1, column: code >> 2, kind: code % 4 }));
      const times = new Map();
      for (const { column } of knots) times.set(column, (times.get(column) ?? 0) + 1);
      return knots.map((knot) => ({ ...knot, isOnly: times.get(knot.column) === 1 }));
    };
    const parts = { leadIn: leadIn.map(knotsOf), repeat: repeat.map(knotsOf), leadOut: leadOut.map(knotsOf) };
    const after = (order, rows) => {
      const tied = [...order];
      rows.flat().forEach((knot) => pass(tied, knot));
      return tied;
    };
    const first = after(colours.map((_, thread) => thread), parts.leadIn);
    const way = after(first.map((_, position) => position), parts.repeat);
    return { colours, parts, first, way, after };
  });

  /** The order before a repeat, by repeatedly squaring the way of one. */
  const beforeRepeat = ({ first, way }, repeat) => {
    let square = way, sum = first.map((_, position) => position);
    for (let times = repeat - 1; times > 0; times = Math.floor(times / 2)) {
      if (times % 2) sum = sum.map((position) => square[position]);
      square = square.map((position) => square[position]);
    }
    return sum.map((position) => first[position]);
  };

  const orderBefore = (hand, { part, pass, row }) => {
    const start = { leadIn: () => hand.colours.map((_, thread) => thread), repeat: () => beforeRepeat(hand, pass), leadOut: () => beforeRepeat(hand, band.repeats + 1) }[part]();
    return hand.after(start, hand.parts[part].slice(0, row - 1));
  };

  /** Which row comes after this many. */
  const rowAt = ({ parts }, index) => {
    const [before, once] = [parts.leadIn.length, parts.repeat.length];
    if (index < before) return { part: 'leadIn', pass: 1, row: index + 1 };
    const inside = index - before;
    if (inside < once * band.repeats) return { part: 'repeat', pass: Math.floor(inside / once) + 1, row: (inside % once) + 1 };
    return { part: 'leadOut', pass: 1, row: inside - once * band.repeats + 1 };
  };
  const indexOf = ({ parts }, { part, pass, row }) => {
    const [before, once] = [parts.leadIn.length, parts.repeat.length];
    return row - 1 + { leadIn: 0, repeat: before + (pass - 1) * once, leadOut: before + band.repeats * once }[part];
  };
  const knotsOf = (hand, index) => {
    const row = rowAt(hand, index);
    return (hand.parts[row.part][row.row - 1] ?? []).map((knot) => ({ ...knot, row }));
  };

  /** The last rows up to a place, as many as are not yet `enough`, and the knots that come next. */
  const lastRows = (hand, place, enough) => {
    const last = indexOf(hand, place);
    const whole = knotsOf(hand, last);
    const own = place.knots ? whole.slice(0, place.knots) : whole;
    const rows = [{ place: rowAt(hand, last), knots: own, isWhole: own.length === whole.length }];
    let index = last, count = own.length;
    while (index > 0 && !enough(rows.length, count)) {
      index -= 1;
      const knots = knotsOf(hand, index);
      count += knots.length;
      rows.unshift({ place: rowAt(hand, index), knots, isWhole: true });
    }
    const left = whole.slice(own.length);
    return { rows, isFromTheStart: index === 0, next: left.length ? left : knotsOf(hand, last + 1), order: orderBefore(hand, rows[0].place) };
  };

  /** What was to be tied up to a place, as far back as is looked. */
  const planAt = (number, place) => {
    const hand = hands[number];
    const [threads, columns] = [hand.colours.length, hand.colours.length - 1];
    const { rows, isFromTheStart, next, order } = lastRows(hand, place, (_, knots) => knots >= LAST_KNOTS + SEEN_IN_COLUMN * columns);
    const all = rows.flatMap(({ knots }) => knots);
    const early = Math.max(all.length - LAST_KNOTS, 0);
    const above = range(0, columns).map(() => []);
    for (const knot of all.slice(0, early)) {
      above[knot.column].push(order[knot.column + worksFromRight(knot.kind)]);
      pass(order, knot);
    }
    const whole = [];
    let end = 0;
    for (const row of rows) {
      const begin = end;
      end += row.knots.length;
      if (begin >= early && end > begin && row.isWhole) whole.push({ place: row.place, from: begin - early, to: end - early });
    }
    return { threads, columns, colours: hand.colours, start: order, above, knots: all.slice(early), rows: whole, next, isFromTheStart, all };
  };

  /** What hangs and lies where all is tied as it is written: threads, and of each column those that show, from the start on. */
  const clothOf = (plan) => {
    const order = [...plan.start];
    const columns = plan.above.map((column) => [...column]);
    for (const knot of plan.knots) {
      columns[knot.column].push(order[knot.column + worksFromRight(knot.kind)]);
      pass(order, knot);
    }
    return { order, columns };
  };

  // The changes that are tried.
  const beside = (column, columns) => range(Math.max(column - 1, 0), Math.min(column + 2, columns));
  const insertions = (plan, at, columns) => columns.flatMap((column) => {
    let last = at - 1;
    while (last >= 0 && Math.abs(plan.knots[last].column - column) > 1) last -= 1;
    const under = plan.knots[last];
    const isUpon = under?.column === column;
    const extra = KINDS.map((kind) => ({
      what: 'extra', at, column, kind, swaps: changesPlaces(kind) ? column : -1, inserted: column,
      weight: isUpon ? (under.kind === kind ? 20 : 5) : 2,
    }));
    return [...extra, { what: 'cross', at, column, swaps: column, inserted: column, weight: 20 }];
  });
  const editsOf = (plan) => {
    const { knots, columns, rows } = plan;
    const edits = [];
    knots.forEach(({ column, kind: written }, at) => {
      for (const kind of KINDS.filter((kind) => kind !== written)) {
        edits.push({
          what: 'kind', at, column, kind, swaps: changesPlaces(kind) === changesPlaces(written) ? -1 : column, inserted: -1,
          weight: worksFromRight(kind) === worksFromRight(written) ? 80 : 40,
        });
      }
      edits.push({ what: 'omit', at, column, swaps: changesPlaces(written) ? column : -1, inserted: -1, weight: 40 });
    });
    knots.forEach(({ column }, at) => edits.push(...insertions(plan, at, beside(column, columns))));
    edits.push(...insertions(plan, knots.length, range(0, columns)));
    return edits.concat(rows.flatMap(({ from, to }, row) => rowEdits(row, from, to)));
  };
  const rowEdits = (row, from, to) => [
    { what: 'omitRow', row, at: from, from, to, swaps: -1, inserted: -1, weight: 30 },
    { what: 'twiceRow', row, at: to, from, to, swaps: -1, inserted: -1, weight: 20 },
  ];
  // What more or fewer knots lie in its column because of a change.
  const more = ({ what }) => (what === 'extra' ? 1 : what === 'omit' ? -1 : 0);
  const isOfRow = ({ what }) => what === 'omitRow' || what === 'twiceRow';

  /** Goes through what is done from a knot on with some changes, which come in the order of their places. */
  const doneWith = ({ knots }, edits, tie, cross, from = 0) => {
    let next = from;
    for (const edit of edits) {
      for (; next < edit.at; next += 1) tie(knots[next].column, knots[next].kind, next);
      if (edit.what === 'kind') {
        tie(knots[edit.at].column, edit.kind, edit.at);
        next = edit.at + 1;
      } else if (edit.what === 'omit') {
        next = edit.at + 1;
      } else if (edit.what === 'extra') {
        tie(edit.column, edit.kind, -1);
      } else if (edit.what === 'cross') {
        cross(edit.column);
      } else if (edit.what === 'omitRow') {
        next = edit.to;
      } else {
        for (let at = edit.from; at < edit.to; at += 1) tie(knots[at].column, knots[at].kind, -1);
      }
    }
    for (; next < knots.length; next += 1) tie(knots[next].column, knots[next].kind, next);
  };

  const fits = (plan, thread, seen) => seen === null || plan.colours[thread] === seen;

  /** Ties changes and keeps those that make what is seen, by the fabrics that they make. */
  const collector = (plan, seen) => {
    const { threads, columns, colours, start, above, knots, isFromTheStart } = plan;
    const order = new Uint16Array(threads);
    const own = range(0, columns).map(() => new Uint16Array(4 * LAST_KNOTS));
    const counts = new Uint16Array(columns);
    const hangs = range(0, threads).filter((position) => (seen.hanging[position] ?? null) !== null).map((position) => [position, seen.hanging[position]]);
    const lies = range(0, columns).map((column) => seen.columns[column] ?? []);
    const tie = (column, kind) => {
      own[column][counts[column]] = order[column + worksFromRight(kind)];
      counts[column] += 1;
      if (kind < 2) cross(column);
    };
    const cross = (left) => {
      const thread = order[left];
      order[left] = order[left + 1];
      order[left + 1] = thread;
    };
    // Whether a knot shows what is seen, counted from the first that may be changed; those above have been
    // there before. Above the start of the band lies nothing; above that which is looked at, anything.
    const lyingFits = (lying, column, at, depth) => {
      const colour = lies[column][depth] ?? null;
      if (colour === null) return true;
      const thread = at >= 0 ? lying[column][at] : above[column][above[column].length + at];
      return thread === undefined ? !isFromTheStart : colours[thread] === colour;
    };
    const hangingFits = () => hangs.every(([position, colour]) => colours[order[position]] === colour);
    const shows = () => hangingFits() && lies.every((column, index) => column.every((_, depth) => lyingFits(own, index, counts[index] - 1 - depth, depth)));

    // As it is written: what hangs and how much lies before each knot, and in which columns it shows another
    // colour than is seen. Where nothing before a knot is changed that stays so, unless more or fewer knots
    // lie upon it.
    order.set(start);
    const before = knots.map(({ column, kind }) => {
      const now = { order: order.slice(), counts: counts.slice() };
      tie(column, kind);
      return now;
    });
    before.push({ order: order.slice(), counts: counts.slice() });
    const [written, totals] = [own.map((column) => column.slice()), Int16Array.from(counts)];
    const earlierFits = (column, place, more) => {
      const last = totals[column] + more - 1;
      for (let depth = last - before[place].counts[column] + 1; depth < lies[column].length; depth += 1) {
        if (!lyingFits(written, column, last - depth, depth)) return false;
      }
      return true;
    };
    const wrong = before.map((_, place) => range(0, columns).filter((column) => !earlierFits(column, place, 0)));

    // Whether changes of single knots make what is seen: tied from the first of them on, and no farther than
    // to the first knot that shows another colour.
    const left = new Int16Array(columns);
    let isRight = true;
    const tieAndLook = (column, kind) => {
      if (!isRight) return;
      const colour = lies[column][left[column] - 1] ?? null;
      left[column] -= 1;
      isRight = colour === null || colours[order[column + worksFromRight(kind)]] === colour;
      if (kind < 2) cross(column);
    };
    // Where another colour shows before the first change, more or fewer knots must lie upon it.
    const isWrongBefore = (first, second) => {
      for (const column of wrong[first.at]) {
        if (!(more(first) && first.column === column) && !(second && more(second) && second.column === column)) return true;
      }
      return false;
    };
    const mayShow = (edits) => {
      const place = edits[0].at;
      for (let column = 0; column < columns; column += 1) left[column] = totals[column] - before[place].counts[column];
      for (const edit of edits) left[edit.column] += more(edit);
      for (const { column } of edits) {
        const own = left[column] + before[place].counts[column] - totals[column];
        if (own !== 0 ? !earlierFits(column, place, own) : wrong[place].includes(column)) return false;
      }
      order.set(before[place].order);
      isRight = true;
      doneWith(plan, edits, tieAndLook, cross, place);
      return isRight && hangingFits();
    };
    const found = new Map();
    let tied = 0, fitting = 0;
    const isCutShort = () => tied >= MOST_TIED || fitting >= MOST_FITTING;
    const tryOut = (first, second) => {
      const areOfKnots = !isOfRow(first) && !(second && isOfRow(second));
      if (isCutShort() || (areOfKnots && isWrongBefore(first, second))) return;
      tied += 1;
      const edits = second ? [first, second] : [first];
      if (areOfKnots && !mayShow(edits)) return;
      order.set(start);
      counts.fill(0);
      doneWith(plan, edits, tie, cross);
      if (!shows()) return;
      fitting += 1;
      const key = String.fromCharCode(...order) + own.map((column, index) => '\uffff' + String.fromCharCode(...column.subarray(0, counts[index]))).join('');
      const group = found.get(key) ?? { edits: [], weight: 0 };
      found.set(key, group);
      group.weight += weightOf(edits);
      group.edits.push(edits);
    };
    // The likeliest first; of those as likely the one that lies less far back, and then the one that was found before.
    const sorted = () => {
      const place = (edits) => Math.max(...edits.map(({ at }) => at));
      const groups = [...found.values()];
      for (const group of groups) group.edits.sort((one, other) => weightOf(other) - weightOf(one) || place(other) - place(one));
      groups.sort((one, other) => other.weight - one.weight || place(other.edits[0]) - place(one.edits[0]));
      return { groups, isCutShort: isCutShort() };
    };
    return { tryOut, sorted, wrong };
  };
  const weightOf = (edits) => edits.reduce((product, { weight }) => product * weight, 1);

  /** Every single change that makes what is seen. */
  function* singles(plan, seen) {
    const { tryOut, sorted } = collector(plan, seen);
    for (const [number, edit] of editsOf(plan).entries()) {
      tryOut(edit);
      if (number % 16 === 0) yield;
    }
    return sorted();
  }

  // What hangs before each knot from a place on, and after the last.
  const passedOn = ({ knots }, order, place) => {
    const now = Uint16Array.from(order);
    const all = [now.slice()];
    for (let at = place; at < knots.length; at += 1) {
      pass(now, knots[at]);
      all.push(now.slice());
    }
    return all;
  };
  // What would have to hang before each knot up to a place so that the knots as written lead to this.
  const drawnBack = ({ knots }, hangs, place) => {
    const now = [...hangs];
    const all = [[...now]];
    for (let at = place - 1; at >= 0; at -= 1) {
      pass(now, knots[at]);
      all.unshift([...now]);
    }
    return all;
  };

  /**
   * Every two changes that make what is seen. One change exchanges nothing or two neighbours, so what
   * hangs is drawn back through the knots, and a second change is tied only where it meets that.
   */
  function* pairs(plan, seen) {
    const { tryOut, sorted, wrong } = collector(plan, seen);
    const { threads, columns, knots, rows } = plan;
    const byPlace = range(0, knots.length + 1).map(() => range(0, threads).map(() => []));
    for (const edit of editsOf(plan)) if (!isOfRow(edit)) byPlace[edit.at][edit.swaps + 1].push(edit);
    const orders = passedOn(plan, plan.start, 0);
    const wanted = drawnBack(plan, range(0, threads).map((position) => seen.hanging[position] ?? null), knots.length);
    const allFit = (order, wish) => wish.every((colour, position) => fits(plan, order[position], colour));

    // The classes of changes, by what they exchange, after which what hangs is what is wanted.
    const fitting = (order, wish) => {
      const wrong = [];
      for (let at = 0; at < threads && wrong.length < 3; at += 1) if (!fits(plan, order[at], wish[at])) wrong.push(at);
      let [from, to] = [0, threads - 1];
      if (wrong.length === 1) [from, to] = [Math.max(wrong[0] - 1, 0), Math.min(wrong[0] + 1, threads - 1)];
      else if (wrong.length === 2 && wrong[1] === wrong[0] + 1) [from, to] = wrong;
      else if (wrong.length > 1) return [];
      const classes = wrong.length ? [] : [0];
      for (let left = from; left < to; left += 1) {
        if (fits(plan, order[left], wish[left + 1]) && fits(plan, order[left + 1], wish[left])) classes.push(left + 1);
      }
      return classes;
    };

    const tryBoth = (first, second) => {
      if (first.at < second.at) tryOut(first, second);
      else if (first.inserted < 0 && second.inserted >= 0) tryOut(second, first);
      else if (first.inserted >= 0 && first.inserted + 1 < second.inserted) tryOut(first, second);
    };

    for (let place = knots.length; place >= 0; place -= 1) {
      // Two changes cannot help more columns than two.
      if (wrong[place].length > 2) continue;
      // Two more than is written that touch each other, the one upon the other.
      for (const upper of byPlace[place].flat()) {
        if (upper.inserted < 0) continue;
        for (const column of beside(upper.inserted, columns)) {
          const fit = [-1, column].map((swaps) => {
            const order = orders[place].slice();
            for (const left of [swaps, upper.swaps]) if (left >= 0) swap(order, left);
            return allFit(order, wanted[place]);
          });
          if (!fit[0] && !fit[1]) continue;
          for (const under of insertions(plan, place, [column])) if (fit[under.swaps < 0 ? 0 : 1]) tryOut(under, upper);
        }
      }
      yield;
      for (const [own, firsts] of byPlace[place].entries()) {
        if (!firsts.length) continue;
        const order = orders[place].slice();
        if (own > 0) swap(order, own - 1);
        for (let at = place; at <= knots.length; at += 1) {
          for (const other of fitting(order, wanted[at])) {
            for (const second of byPlace[at][other]) {
              for (const first of firsts) tryBoth(first, second);
            }
          }
          if (at < knots.length) pass(order, knots[at]);
          yield;
        }
      }
    }
    // A row left out or tied twice, with a later one, or with a change of a knot before or after it.
    for (const [row, { from, to }] of [...rows.entries()].reverse()) {
      const [omit, twice] = rowEdits(row, from, to);
      for (let later = row + 1; later < rows.length; later += 1) {
        for (const other of rowEdits(later, rows[later].from, rows[later].to)) {
          tryOut(omit, other);
          tryOut(twice, other);
        }
        yield;
      }
      const [again, order] = [[...wanted[to]], orders[to].slice()];
      for (let at = from; at < to; at += 1) pass(order, knots[at]);
      for (let at = to - 1; at >= from; at -= 1) pass(again, knots[at]);
      for (const [edit, wishes] of [[omit, drawnBack(plan, wanted[to], from)], [twice, drawnBack(plan, again, to)]]) {
        for (const [at, wish] of wishes.entries()) {
          for (const own of fitting(orders[at], wish)) {
            for (const first of byPlace[at][own]) {
              // A knot of a row that is left out is not there to be changed.
              if (at < edit.at || first.inserted >= 0) tryOut(first, edit);
            }
            yield;
          }
        }
      }
      for (const [edit, before] of [[omit, orders[from]], [twice, order]]) {
        for (const [index, order] of passedOn(plan, before, to).entries()) {
          for (const own of fitting(order, wanted[to + index])) {
            for (const second of byPlace[to + index][own]) tryOut(edit, second);
            yield;
          }
        }
      }
    }
    return sorted();
  }

  // What to do about it.
  const actsOf = (plan, edits) => {
    const acts = [];
    doneWith(plan, edits, (column, kind, of) => acts.push({ column, kind, of }), (left) => acts.push({ left }));
    return acts;
  };

  const mendOf = (plan, edits) => {
    const { knots, columns } = plan;
    const acts = actsOf(plan, edits);
    const touched = new Array(columns + 2).fill(false);
    const touch = (left) => touched.fill(true, left, left + 2);
    const [untie, changeBack, stays] = [[], [], new Set()];
    let next = 0;
    for (const { left, column, kind, of } of acts) {
      if (left !== undefined) {
        touch(left);
        changeBack.unshift(left);
        continue;
      }
      if (of >= 0) {
        // What was left out would have lain here.
        for (; next < of; next += 1) touch(knots[next].column);
        next = of + 1;
      }
      if (of >= 0 && knots[of].kind === kind && !touched[column] && !touched[column + 1]) {
        stays.add(of);
      } else {
        touch(column);
        untie.unshift(column);
      }
    }
    const tieAgain = knots.filter((_, at) => !stays.has(at));
    return { untie, changeBack, tieAgain, ...comparison(plan, acts) };
  };

  /** What shows otherwise than it should, and how the band can go on like that. */
  const comparison = (plan, acts) => {
    const { knots, colours, start } = plan;
    const [right, real] = [[...start], [...start]];
    const working = (order, { column, kind }) => colours[order[column + worksFromRight(kind)]];
    const should = knots.map((knot) => {
      const colour = working(right, knot);
      pass(right, knot);
      return colour;
    });
    const show = [];
    let tooMany = 0, tied = 0;
    for (const act of acts) {
      if (act.left !== undefined) {
        swap(real, act.left);
        continue;
      }
      const colour = working(real, act);
      pass(real, act);
      if (act.of < 0) tooMany += 1;
      else tied += 1;
      if (act.of >= 0 && colour !== should[act.of]) show.push({ shows: colour, should: should[act.of] });
    }
    return { show, tooMany, missing: knots.length - tied, goingOn: goingOn(plan, right, real) };
  };

  const goingOn = ({ next, colours }, right, now) => {
    const same = (one, other) => one.every((thread, position) => colours[thread] === colours[other[position]]);
    if (same(now, right)) return { how: 'ROWS_GO_ON' };
    if (!next.length) return null;
    for (let left = 0; left + 1 < now.length; left += 1) {
      const order = [...now];
      swap(order, left);
      if (same(order, right)) return { how: 'ROWS_GO_ON_WITH', positions: positions(left), kind: band.kinds[0] };
    }
    const after = (order, other, kind) => {
      const tied = [...order];
      next.forEach((knot, at) => pass(tied, at === other ? { ...knot, kind } : knot));
      return tied;
    };
    const wanted = after(right);
    for (const [at, knot] of next.entries()) {
      // Of the two kinds that would do, the one that works with the thread that the sheet names.
      const kind = (knot.kind + 2) % 4;
      if (same(after(now, at, kind), wanted)) {
        return { how: 'ROWS_GO_ON_OTHERWISE', kind: band.kinds[kind], written: band.kinds[knot.kind], knot: knotWords(knot) };
      }
    }
    return null;
  };

  // The answer in words.
  const changeWords = (plan, edit) => {
    const knot = plan.knots[edit.at];
    const kind = band.kinds[knot?.kind];
    const when = knot ? say('BEFORE', { knot: knotWords(knot) }) : say('LAST_OF_ALL');
    switch (edit.what) {
      case 'kind': return say('OTHER_KIND', { knot: knotWords(knot), tied: band.kinds[edit.kind], kind });
      case 'omit': return say('LEFT_OUT', { knot: knotWords(knot), kind });
      case 'extra': return say('TOO_MANY', { tied: band.kinds[edit.kind], positions: positions(edit.column), when });
      case 'cross': return say('TAKEN_FOR_EACH_OTHER', { positions: positions(edit.column), when });
      default: return say(edit.what === 'omitRow' ? 'ROW_LEFT_OUT' : 'ROW_TWICE', { place: rowWords(plan.rows[edit.row].place) });
    }
  };
  const changesWords = (plan, edits) => edits.map((edit) => changeWords(plan, edit)).reduce((one, other) => say('AND', { one, other }));

  const untyingWords = ({ untie, changeBack, tieAgain }) => {
    const list = untie.map(positions).join('; ');
    const words = [numbered(untie.length, 'UNTIE_ONE', 'UNTIE_SEVERAL', { positions: list, list })];
    words.push(...changeBack.map((left) => say('CHANGE_BACK', { positions: positions(left) })));
    if (!tieAgain.length) {
      words.push(say('GO_ON'));
    } else {
      const [knot] = tieAgain;
      const there = untie.length === 1 && untie[0] === knot.column ? 'TIE_THERE' : 'TIE_ONE';
      const [one, several] = untie.length || changeBack.length ? [there, 'TIE_SEVERAL'] : ['NOTHING_UPON_ONE', 'NOTHING_UPON_SEVERAL'];
      words.push(numbered(tieAgain.length, one, several, { kind: band.kinds[knot.kind], positions: positions(knot.column), knot: knotWords(knot) }));
    }
    return words.filter(Boolean).join(' ');
  };

  const leavingWords = ({ goingOn, show, tooMany, missing }) => {
    if (!goingOn) return null;
    const name = (colour) => band.palette[colour];
    const shows = [
      numbered(tooMany, 'ONE_TOO_MANY', 'SEVERAL_TOO_MANY'),
      numbered(missing, 'ONE_MISSING', 'SEVERAL_MISSING'),
      show.length ? numbered(show.length, 'ONE_SHOWS', 'SEVERAL_SHOW', { shows: name(show[0].shows), should: name(show[0].should) }) : null,
    ].filter(Boolean);
    return say('LEAVE', {
      shows: shows.length ? shows.reduce((one, other) => say('LIST_AND', { one, other })) : say('NONE_SHOWS'),
      how: say(goingOn.how, goingOn),
    });
  };

  const surenessWords = (at, groups) => {
    const { weight } = groups[at];
    const share = weight / groups.reduce((sum, group) => sum + group.weight, 0);
    const others = groups.filter((group) => group.weight === weight).length - 1;
    if (groups.length === 1) return say('ONLY');
    if (share >= VERY_LIKELY) return say('VERY_LIKELY');
    if (others > 0) return numbered(others, 'AS_LIKELY_AS_ONE', 'AS_LIKELY');
    if (share >= LIKELY) return say('LIKELY');
    return at === 0 ? say('LIKELIEST', { n: groups.length }) : say('LESS_LIKELY');
  };

  const explanation = (plan, groups, at) => {
    const [changes, ...alike] = groups[at].edits.map((edits) => changesWords(plan, edits));
    const words = () => {
      const mend = mendOf(plan, groups[at].edits[0]);
      const all = [say('ANSWER', { changes: capitalised(changes), sureness: surenessWords(at, groups) }), untyingWords(mend), leavingWords(mend)];
      if (alike.length) all.push(say(alike.length > 1 ? 'ALIKE_AND_MORE' : 'ALIKE', { changes: alike[0], n: alike.length - 1 }));
      return all.filter(Boolean);
    };
    return { changes, alike, words };
  };

  /**
   * Looks for what explains that this is seen: `seen.hanging` has for each position, and `seen.columns`
   * for each column from its last knot up, a colour, or null where it is not known. Goes on at each
   * `next()`, so that a page can breathe meanwhile; the last gives the answer.
   */
  function* search(plan, seen) {
    const { order, columns } = clothOf(plan);
    const hangs = order.every((thread, position) => fits(plan, thread, seen.hanging[position] ?? null));
    const isAsWritten = hangs && columns.every((column, index) => (seen.columns[index] ?? []).every((colour, depth) => {
      const thread = column[column.length - 1 - depth];
      return colour === null || (thread === undefined ? !plan.isFromTheStart : plan.colours[thread] === colour);
    }));
    let sought = { groups: [], isCutShort: false };
    if (!isAsWritten) sought = yield* singles(plan, seen);
    if (!isAsWritten && !sought.groups.length) sought = yield* pairs(plan, seen);
    const { groups, isCutShort } = sought;
    const explanations = groups.slice(0, MOST_EXPLANATIONS).map((_, at) => explanation(plan, groups, at));
    let saidFirst = null;
    if (isAsWritten) saidFirst = say('AS_WRITTEN');
    else if (!groups.length) saidFirst = isCutShort ? say('TOO_MUCH_TO_TRY') : numbered(plan.knots.length, 'UNEXPLAINED_ONE', 'UNEXPLAINED');
    return { isAsWritten, explanations, saidFirst, saidOfOthers: (told) => numbered(Math.max(groups.length - told, 0), 'ONE_MORE', 'SEVERAL_MORE') };
  }

  /** The orders of threads that should hang after the last rows up to a place, the last of them first. */
  const shouldHang = (number, place, count) => {
    const hand = hands[number];
    const { rows, order } = lastRows(hand, place, (rows) => rows >= count);
    const all = rows.map(({ place, knots, isWhole }) => {
      knots.forEach((knot) => pass(order, knot));
      return { after: afterWords(isWhole ? place : { ...place, knots: knots.length }), threads: [...order] };
    });
    return all.reverse();
  };

  return { planAt, clothOf, search, shouldHang, afterWords, capitalised };
};
