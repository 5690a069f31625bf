// The core as WebAssembly: lines in, a question in, the answer out.
//
// usage: node core.mjs MODULE LINES QUESTION...   (a file of lines; each question is answered on stdout,
// after a line with the length of its answer; PACK in the environment: in the language of that pack)
import { readFileSync } from "node:fs";

export function load(path) {
  const module = new WebAssembly.Module(readFileSync(path));
  const imports = WebAssembly.Module.imports(module);
  if (imports.length) throw new Error("the module imports " + JSON.stringify(imports));
  const core = new WebAssembly.Instance(module, {}).exports;
  if (core._initialize) core._initialize();
  const give = (given) => {
    const bytes = typeof given === "string" ? new TextEncoder().encode(given) : given;
    const at = core.tw_wasm_buffer(bytes.length);
    if (!at) throw new Error("too long");
    new Uint8Array(core.memory.buffer, at, bytes.length).set(bytes);
    return bytes.length;
  };
  const answer = () => new Uint8Array(core.memory.buffer, core.tw_wasm_answer(), core.tw_wasm_length()).slice();
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
  const core = load(path);
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
