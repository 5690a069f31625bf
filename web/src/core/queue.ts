// Questions for the worker that answers. It works on one and cannot be stopped, so the others wait here: what is looked at goes first, and what nobody
// wants any more is dropped.

export enum Rank {
  Card, // of the tub that is looked at
  View,
  Ahead,
  Round,
}

interface Waiting {
  rank: Rank;
  wanted: () => boolean;
  ask: () => Promise<void>;
  drop: () => void;
}

let line: Waiting[] = [];
let busy = false;

function first(): Waiting | undefined {
  line.filter(({ wanted }) => !wanted()).forEach(({ drop }) => drop());
  line = line.filter(({ wanted }) => wanted()).sort((a, b) => a.rank - b.rank);
  return line.shift();
}

async function work(): Promise<void> {
  if (busy) return;
  busy = true;
  for (let next = first(); next; next = first()) await next.ask();
  busy = false;
}

/** Ask when its turn comes; null when nobody wanted it any more by then. */
export function inTurn<T>(rank: Rank, ask: () => Promise<T>, wanted: () => boolean = () => true): Promise<T | null> {
  return new Promise((good, bad) => {
    line.push({ rank, wanted, ask: () => ask().then(good, bad), drop: () => good(null) });
    void work();
  });
}
