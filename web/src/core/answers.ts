// Worker: answers questions about the lines it was given. It keeps nothing but what was worked out of each tub.
import { answerCalls } from "../lib/remote";
import { packOf } from "../lib/say";
import { open, type Kept } from "../book/shelf";
import { begin, type Core } from "./module";

declare const PROGRAM: string; // 64 hexadecimal digits that name it

const program = Uint8Array.from(PROGRAM.match(/../g)!, (pair) => parseInt(pair, 16));
let core: Core;
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

const methods = {
  /** In this language, where its pack can be had and fits. */
  async open(module: WebAssembly.Module, language: string): Promise<void> {
    const bytes = packOf(language);
    [core, shelf] = await Promise.all([begin(module), open()]);
    core.reset();
    pack = (await bytes) ?? pack;
    core.language(pack);
  },
  lines(lines: string[]): void {
    for (const line of lines) core.add(line);
  },
  forget(): void {
    core.reset();
    core.language(pack);
    given = "";
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
