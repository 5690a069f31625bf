// Any other entry, from the tables of kinds and fields: what is needed first, the rest behind it.
import { useState } from "preact/hooks";
import { fields as tables, kinds, profiles, substances, units, words, type Sentence } from "tables";
import type { Field, Refusal } from "../core/module";
import { go, to } from "../lib/route";
import { called, capital, has, say } from "../lib/say";
import { oneOf } from "../lib/units";
import { Fault } from "../lib/remote";
import { Body, Page, tubName } from "../parts/page";
import { standing } from "../entries";
import { newId, write } from "../state";
import { tell } from "../parts/logged";

type Row = (typeof tables)[string][number];

/** Quantities that several tables of units share. */
const SHARED: Record<string, string[]> = {
  amount: ["mass", "volume"], "act-amount": ["mass", "volume", "duration"], portion: ["mass", "volume"], hardness: ["concentration"], percent: [],
  "by-setting": ["fraction", "temperature"], "by-analyte": ["number", "concentration", "conductivity", "temperature", "potential", "length"], "by-analyte-step": ["concentration"],
};

const unitsOf = (row: Row) => (SHARED[row.quantity] ?? [row.quantity]).flatMap((quantity) => units[quantity] ?? []);

/** Fields that are hidden behind "more": not needed, and seldom said. */
const FIRST: Record<string, string[]> = {
  exchange: ["cause", "in", "out", "volume_unit", "source"], tub: ["name", "volume", "volume_unit", "use", "profile"], setting: ["what", "value", "unit", "state"],
  plate: ["cell_output", "cell_output_unit", "salt_target", "salt_unit", "acids"], stock: ["substance", "amount", "amount_unit", "strength"],
  definition: ["defines", "name", "analyte", "blocks", "unit", "substance", "full", "full_unit"], symptom: ["symptom", "words"],
  "power-cut": ["until"], part: ["part", "act", "serial"], source: ["source", "origin"],
};

/** What stands in a field before anything was typed. */
const USUAL: Record<string, string> = {
  volume_unit: oneOf("L", "gal-us", "gal-imp"), amount_unit: oneOf("g", "oz"), cell_output_unit: "g/h", salt_unit: "mg/L", temp_unit: oneOf("Cel", "degF"), full_unit: oneOf("g", "oz"), cause: "fill", state: "done" };

function usual(kind: string, row: Row): string {
  if (kind === "setting" && (row.name === "unit" || row.name === "state")) return "";
  if (row.name === "state" && kind !== "care") return kind === "visit" ? "arrived" : "";
  return row.needed || row.type === "unit" ? USUAL[row.name] ?? "" : "";
}

export function Write({ tub, kind }: { tub: string; kind: string }) {
  const rows = tables[kind] ?? [];
  const [values, setValues] = useState<Record<string, string>>(() => Object.fromEntries(rows.map((row) => [row.name, usual(kind, row)])));
  const [refused, setRefused] = useState<{ text: string; field: string } | null>(null);
  const first = rows.filter((row) => row.needed || FIRST[kind]?.includes(row.name) || !FIRST[kind]);
  const rest = rows.filter((row) => !first.includes(row));
  async function submit(event: Event): Promise<void> {
    event.preventDefault();
    const given = new Set(rows.filter(({ name, type }) => values[name] && type !== "unit").map(({ unit }) => unit));
    const said = rows.filter(({ name, type }) => values[name] && (type !== "unit" || given.has(name) || values[name] !== USUAL[name]));
    const fact = { kind, fields: said.map(({ name }): Field => [name, values[name]!]) };
    try {
      const id = tub || (await newId());
      tell(await write(id, [fact], new Date(), true));
      go(id, "now");
    } catch (fault) {
      setRefused({ text: (fault as Fault).message, field: ((fault as Fault).more as Refusal | undefined)?.field ?? "" });
    }
  }
  const input = (row: Row) => <Input key={row.name} tub={tub} kind={kind} row={row} value={values[row.name] ?? ""} put={(value) => setValues({ ...values, [row.name]: value })} fault={refused?.field === row.name ? refused.text : ""} />;
  const inputs = (some: Row[]) => paired(some).map(([row, unit]) => (unit ? <div class="with-unit" key={row.name}>{input(row)}{input(unit)}</div> : input(row)));
  return (
    <Page title={tub ? tubName(tub) : say("new-tub")} under={say(`kind-${kind}` as Sentence)} view="log" tub={tub} up={tub ? { href: to(tub, "log", "choose"), word: say("back") } : { href: to("", "round"), word: say("view-round") }}>
      <Body style={{ padding: 0 }}><form onSubmit={submit}>
        <div class="row"><div class="hour" /><div class="text">
          <p class="small" style={{ marginTop: "12px" }}>{called(kinds[kind] ?? "")}</p>
          {inputs(first)}
          {rest.length > 0 && <details style={{ marginTop: "16px" }}><summary class="touch">{say("more-fields")}</summary>{inputs(rest)}</details>}
          {refused && <p class="fault" role="alert">{refused.text}</p>}
        </div></div>
        <div class="acts one" style={{ marginTop: "16px" }}><button class="key next">{tub ? say("log-it") : say("begin")}</button></div>
      </form></Body>
    </Page>
  );
}

