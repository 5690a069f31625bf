// A meeting with the server: bring what it lacks, fetch what is new there and its seal. Whoever loses an answer asks
// again; nothing is doubled (docs/api.md).
import { settled, State, type open, type Row } from "./shelf";

export type Met =
  | { how: "none" } // this page comes from no Tubwright server
  | { how: "away" } // it does not answer
  | { how: "sign-in" } // it wants to know who asks
  | { how: "met"; waiting: number; refused: number; seal: string; sealed: boolean }; // sealed: this device has the server's seal

export interface Side {
  take(lines: string[], state: State): Promise<Row[]>;
  changed(rows: Row[]): void;
}

type Shelf = Awaited<ReturnType<typeof open>>;
interface Result { taken: "stored" | "had" | "refused"; sentence?: string }

const AT_ONCE = 500;
let token = "";

async function api(path: string, init: RequestInit = {}): Promise<Response> {
  const headers = new Headers(init.headers);
  headers.set("Accept", "application/json");
  if (token) headers.set("Tubwright-Token", token);
  return fetch(`/api/${path}`, { ...init, headers, cache: "no-store" });
}

/** null: go on. */
async function greet(): Promise<Met | null> {
  let response: Response;
  try {
    response = await api("session");
  } catch {
    return { how: "away" };
  }
  if (!response.headers.get("Content-Type")?.startsWith("application/json")) return { how: response.ok || response.status === 404 ? "none" : "away" };
  const session = (await response.json()) as { needed: boolean; signed_in: boolean; token?: string };
  token = session.token ?? "";
  return session.needed && !session.signed_in ? { how: "sign-in" } : null;
}

/** Lines that the server may not have, brought in portions. Returns how many it refuses. */
async function bring(shelf: Shelf, side: Side): Promise<void> {
  for (;;) {
    const here = await shelf.change(["lines"], (tx) => settled<Row[]>(tx.objectStore("lines").index("state").getAll(State.Here)));
    const rows = here.filter((row) => row.refused === undefined).slice(0, AT_ONCE);
    if (rows.length === 0) return;
    const response = await api("entries", {
      method: "POST", headers: { "Content-Type": "application/jsonl" }, body: rows.map((row) => row.line + "\n").join("") });
    if (!response.ok) throw new Error(`entries: ${response.status}`);
    const { results } = (await response.json()) as { results: Result[] };
    rows.forEach((row, i) => {
      const result = results[i]!;
      if (result.taken === "refused") row.refused = result.sentence ?? "";
      else row.state = State.Server;
    });
    await shelf.change(["lines"], async (tx) => {
      for (const row of rows) await settled(tx.objectStore("lines").put(row));
    });
    side.changed(rows);
  }
}

async function collect(shelf: Shelf, side: Side): Promise<void> {
  let cursor = (await shelf.get<string>("facts", "cursor")) ?? "";
  for (let more = true; more; ) {
    const response = await api(`entries?limit=${AT_ONCE}${cursor ? `&since=${encodeURIComponent(cursor)}` : ""}`);
    if (response.status === 410) {
      cursor = ""; // another logbook file: from the beginning, which doubles nothing
      continue;
    }
    if (!response.ok) throw new Error(`entries: ${response.status}`);
    const page = (await response.json()) as { entries: { line: string }[]; next: string; more: boolean };
    await side.take(page.entries.map(({ line }) => line), State.Server);
    cursor = page.next;
    await shelf.put("facts", cursor, "cursor");
    more = page.more;
  }
}

async function exchange(shelf: Shelf, side: Side): Promise<Met> {
  const stop = await greet();
  if (stop) return stop;
  try {
    await bring(shelf, side);
    await collect(shelf, side);
    const { seal } = (await (await api("have")).json()) as { seal?: string };
    const here = await shelf.change(["lines"], (tx) => settled<Row[]>(tx.objectStore("lines").index("state").getAll(State.Here)));
    const refused = here.filter((row) => row.refused !== undefined).length;
    return { how: "met", waiting: here.length - refused, refused, seal: seal ?? "", sealed: false };
  } catch {
    return { how: "away" };
  }
}

/** Meet under a lock over all pages of this device, where the browser has locks: two at once would send twice. */
export async function meet(shelf: Shelf, side: Side): Promise<Met> {
  return navigator.locks ? navigator.locks.request("tubwright-meet", async () => exchange(shelf, side)) : exchange(shelf, side);
}
