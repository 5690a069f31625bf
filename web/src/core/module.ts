// The core as WebAssembly (src/wasm/wasm.h): lines in, questions in, answers out.
import { Fault } from "../lib/remote";

declare const HELP_WORKER: string;

export interface Exports {
  __stack_pointer: WebAssembly.Global;
  _initialize(): void;
  tw_wasm_room(entries: number, text: number): number;
  tw_wasm_hands(n: number): number;
  tw_wasm_stack(hand: number): number;
  tw_wasm_help(hand: number): void;
  tw_wasm_buffer(n: number): number;
  tw_wasm_add_line(n: number): number;
  tw_wasm_draft(n: number): number;
  tw_wasm_chain(n: number): number;
  tw_wasm_id(ms: number): number;
  tw_wasm_seal(): number;
  tw_wasm_keep(): number;
  tw_wasm_kept(n: number): number;
  tw_wasm_language(n: number): number;
  tw_wasm_ask(n: number): number;
  tw_wasm_answer(): number;
  tw_wasm_length(): number;
}

/** A field as typed and its value. */
export type Field = [name: string, value: string];

/** What is wrong with an entry: the field and the value it stands in. */
export type Refusal = { field: string; value: string };

export type Core = ReturnType<typeof wrap> & { help(): Promise<void> };

const ENTRIES = 8192; // what a core has room for at least (TW_WASM_ENTRIES, TW_WASM_TEXT)
const TEXT = 4 << 20;
const TEXT_MOST = 128 << 20; // TW_WASM_TEXT_MOST
const LINE = 640; // a long line
const TW_ERR_CAPACITY = 3;
const PAGES = 128; // of memory, as meson.build links it
const PAGES_MOST = 16384;

/** Threads may share memory: the host said that no other page shares this one's process. */
const SHARED = globalThis.crossOriginIsolated === true;

/** There is no room for this line. */
export class Full extends Fault {}

const utf8 = new TextEncoder();
const text = new TextDecoder();

/** Threads that share the work of a fold: as many as there are processors, up to TW_WASM_HANDS, fewer where memory is short. */
export function hands(): number {
  const { hardwareConcurrency, deviceMemory = 4 } = navigator as Navigator & { deviceMemory?: number };
  return SHARED && "Worker" in globalThis ? Math.min(4, hardwareConcurrency, Math.ceil(deviceMemory)) : 1;
}

const IMPORT = "\x03env\x06memory\x02\x03"; // a memory that is shared and has a limit

/** The same module for a memory of its own: the last byte of its import becomes one of a memory that only has a limit. */
function unshared(bytes: Uint8Array<ArrayBuffer>): Uint8Array<ArrayBuffer> {
  const at = Array.from(bytes.subarray(0, 4096), (byte) => String.fromCharCode(byte)).join("").indexOf(IMPORT);
  bytes[at + IMPORT.length - 1] = 1;
  return bytes;
}

/** A device that has not so many addresses left gives fewer. */
function memoryOf(): WebAssembly.Memory {
  for (let maximum = PAGES_MOST; ; maximum /= 2)
    try {
      return new WebAssembly.Memory({ initial: PAGES, maximum, shared: SHARED });
    } catch (fault) {
      if (maximum < 8 * PAGES) throw fault;
    }
}

/** Fetch and compile the module, once for the page and its workers. A host that serves it under another type is read as bytes. */
export async function compile(address: string): Promise<WebAssembly.Module> {
  const response = await fetch(address).catch(({ message }: Error) => {
    throw new Fault(`${address}: ${message}`);
  });
  if (!response.ok) throw new Fault(`${address}: ${response.status}`);
  if (SHARED && response.headers.get("Content-Type") === "application/wasm") return WebAssembly.compileStreaming(response);
  const bytes = new Uint8Array(await response.arrayBuffer());
  return WebAssembly.compile(SHARED ? bytes : unshared(bytes));
}

