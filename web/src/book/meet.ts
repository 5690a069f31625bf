// A meeting with the server: bring what it lacks, fetch what is new there and its seal. Whoever loses an answer asks
// again; nothing is doubled (docs/api.md).
import { Problem, problemOf } from "../lib/problem";
import { settled, State, type open, type Row } from "./shelf";

export type Met =
  | { how: "none" } // this page comes from no Tubwright server
  | { how: "away" } // it does not answer
  | { how: "sign-in" } // it wants to know who asks
  | { how: "problem"; kind: string; status: number } // it says that it does not do it
  | { how: "met"; seal: string; sealed: boolean; who: Who }; // sealed: this device has the server's seal

/** As whom the server knows this device; without a role where it asks nobody. */
export interface Who { name?: string; role?: string }

export interface Side {
  take(lines: string[], state: State): Promise<Row[]>;
  changed(rows: Row[]): void;
}

type Shelf = Awaited<ReturnType<typeof open>>;
interface Result { taken: "stored" | "had" | "refused"; reason?: string; sentence?: string }

const AT_ONCE = 500;
let token = "";

async function api(path: string, init: RequestInit = {}): Promise<Response> {
  const headers = new Headers(init.headers);
  headers.set("Accept", "application/json");
  if (token) headers.set("Tubwright-Token", token);
  return fetch(`/api/${path}`, { ...init, headers, cache: "no-store" });
}

async function greet(): Promise<Met | Who> {
  let response: Response;
  try {
    response = await api("session");
  } catch {
    return { how: "away" };
  }
  const type = response.headers.get("Content-Type") ?? "";
  if (type.startsWith("application/problem+json")) throw await problemOf(response);
  if (!type.startsWith("application/json")) return { how: response.ok || response.status === 404 ? "none" : "away" };
  const { needed, signed_in, token: mine, ...who } = (await response.json()) as { needed: boolean; signed_in: boolean; token?: string } & Who;
  token = mine ?? "";
  return needed && !signed_in ? { how: "sign-in" } : needed ? { name: who.name, role: who.role } : {};
}

/** Lines that the server may not have, brought in portions; each gets what became of it, and what was decided about it meanwhile stays. */
async function bring(shelf: Shelf, side: Side): Promise<void> {
  for (;;) {
    const here = await shelf.change(["lines"], (tx) => settled<Row[]>(tx.objectStore("lines").index("state").getAll(State.Here)));
    const rows = here.filter((row) => row.refused === undefined).slice(0, AT_ONCE);
    if (rows.length === 0) return;
    const response = await api("entries", {
      method: "POST", headers: { "Content-Type": "application/jsonl" }, body: rows.map((row) => row.line + "\n").join("") });
    if (!response.ok) throw await problemOf(response);
    const { results } = (await response.json()) as { results: Result[] };
    const told = await shelf.change(["lines"], async (tx) => {
      const store = tx.objectStore("lines");
      const told: Row[] = [];
      for (const [i, { seq }] of rows.entries()) {
        const { taken, reason = "", sentence = "" } = results[i]!;
        const { refused, ...row } = await settled<Row>(store.get(seq!));
        told.push(taken === "refused" ? { ...row, refused: { reason, sentence, kept: refused?.kept } } : { ...row, state: State.Server });
        await settled(store.put(told.at(-1)!));
      }
      return told;
    });
    side.changed(told);
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
    if (!response.ok) throw await problemOf(response);
    const page = (await response.json()) as { entries: { line: string }[]; next: string; more: boolean };
    await side.take(page.entries.map(({ line }) => line), State.Server);
    cursor = page.next;
    await shelf.put("facts", cursor, "cursor");
    more = page.more;
  }
}

async function exchange(shelf: Shelf, side: Side): Promise<Met> {
  try {
    const who = await greet();
    if ("how" in who) return who;
    await bring(shelf, side);
    await collect(shelf, side);
    const { seal } = (await (await api("have")).json()) as { seal?: string }; // who may see one tub is told none
    return { how: "met", seal: seal ?? "", sealed: false, who };
  } catch (fault) {
    return fault instanceof Problem ? { how: "problem", kind: fault.kind, status: fault.status } : { how: "away" };
  }
}

/** Meet under a lock over all pages of this device, where the browser has locks: two at once would send twice. */
export async function meet(shelf: Shelf, side: Side): Promise<Met> {
  return navigator.locks ? navigator.locks.request("tubwright-meet", async () => exchange(shelf, side)) : exchange(shelf, side);
}
