// A second account of tying, from a band file's knots alone, to hold the sheet against.

const MOVES = { forward: 1, backward: 1, 'forward-backward': 0, 'backward-forward': 0 };

/** The order after some rows, from an order; knots that change places swap two threads. */
export function after(order, rows) {
  const next = [...order];
  for (const { knots } of rows) {
    for (const { at, kind } of knots) {
      if (MOVES[kind]) [next[at - 1], next[at]] = [next[at], next[at - 1]];
    }
  }
  return next;
}

/** The orders after every row of a whole band, from its file. */
export function orders(band) {
  let order = band.threads.map((_, index) => index + 1);
  const repeats = Array.from({ length: band.repeats }, () => band.repeat).flat();
  return [...(band.lead_in ?? []), ...repeats, ...(band.lead_out ?? [])].map((row) => (order = after(order, [row])));
}