/** Start it. Of several hands the others come once help() is called, which says when they are there. A worker begins another one only while it does nothing
 * itself: who is called when a fold begins comes behind it. */
export async function begin(module: WebAssembly.Module, hands = 1): Promise<Core> {
  const memory = memoryOf();
  const core = (await WebAssembly.instantiate(module, { env: { memory } })).exports as unknown as Exports;
  core._initialize();
  const others = hands > 1 && core.tw_wasm_hands(hands) === 0 ? hands - 1 : 0;
  const call = (hand: number) => new Promise((here) => {
    const worker = new Worker(HELP_WORKER, { type: "module" });
    worker.onmessage = worker.onerror = here; // who cannot come is not waited for
    worker.postMessage({ module, memory, hand });
  });
  let coming: Promise<void> | null = null;
  const help = () => (coming ??= Promise.all(Array.from({ length: others }, (_, i) => call(i + 1))).then(() => {}));
  return { ...wrap(core, memory), help };
}

function wrap(core: Exports, memory: WebAssembly.Memory) {
  function give(bytes: Uint8Array): number {
    const at = core.tw_wasm_buffer(bytes.length);
    if (!at) throw new Fault("too long");
    new Uint8Array(memory.buffer, at, bytes.length).set(bytes);
    return bytes.length;
  }
  const write = (text: string) => give(utf8.encode(text)); // no text goes straight into memory that is shared
  const bytes = () => new Uint8Array(memory.buffer, core.tw_wasm_answer(), core.tw_wasm_length()).slice();
  const answer = () => text.decode(bytes());
  function refusable(status: number): string {
    if (status === 0) return answer();
    const [sentence = "", field = "", value = ""] = answer().split("\0");
    throw new Fault(sentence, { field, value } satisfies Refusal);
  }
  let pack: Uint8Array = new Uint8Array(0);
  function speak(): void {
    if (core.tw_wasm_language(give(pack)) !== 0) console.warn(answer());
  }
  return {
    /** Begin empty, with room for so many lines and half as many more, in the language of before. */
    reset(lines = 0): void {
      const room = Math.ceil(1.5 * lines);
      if (core.tw_wasm_room(Math.max(ENTRIES, room), Math.min(TEXT_MOST, Math.max(TEXT, room * LINE))) !== 0) throw new Fault("this device has no memory for so many entries");
      speak();
    },
    /** Add a line; adding it again changes nothing. */
    add(line: string): void {
      const status = core.tw_wasm_add_line(write(line));
      if (status === TW_ERR_CAPACITY) throw new Full(answer());
      if (status !== 0) throw new Fault(answer());
    },
    /** The draft of an entry from its fields as typed. Throws a Fault with a Refusal. */
    draft: (fields: Field[]) => refusable(core.tw_wasm_draft(write(fields.flat().join("\0")))),
    /** The line of a draft behind the last entry of this writer. */
    chain: (writer: string, draft: string) => refusable(core.tw_wasm_chain(write(`${writer}\0${draft}`))),
    id(ms: number): string {
      give(crypto.getRandomValues(new Uint8Array(10)));
      core.tw_wasm_id(ms);
      return answer();
    },
    seal: () => (core.tw_wasm_seal(), answer()),
    /** Answer and refuse in the language of a pack; no bytes: in English. */
    language(bytes: Uint8Array): void {
      pack = bytes;
      speak();
    },
    ask(question: string): string {
      const status = core.tw_wasm_ask(write(question));
      if (status !== 0) throw new Fault(`the question is not understood: ${question} (${status})`);
      return answer();
    },
    /** What was worked out for the last answer, to keep; null when there is nothing. */
    keep: (program: Uint8Array) => (give(program), core.tw_wasm_keep() === 0 ? bytes() : null),
    kept(program: Uint8Array, kept: Uint8Array): void {
      const both = new Uint8Array(program.length + kept.length);
      both.set(program);
      both.set(kept, program.length);
      core.tw_wasm_kept(give(both));
    },
  };
}
