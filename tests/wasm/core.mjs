// The core as WebAssembly: lines in, a question in, the answer out.
//
// usage: node core.mjs MODULE LINES QUESTION...   (a file of lines; each question is answered on stdout,
// after a line with the length of its answer; in the environment PACK: in the language of that pack, HANDS: so many threads)
import { readFileSync } from "node:fs";
import { Worker } from "node:worker_threads";

/** hands: threads that share the work of folds, this one among them. */
export function load(path, hands = 1) {
  const module = new WebAssembly.Module(readFileSync(path));
  const memory = new WebAssembly.Memory({ initial: 128, maximum: 16384, shared: true });
  const core = new WebAssembly.Instance(module, { env: { memory } }).exports;
  core._initialize();
  if (hands > 1 && core.tw_wasm_hands(hands) !== 0) throw new Error(`${hands} hands: refused`);
  for (let hand = 1; hand < hands; hand++) new Worker(new URL("help.mjs", import.meta.url), { workerData: { module, memory, hand } }).unref();
  const give = (given) => {
    const bytes = typeof given === "string" ? new TextEncoder().encode(given) : given;
    const at = core.tw_wasm_buffer(bytes.length);
    if (!at) throw new Error("too long");
    new Uint8Array(memory.buffer, at, bytes.length).set(bytes);
    return bytes.length;
  };
  const answer = () => new Uint8Array(memory.buffer, core.tw_wasm_answer(), core.tw_wasm_length()).slice();
  const text = (status) => ({ status, text: new TextDecoder().decode(answer()) });
  return {
    draft: (fields) => text(core.tw_wasm_draft(give(fields.flat().join("\0")))),
    chain: (writer, draft) => text(core.tw_wasm_chain(give(`${writer}\0${draft}`))),
    id: (ms, random) => (give(random), text(core.tw_wasm_id(ms))),
    seal: () => text(core.tw_wasm_seal()),
    keep: (program) => (give(program), { status: core.tw_wasm_keep(), bytes: answer() }),
    kept: (program, bytes) => core.tw_wasm_kept(give(new Uint8Array([...program, ...bytes]))),
    reset: () => core.tw_wasm_reset(),
    add: (line) => ({ status: core.tw_wasm_add_line(give(line)), fault: new TextDecoder().decode(answer()) }),
    language: (pack) => text(core.tw_wasm_language(give(pack))),
    ask: (question) => {
      const status = core.tw_wasm_ask(give(question));
      return { status, outcome: core.tw_wasm_outcome(), bytes: answer() };
    },
  };
}

if (process.argv[1] && import.meta.url.endsWith(process.argv[1].split("/").pop())) {
  const [, , path, lines, ...questions] = process.argv;
  const core = load(path, Number(process.env.HANDS || 1));
  core.reset();
  if (process.env.PACK) {
    const { status, text } = core.language(readFileSync(process.env.PACK));
    if (status) throw new Error(text);
  }
  for (const line of readFileSync(lines, "utf8").split("\n"))
    if (line) {
      const { status, fault } = core.add(line);
      if (status) throw new Error(fault);
    }
  for (const question of questions) {
    const { status, bytes } = core.ask(question);
    if (status) throw new Error(`${question}: status ${status}`);
    process.stdout.write(`${bytes.length}\n`);
    process.stdout.write(bytes);
  }
}
