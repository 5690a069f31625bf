// Worker: answers questions about the lines of this device, which it reads where they are kept.
import { answerCalls } from "../lib/remote";
import { packOf } from "../lib/say";
import { open, type Kept, type Row } from "../book/shelf";
import { begin, Full, hands, type Core } from "./module";

declare const PROGRAM: string; // 64 hexadecimal digits that name it

/** A core and the number of the last row that it has. */
interface Reader {
  core: Core;
  got: number;
}

const PORTION = 1000;
const program = Uint8Array.from(PROGRAM.match(/../g)!, (pair) => parseInt(pair, 16));
let reader: Reader;
let spare: Reader | null = null; // in which an answer is worked out ahead
let prepared: Promise<void> | null = null; // it is there, with all lines
let compiled: WebAssembly.Module;
let pack: Uint8Array;
let shelf: Awaited<ReturnType<typeof open>>;

/** Take in all rows that are stored; room is made for those that there are and half as many more. */
async function fill(into: Reader): Promise<void> {
  const count = await shelf.count("lines");
  for (let room = count; ; room *= 2)
    try {
      if (into.got === 0) into.core.reset(room);
      for (let rows = await shelf.rows(into.got, PORTION); rows.length > 0; rows = await shelf.rows(into.got, PORTION)) add(into, rows);
      return;
    } catch (fault) {
      if (!(fault instanceof Full) || room > 64 * (count + 1)) throw fault;
      into.got = 0;
    }
}

function add(into: Reader, rows: Row[]): void {
  for (const { line } of rows) into.core.add(line);
  into.got = rows.at(-1)!.seq!;
}

const MOST_AHEAD = 8192; // entries of a logbook for which the spare core is made before it is asked for

const COMING_MS = 150; // a fold alone takes as much longer

/** The helpers of a core that will fold are there, or not worth waiting for. */
const helped = (core: Core) => Promise.race([core.help(), new Promise<void>((go) => setTimeout(go, COMING_MS))]);

/** The spare core, its helpers and its lines. */
const prepare = () => (prepared ??= (async () => {
  const core = await begin(compiled, hands());
  void core.help();
  core.language(pack);
  await fill((spare = { core, got: 0 }));
})().catch((fault) => {
  prepared = null;
  throw fault;
}));

/** What the next question may need, while nobody waits: both cores take turns. */
function lookAhead(): void {
  void reader.core.help();
  if (reader.got <= MOST_AHEAD) prepare().catch(() => {}); // whoever asks ahead hears of it
}

/** The tub whose kept bytes the module has. */
let given = "";

async function give(tub: string): Promise<void> {
  if (given === tub) return;
  const kept = await shelf.get<Kept>("kept", tub);
  const bytes = kept?.program === PROGRAM ? kept.bytes : new Uint8Array(0);
  if (bytes.length === 0) await helped(reader.core); // it will fold
  reader.core.kept(program, bytes);
  given = tub;
}

/** What is worked out in the spare core: for these lines behind that row. */
let ahead: { behind: number; lines: string[] } | null = null;

const methods = {
  /** In this language, where its pack can be had and fits. */
  async open(module: WebAssembly.Module, language: string): Promise<void> {
    compiled = module;
    const bytes = packOf(language);
    const [core, stored] = await Promise.all([begin(module, hands()), open()]);
    shelf = stored;
    pack = await bytes;
    core.language(pack);
    reader = { core, got: 0 };
  },
  /** Take in rows that were stored since, these or all. What was worked out ahead of just these takes the place of the core. */
  async lines(rows?: Row[]): Promise<void> {
    const fresh = rows?.filter(({ seq }) => seq! > reader.got);
    if (fresh?.length === 0) return;
    const foreseen = ahead && fresh && ahead.behind === reader.got && ahead.lines.length === fresh.length && ahead.lines.every((line, i) => line === fresh[i]!.line);
    if (spare && ahead) spare.got = foreseen ? fresh!.at(-1)!.seq! : 0; // lines that were never written leave it by a new beginning
    ahead = null;
    if (foreseen) return void ([reader, spare] = [spare!, reader]);
    try {
      if (fresh) add(reader, fresh);
      else await fill(reader);
    } catch (fault) {
      if (!(fault instanceof Full)) throw fault;
      given = "";
      reader.got = 0;
      await fill(reader);
    }
  },
  /** Something is being written: what comes of it will be asked for. */
  ready: () => lookAhead(),
  /** Ask ahead of drafts: of the lines that they will be behind the last one of this writer. */
  async ahead(tub: string, writer: string, drafts: string[], question: string): Promise<void> {
    await give(tub);
    await prepare();
    if (ahead) spare!.got = 0;
    ahead = null;
    await fill(spare!);
    await helped(spare!.core);
    const { core, got } = spare!;
    const bytes = reader.core.keep(program) ?? (await shelf.get<Kept>("kept", tub))?.bytes;
    if (bytes) core.kept(program, bytes);
    ahead = { behind: got, lines: [] };
    for (const draft of drafts) {
      const line = core.chain(writer, draft);
      core.add(line);
      ahead.lines.push(line);
    }
    core.ask(question);
  },
  /** Ask; what was worked out is kept for the next start. */
  async ask(tub: string, question: string, keep: boolean): Promise<string> {
    if (tub) await give(tub);
    const text = reader.core.ask(question);
    const bytes = tub && keep ? reader.core.keep(program) : null;
    if (tub && keep) setTimeout(lookAhead);
    if (bytes) shelf.put("kept", { program: PROGRAM, bytes } satisfies Kept, tub).catch(() => {}); // it spares work, no more
    return text;
  },
  /** Of all lines. */
  seal: () => reader.core.seal(),
};

export type Answers = typeof methods;
answerCalls(methods);
