// Where the page is: #/ is the round, #/TUB/VIEW a view of a tub.
import { useEffect, useState } from "preact/hooks";

export interface Place {
  tub: string;
  view: string;
  /** What the view is about, #/TUB/VIEW/ABOUT. */
  about: string;
}

function read(): Place {
  const [, first = "", second = "", third = ""] = location.hash.slice(1).split("/").map(decodeURIComponent);
  return /^[0-9a-f-]{36}$/.test(first) ? { tub: first, view: second || "now", about: third } : { tub: "", view: first || "round", about: second };
}

export const to = (tub: string, view: string, about = "") =>
  `#/${[tub, view, about].filter(Boolean).map(encodeURIComponent).join("/")}`;

const listeners = new Set<(place: Place) => void>();
let here = location.hash;
let moved = false;

/** Whether somebody has gone anywhere since the page was opened. */
export const hasMoved = () => moved;

function arrive(): void {
  if (location.hash === here) return;
  here = location.hash;
  moved = true;
  for (const listener of listeners) listener(read());
  scrollTo(0, 0);
}
addEventListener("hashchange", arrive);

/** There at once: the browser tells of it a task later. */
export function go(tub: string, view: string, about = ""): void {
  location.hash = to(tub, view, about);
  arrive();
}

export function usePlace(): Place {
  const [place, setPlace] = useState(read);
  useEffect(() => {
    listeners.add(setPlace);
    return () => void listeners.delete(setPlace);
  }, []);
  return place;
}
