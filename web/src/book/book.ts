// Worker: the logbook of this device. Reads it, writes entries behind its own chain, meets the server.
import { begin, Full, type Core, type Field } from "../core/module";
import { answerCalls, Fault } from "../lib/remote";
import { packOf } from "../lib/say";
import { meet, type Met } from "./meet";
import { open, settled, State, type Row } from "./shelf";

/** What the page hears of by itself. */
export type Told = { told: "lines"; rows: Row[] } | { told: "met"; met: Met } | { told: "states"; rows: Row[] };

let core: Core;
let shelf: Awaited<ReturnType<typeof open>>;
let writer = "";
let last = 0; // the highest number of a row that the core has
const others = "BroadcastChannel" in self ? new BroadcastChannel("tubwright") : null;

const tell = (told: Told) => self.postMessage(told);

/** Rows that this worker has not seen: of another page, or of the server. */
async function unseen(tx?: IDBTransaction): Promise<Row[]> {
  const store = tx?.objectStore("lines");
  const rows = store ? await settled<Row[]>(store.getAll(IDBKeyRange.lowerBound(last, true))) : await shelf.rows(last);
  try {
    for (const { line } of rows) core.add(line);
  } catch (fault) {
    if (!(fault instanceof Full)) throw fault;
    const all = store ? await settled<Row[]>(store.getAll()) : await shelf.rows(0);
    core.reset(all.map(({ line }) => line));
    for (const { line } of all) core.add(line);
  }
  last = rows.at(-1)?.seq ?? last;
  return rows;
}

/** Begin again from what is stored: after a transaction that did not hold, the core knows lines that are not there. */
async function again(): Promise<void> {
  core.reset();
  last = 0;
  await unseen();
}

async function arrived(rows: Row[]): Promise<void> {
  if (rows.length > 0) {
    tell({ told: "lines", rows });
    others?.postMessage("lines");
  }
}

/** Store lines that came from elsewhere; what is there stays. */
async function take(lines: string[], state: State): Promise<Row[]> {
  const fresh = await shelf.change(["lines"], async (tx) => {
    const store = tx.objectStore("lines");
    const byLine = store.index("line");
    for (const line of lines) {
      const there = await settled<Row | undefined>(byLine.get(line));
      if (!there) await settled(store.add({ line, state } satisfies Row));
      else if (there.state < state) await settled(store.put({ ...there, state }));
    }
    return unseen(tx);
  });
  await arrived(fresh);
  return fresh;
}

let meeting: Promise<Met> | null = null;

/** Bring and fetch entries; one meeting at a time, over all pages of this device. */
function meetOnce(): Promise<Met> {
  meeting ??= meet(shelf, { take, seal: () => core.seal(), changed: (rows) => tell({ told: "states", rows }) })
    .then((met) => {
      tell({ told: "met", met });
      if (met.how === "met") listen();
      return met;
    })
    .finally(() => (meeting = null));
  return meeting;
}

let stream: EventSource | null = null;

/** Hear of entries as they reach the server. After a meeting the server is there: a stream that still waits to try again is begun anew. */
function listen(): void {
  if (stream?.readyState === EventSource.OPEN) return;
  stream?.close();
  stream = new EventSource("/api/events");
  stream.addEventListener("cursor", () => void meetOnce().catch(() => {}));
}

// A stream over a network that went away may look open for minutes: it is begun anew at the next meeting.
self.addEventListener("offline", () => {
  stream?.close();
  stream = null;
});

const methods = {
  /** Read what is stored; refusals are in this language. A device that never wrote gets a writer's id of its own, which is returned. */
  async open(module: WebAssembly.Module, language: string): Promise<string> {
    const pack = packOf(language);
    [core, shelf] = await Promise.all([begin(module), open()]);
    core.reset();
    core.language(await pack);
    const known = await shelf.get<string>("facts", "writer");
    writer = known ?? core.id(Date.now());
    if (!known) await shelf.put("facts", writer, "writer");
    await unseen();
    if (others) others.onmessage = async () => {
      const more = await unseen();
      if (more.length > 0) tell({ told: "lines", rows: more });
    };
    return writer;
  },

  id: () => core.id(Date.now()),

  /** The drafts of entries, checked. Throws a Fault with the field that is refused; nothing is written. */
  drafts: (entries: Field[][]): string[] => entries.map((fields) => core.draft([["id", core.id(Date.now())], ...fields])),

  /** Write drafts: all of them, or none. */
  async write(drafts: string[]): Promise<Row[]> {
    try {
      const rows = await shelf.change(["lines"], async (tx) => {
        const more = await unseen(tx);
        const store = tx.objectStore("lines");
        const mine: Row[] = [];
        for (const draft of drafts) {
          const row: Row = { line: core.chain(writer, draft), state: State.Here };
          row.seq = last = (await settled(store.add(row))) as number;
          core.add(row.line);
          mine.push(row);
        }
        return { more, mine };
      });
      await arrived([...rows.more, ...rows.mine]);
      void meetOnce().catch(() => {});
      return rows.mine;
    } catch (fault) {
      await again();
      throw fault instanceof Fault ? fault : new Fault((fault as Error).message || String(fault));
    }
  },

  /** Take in lines of a file; each for itself. */
  async bring(lines: string[]): Promise<{ taken: number; had: number; refused: { line: number; why: string }[] }> {
    const refused: { line: number; why: string }[] = [];
    const good: string[] = [];
    for (const [i, line] of lines.entries())
      if (line)
        try {
          core.add(line);
          good.push(line);
        } catch (fault) {
          refused.push({ line: i + 1, why: (fault as Error).message });
        }
    const before = last;
    await again();
    last = before;
    const fresh = await take(good, State.Here);
    void meetOnce().catch(() => {});
    return { taken: fresh.length, had: good.length - fresh.length, refused };
  },

  seal: () => core.seal(),
  meet: () => meetOnce(),
};

export type Book = typeof methods;
answerCalls(methods);
