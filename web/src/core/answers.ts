// Worker: answers questions about the lines it was given. It keeps nothing but what was worked out of each tub.
import { answerCalls } from "../lib/remote";
import { packOf } from "../lib/say";
import { open, type Kept } from "../book/shelf";
import { begin, Full, type Core } from "./module";

declare const PROGRAM: string; // 64 hexadecimal digits that name it

const program = Uint8Array.from(PROGRAM.match(/../g)!, (pair) => parseInt(pair, 16));
let core: Core;
let spare: Core; // in which an answer is worked out ahead
let compiled: WebAssembly.Module;
let stored: string[] = [];
let pack: Uint8Array = new Uint8Array(0);
let shelf: Awaited<ReturnType<typeof open>>;

/** The tub whose kept bytes the module has. */
let given = "";

async function give(tub: string): Promise<void> {
  if (given === tub) return;
  const kept = await shelf.get<Kept>("kept", tub);
  core.kept(program, kept && kept.program === PROGRAM ? kept.bytes : new Uint8Array(0));
  given = tub;
}

/** What is worked out for lines that are not written yet. */
let ahead: { behind: number; lines: string[] } | null = null;

/** All lines anew, into this core. */
function fill(into: Core, lines: string[]): void {
  into.reset(lines);
  for (const line of lines) into.add(line);
}

const methods = {
  /** In this language, where its pack can be had and fits. */
  async open(module: WebAssembly.Module, language: string): Promise<void> {
    compiled = module;
    const bytes = packOf(language);
    [core, shelf] = await Promise.all([begin(module), open()]);
    pack = await bytes;
    core.reset();
    core.language(pack);
  },
  /** Take in lines that are stored. What was worked out ahead of just these takes the place of the core. */
  async lines(lines: string[]): Promise<void> {
    const foreseen = ahead && ahead.behind === stored.length && ahead.lines.length === lines.length && ahead.lines.every((line, i) => line === lines[i]);
    ahead = null;
    stored.push(...lines);
    if (foreseen) {
      [core, spare] = [spare, core];
      return;
    }
    try {
      for (const line of lines) core.add(line);
    } catch (fault) {
      if (!(fault instanceof Full)) throw fault;
      fill(core, stored);
      given = "";
    }
  },
  /** Ask ahead of drafts: of the lines that they will be behind the last one of this writer. */
  async ahead(tub: string, writer: string, drafts: string[], question: string): Promise<void> {
    await give(tub);
    if (!spare) (spare = await begin(compiled)).language(pack);
    fill(spare, stored);
    const bytes = core.keep(program) ?? (await shelf.get<Kept>("kept", tub))?.bytes;
    if (bytes) spare.kept(program, bytes);
    const lines = drafts.map((draft) => {
      const line = spare.chain(writer, draft);
      spare.add(line);
      return line;
    });
    spare.ask(question);
    ahead = { behind: stored.length, lines };
  },
  /** Ask; what was worked out is kept for the next start. */
  async ask(tub: string, question: string, keep: boolean): Promise<{ outcome: number; text: string }> {
    if (tub) await give(tub);
    const answer = core.ask(question);
    if (tub && keep) {
      const bytes = core.keep(program);
      if (bytes) await shelf.put("kept", { program: PROGRAM, bytes } satisfies Kept, tub);
    }
    return answer;
  },
};

export type Answers = typeof methods;
answerCalls(methods);
