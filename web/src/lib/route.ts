// Where the page is: #/ is the round, #/TUB/VIEW a view of a tub.
import { useLayoutEffect, useState } from "preact/hooks";

export interface Place {
  tub: string;
  view: string;
  /** What the view is about, #/TUB/VIEW/ABOUT. */
  about: string;
}

function read(hash = location.hash): Place {
  const [, first = "", second = "", third = ""] = hash.slice(1).split("/").map(decodeURIComponent);
  return /^[0-9a-f-]{36}$/.test(first) ? { tub: first, view: second || "now", about: third } : { tub: "", view: first || "round", about: second };
}

export const to = (tub: string, view: string, about = "") =>
  `#/${[tub, view, about].filter(Boolean).map(encodeURIComponent).join("/")}`;

const listeners = new Set<(place: Place) => void>();
let here = location.hash;
let moved = false;

/** Whether somebody has gone anywhere since the page was opened. */
export const hasMoved = () => moved;

function arrive(hash: string): void {
  if (hash === here) return;
  here = hash;
  moved = true;
  for (const listener of listeners) listener(read(hash));
  scrollTo(0, 0);
}
addEventListener("hashchange", () => arrive(location.hash));

/** There at once: the browser takes its time over a new address, so that comes behind the drawing, unless somebody has gone elsewhere. */
export function go(tub: string, view: string, about = ""): void {
  const [was, hash] = [location.hash, to(tub, view, about)];
  arrive(hash);
  const address = () => void (location.hash === was && (location.hash = hash));
  if (document.hidden) address();
  else requestAnimationFrame(() => setTimeout(address));
}

export function usePlace(): Place {
  const [place, setPlace] = useState(() => read());
  useLayoutEffect(() => {
    listeners.add(setPlace);
    return () => void listeners.delete(setPlace);
  }, []);
  return place;
}
