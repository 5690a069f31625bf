// Writing through the module: entries composed again from their fields, ids, seal, what is kept.
//
// usage: node write.mjs MODULE LINES NOW SEAL   (LINES: an export of one writer; SEAL: of the program). TAP on stdout.
import { readFileSync } from "node:fs";
import { load } from "./core.mjs";

const [, , path, file, now, seal] = process.argv;
const lines = readFileSync(file, "utf8").split("\n").filter(Boolean);
const results = [];
const claim = (good, said, more = "") => results.push({ good, said, more });

const core = load(path);
core.reset();
let same = 0;
for (const line of lines) {
  const { writer, n, prev, ...fields } = JSON.parse(line);
  const draft = core.draft(Object.entries(fields).reverse());
  const chained = core.chain(writer, draft.text);
  if (chained.text === line) same++;
  core.add(chained.text);
}
claim(same === lines.length, `${lines.length} entries composed and chained again have the program's bytes`, `${same} do`);
claim(core.seal().text === seal, "the seal is the program's", core.seal().text);

const id = core.id(1774345200000, new Uint8Array(10).fill(0xff)).text;
claim(id === "019d1f37-2180-7fff-bfff-ffffffffffff", "an id of version 7 holds the milliseconds and the random bits", id);

const first = JSON.parse(lines[0]);
const typed = [["kind", "reading"], ["id", id], ["tub", first.tub], ["at", now], ["entered", now], ["analyte", "pH "], ["form", "value"], ["value", "7,40"], ["instrument", "strip"]];
claim(JSON.parse(core.draft(typed).text).value === "7.40", "what is typed is brought into form");
const high = core.draft(typed.map(([name, value]) => [name, name === "value" ? "74" : value]));
const [sentence, field, value] = high.text.split("\0");
claim(high.status !== 0 && field === "value" && value === "74" && sentence.includes("74"), "a refusal names field, value and what is allowed", high.text);
claim(core.draft([["kind", "reading"], ["kind"]]).status !== 0, "a field without a value is refused");
claim(core.chain("nobody", core.draft(typed).text).status !== 0, "a writer without an id is refused");
claim(core.chain(first.writer, "{}").status !== 0, "a draft that is none is refused");
claim(core.draft(Array.from({ length: 200 }, (_, i) => [`a${i}`, "1"])).status !== 0, "more fields than an entry has are refused");

const program = new Uint8Array(32).fill(7);
const question = (at) => `now at=${at} as=json tub=${first.tub}`;
const later = now.replace("T12", "T16");
const plain = core.ask(question(later));
const kept = core.keep(program);
claim(kept.status === 0 && kept.bytes.length > 100000 && kept.bytes.length <= 524288, "what was worked out of a tub can be kept", `${kept.bytes.length} bytes`);
const again = load(path);
again.reset();
for (const line of lines) again.add(line);
again.kept(program, kept.bytes);
claim(Buffer.compare(again.ask(question(later)).bytes, plain.bytes) === 0, "from what was kept an answer has the same bytes");
claim(core.kept(program, new Uint8Array(kept.bytes.length).fill(1)) === 0 && Buffer.compare(core.ask(question(later)).bytes, plain.bytes) === 0,
  "damaged bytes are passed over");
claim(core.kept(program, new Uint8Array(524289)) !== 0, "too many bytes are refused");

console.log(`1..${results.length}`);
results.forEach(({ good, said, more }, i) => console.log(`${good ? "ok" : "not ok"} ${i + 1} - ${said}${good ? "" : `\n# ${more}`}`));
process.exit(results.every(({ good }) => good) ? 0 : 1);
