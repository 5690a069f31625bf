// Worker: the logbook of this device. Writes entries behind its own chain, meets the server.
import { begin, Full, type Core, type Field } from "../core/module";
import { answerCalls, Fault } from "../lib/remote";
import { packOf } from "../lib/say";
import { meet, type Met } from "./meet";
import { open, settled, State, type Row } from "./shelf";

/** What the page hears of by itself. */
export type Told = { told: "lines"; rows: Row[] } | { told: "met"; met: Met } | { told: "states"; rows: Row[] };

let core: Core; // checks lines and chains them; of those that are stored it needs none but the last of this device
let shelf: Awaited<ReturnType<typeof open>>;
let writer = "";
let last = 0; // the highest number of a row that the page knows or reads by itself
const others = "BroadcastChannel" in self ? new BroadcastChannel("tubwright") : null;

const tell = (told: Told) => self.postMessage(told);

/** Check a line. The core keeps it; when it is full it begins anew. */
function check(line: string): void {
  try {
    core.add(line);
  } catch (fault) {
    if (!(fault instanceof Full)) throw fault;
    core.reset();
    core.add(line);
  }
}

/** Do something in one transaction. Where it does not hold, the core may know lines that are not there, and rows count as told that were not. */
async function change<T>(act: (tx: IDBTransaction) => Promise<T>): Promise<T> {
  const before = last;
  try {
    return await shelf.change(["lines", "facts"], act);
  } catch (fault) {
    core.reset();
    last = before;
    throw fault instanceof Fault ? fault : new Fault((fault as Error).message || String(fault));
  }
}

/** Rows that were not told of: of another page, or of the server. */
async function untold(tx?: IDBTransaction): Promise<Row[]> {
  const rows = tx ? await settled<Row[]>(tx.objectStore("lines").getAll(IDBKeyRange.lowerBound(last, true))) : await shelf.rows(last);
  last = rows.at(-1)?.seq ?? last;
  return rows;
}

async function arrived(rows: Row[]): Promise<void> {
  if (rows.length > 0) {
    tell({ told: "lines", rows });
    others?.postMessage("lines");
  }
}

/** Store lines that came from elsewhere; what is there stays. */
async function take(lines: string[], state: State): Promise<Row[]> {
  lines.forEach(check);
  const fresh = await change(async (tx) => {
    const store = tx.objectStore("lines");
    const byLine = store.index("line");
    for (const line of lines) {
      const there = await settled<Row | undefined>(byLine.get(line));
      if (!there) await settled(store.add({ line, state } satisfies Row));
      else if (there.state < state) await settled(store.put({ seq: there.seq, line, state } satisfies Row)); // taken there after all
    }
    return untold(tx);
  });
  await arrived(fresh);
  return fresh;
}

let meeting: Promise<Met> | null = null;
let anew = false; // what came while a meeting was under way may have come behind it

/** Bring and fetch entries; one meeting at a time, over all pages of this device. */
function meetOnce(): Promise<Met> {
  meeting ??= meet(shelf, { take, changed: (rows) => tell({ told: "states", rows }) })
    .then((met) => {
      tell({ told: "met", met });
      if (met.how === "met") listen();
      return met;
    })
    .finally(() => {
      meeting = null;
      if (anew) meetAnew();
    });
  return meeting;
}

/** Something is to be brought or fetched: by a meeting that begins from now on. */
function meetAnew(): void {
  anew = meeting !== null;
  if (!meeting) void meetOnce().catch(() => {});
}

let stream: EventSource | null = null;

/** Hear of entries as they reach the server; the stream begins with where that stands. After a meeting the server is there: a stream that still waits to
 * try again is begun anew. */
function listen(): void {
  if (stream?.readyState === EventSource.OPEN) return;
  stream?.close();
  stream = new EventSource("/api/events");
  stream.addEventListener("cursor", meetAnew);
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
    last = await shelf.last();
    if (others) others.onmessage = async () => {
      const more = await untold();
      if (more.length > 0) tell({ told: "lines", rows: more });
    };
    return writer;
  },

  id: () => core.id(Date.now()),

  /** The drafts of entries, checked. Throws a Fault with the field that is refused; nothing is written. */
  drafts: (entries: Field[][]): string[] => entries.map((fields) => core.draft([["id", core.id(Date.now())], ...fields])),

  /** Write drafts: all of them, or none. Returns the rows that were not told of, these last. */
  async write(drafts: string[]): Promise<Row[]> {
    const { more, mine } = await change(async (tx) => {
      const more = await untold(tx);
      const [store, facts] = [tx.objectStore("lines"), tx.objectStore("facts")];
      let head = await settled<string | undefined>(facts.get("head")); // the last line of this device, by whichever of its pages
      const mine: Row[] = [];
      for (const draft of drafts) {
        if (head) check(head);
        head = core.chain(writer, draft);
        check(head);
        const row: Row = { line: head, state: State.Here };
        row.seq = last = (await settled(store.add(row))) as number;
        mine.push(row);
      }
      await settled(facts.put(head, "head"));
      return { more, mine };
    });
    others?.postMessage("lines");
    meetAnew();
    return [...more, ...mine];
  },

  /** Take in lines of a file; each for itself. */
  async bring(lines: string[]): Promise<{ taken: number; had: number; refused: { line: number; why: string }[] }> {
    const refused: { line: number; why: string }[] = [];
    const good: string[] = [];
    for (const [i, line] of lines.entries())
      if (line)
        try {
          check(line);
          good.push(line);
        } catch (fault) {
          refused.push({ line: i + 1, why: (fault as Error).message });
        }
    const fresh = await take(good, State.Here);
    meetAnew();
    return { taken: fresh.length, had: good.length - fresh.length, refused };
  },

  /** What becomes of rows that the server does not take: they stay on this device alone, or are sent again. */
  async decide(seqs: number[], kept: boolean): Promise<void> {
    const rows = await change(async (tx) => {
      const store = tx.objectStore("lines");
      const decided: Row[] = [];
      for (const seq of seqs) {
        const { refused, ...row } = await settled<Row>(store.get(seq));
        if (row.state !== State.Here) continue;
        decided.push(kept ? { ...row, refused: { reason: "", sentence: "", ...refused, kept } } : row);
        await settled(store.put(decided.at(-1)!));
      }
      return decided;
    });
    tell({ told: "states", rows });
    if (!kept) meetAnew();
  },

  /** The server has the seal of all rows up to this one. */
  async sealed(upTo: number): Promise<void> {
    const rows = await change(async (tx) => {
      const store = tx.objectStore("lines");
      const there = (await settled<Row[]>(store.index("state").getAll(State.Server))).filter(({ seq }) => seq! <= upTo);
      for (const row of there) await settled(store.put({ ...row, state: State.Sealed }));
      return there.map((row) => ({ ...row, state: State.Sealed }));
    });
    if (rows.length > 0) tell({ told: "states", rows });
  },
  meet: () => meetOnce(),
};

export type Book = typeof methods;
answerCalls(methods);