/** What the tables say of a field, or shorter words where people know it by them. */
function label(kind: string, row: Row): string {
  if (row.type === "unit") return say("field-amount_unit");
  const own = [`field-${kind}-${row.name}`, `field-${row.name}`].find(has);
  return own ? say(own as Sentence) : capital(called(row.meaning));
}

/** Values with their unit beside them: the unit stands with the first value that it is of. */
function paired(rows: Row[]): [Row, Row?][] {
  const units = new Map(rows.filter(({ type }) => type === "unit").map((row) => [row.name, row]));
  const found: [Row, Row?][] = [];
  for (const row of rows.filter(({ type }) => type !== "unit")) {
    found.push([row, units.get(row.unit)]);
    units.delete(row.unit);
  }
  return [...found, ...[...units.values()].map((row): [Row] => [row])];
}

const named = (options: [string, string][]) => options.map(([word, name]): [string, string] => [word, called(name)]);

function Input({ tub, kind, row, value, put, fault }: { tub: string; kind: string; row: Row; value: string; put: (value: string) => void; fault: string }) {
  const id = `f-${row.name}`;
  const common = { id, required: row.needed, "aria-invalid": fault !== "", "aria-describedby": fault ? `${id}-fault` : undefined };
  const change = (event: { currentTarget: { value: string } }) => put(event.currentTarget.value);
  let control;
  if (row.type === "unit") control = <Choice {...common} value={value} change={change} options={unitsOf(row).map(([word, name]) => [word, `${word} (${called(name)})`])} />;
  else if (row.name === "substance" || row.words === "@substances")
    control = <Choice {...common} value={value} change={change} options={[
      ...standing(tub, "definition").filter(({ fields }) => fields.defines === "substance").map(({ fields }): [string, string] => [fields.id!, fields.name!]),
      ...Object.entries(substances).map(([word, { plain }]): [string, string] => [word, called(plain)])]} />;
  else if (row.type === "word" && words[row.words]) control = <Choice {...common} value={value} change={change} options={named(words[row.words]!)} />;
  else if (row.name === "profile") control = <Choice {...common} value={value} change={change} options={named(Object.entries(profiles))} />;
  else if (row.length > 200) control = <textarea {...common} maxLength={row.length} value={value} onInput={change} />;
  else if (row.type === "date") control = <input {...common} type="date" value={value} onInput={change} />;
  else control = <input {...common} maxLength={row.length || undefined} inputMode={row.type === "decimal" ? "decimal" : row.type === "count" ? "numeric" : undefined} value={value} onInput={change} autocomplete="off" />;
  return (
    <div class="field">
      <label for={id}>{label(kind, row)}{row.needed || row.type === "unit" ? "" : <span class="small"> · {say("may-be-left")}</span>}</label>
      {control}
      {fault && <p class="fault" id={`${id}-fault`}>{fault}</p>}
    </div>
  );
}

function Choice({ value, change, options, ...rest }: { value: string; change: (e: { currentTarget: { value: string } }) => void; options: [string, string][]; id: string; required: boolean }) {
  return (
    <select {...rest} value={value} onChange={change}>
      <option value="">–</option>
      {options.map(([word, name]) => <option value={word}>{name}</option>)}
    </select>
  );
}
