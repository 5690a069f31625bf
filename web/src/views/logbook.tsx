// What was written, newest last as a book has it; corrections stay visible, what was written later says so.
import { useEffect, useRef, useState } from "preact/hooks";
import type { Answer, Sentence } from "tables";
import { State } from "../book/shelf";
import type { Field } from "../core/module";
import { clock, day } from "../lib/time";
import { go, to } from "../lib/route";
import { say, spoken } from "../lib/say";
import { Body, Page, Row, tubName, weightOf, WhereKept } from "../parts/page";
import { DEGREES, inShort, nameOf, valueOf } from "../parts/reading";
import { Decide } from "../parts/refused";
import { entriesOf, entryOf, type Entry } from "../entries";
import { decide, known, seal, useAnswer, useKnown, write, type Fact } from "../state";

const FILTERS = { all: [], readings: ["reading", "standard", "monitor-hour"], doses: ["addition", "intent", "response"], water: ["exchange", "source", "volume"] } as const;
type Filter = keyof typeof FILTERS;

/** Where an entry stands, in words. */
function stateOf(tub: string, id: string): string {
  const entry = entryOf(tub, id);
  if (!entry) return "";
  if (entry.row.refused) return say(entry.row.refused.kept ? "state-kept" : "state-refused");
  if (entry.row.state === State.Sealed) return say("state-sealed");
  if (entry.row.state === State.Server) return say("state-server");
  return known.sending && known.met?.how !== "none" ? say("state-sending") : say("state-here");
}

export function Logbook({ tub, about }: { tub: string; about: string }) {
  useKnown();
  const { answer, working, fault } = useAnswer(tub, "logbook");
  const [filter, setFilter] = useState<Filter>("all");
  const [open, setOpen] = useState("");
  useEffect(() => setOpen(entryOf(tub, about)?.row.refused ? about : ""), [about]);
  const [sealed, setSealed] = useState("");
  useEffect(() => void seal().then(setSealed), [known.version]);
  const wanted: readonly string[] = FILTERS[filter];
  const entries = (answer?.entries ?? []).filter(({ kind }) => wanted.length === 0 || wanted.includes(kind!));
  // A book opens at its last line.
  const end = useRef<HTMLDivElement>(null);
  useEffect(() => void (answer && !about && end.current?.scrollIntoView({ block: "end" })), [answer !== null, filter]);
  const lines = linesOf(tub, entries);
  const ties = tiesOf(tub, lines);
  let dayBefore = "";
  return (
    <Page title={tubName(tub)} under={<>{say("under-logbook")} · {answer?.entries?.length ?? 0}</>} view="logbook" tub={tub} weight={weightOf(answer?.weight)}>
      <Body aria-busy={working} style={{ paddingTop: 0 }}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {answer?.doubts?.map(({ doubt }) => doubt && <Row><p class="fault">{doubt.text}</p></Row>)}
        {entries.length === 0 && answer && <Row><p>{say("empty-logbook")}</p></Row>}
        {lines.map((line, i) => {
          const { entry: id, entry_at: at } = line[0]!;
          const today = at!.slice(0, 10);
          const head = today !== dayBefore ? day(at!, spoken(), true) : "";
          dayBefore = today;
          return (
            <>
              {head && <Row><h2 class="small day">{head}</h2></Row>}
              <Line key={id} tub={tub} line={line} open={open} toggle={(wanted) => setOpen(open === wanted ? "" : wanted)}
                marked={about !== "" && line.some(({ entry }) => entry === about || fieldsOf(tub, entry).sample === about)} tie={ties[i] ?? ""} />
            </>
          );
        })}
        <div ref={end}><Row><WhereKept /><p class="small">{say("seal", { seal: sealed.slice(0, 12).replace(/(.{4})(?=.)/g, "$1 ") })} <a class="touch" href={to("", "settings")}>{say("export-link")}</a></p></Row></div>
      </Body>
      <div class="acts" role="group" aria-label={say("filter")}>
        <div class="times">{(Object.keys(FILTERS) as Filter[]).map((name) => <button class="key" aria-pressed={filter === name} onClick={() => setFilter(name)}>{say(`filter-${name}`)}</button>)}</div>
      </div>
    </Page>
  );
}

const fieldsOf = (tub: string, id?: string): Record<string, string> => entryOf(tub, id ?? "")?.fields ?? {};

/** What is one line of the book: readings of one sample, replies of one moment, all that was taken back in one; else an entry. */
function linesOf(tub: string, entries: Answer[]): Answer[][] {
  const lines: Answer[][] = [];
  const mark = ({ entry, kind, entry_at }: Answer) => (kind === "void" || kind === "reply" ? `${kind} ${entry_at}` : fieldsOf(tub, entry).sample ?? "");
  for (const entry of entries) {
    const before = lines.at(-1);
    if (before && mark(entry) && mark(entry) === mark(before[0]!) && entry.entry_at === before[0]!.entry_at) before.push(entry);
    else lines.push([entry]);
  }
  return lines;
}

/** A square bracket in the margin ties what was taken back to the line that did so: where each line stands in it. */
function tiesOf(tub: string, lines: Answer[][]): string[] {
  const place = new Map(lines.flatMap((line, i) => line.map(({ entry }) => [entry!, i] as const)));
  const tied: [number, number][] = [];
  for (const { fields } of entriesOf(tub)) {
    const [from, to] = [place.get(fields.target ?? ""), place.get(fields.id!)];
    if (fields.kind === "void" && from !== undefined && to !== undefined) tied.push([Math.min(from, to), Math.max(from, to)]);
  }
  const ties: string[] = [];
  let [begin, end] = [0, -1]; // of the bracket that is being drawn: those that cross are one
  for (const [from, to] of tied.sort(([a], [b]) => a - b)) {
    if (from > end) [begin, end] = [from, to];
    else end = Math.max(end, to);
    for (let i = begin; i <= end; i++) ties[i] = i === begin ? "tie from" : i === end ? "tie to" : "tie";
  }
  return ties;
}

interface Written { tub: string; line: Answer[]; open: string; toggle: (id: string) => void; marked: boolean; tie: string }

function Line({ tub, line, open, toggle, marked, tie }: Written) {
  const node = useRef<HTMLDivElement>(null);
  useEffect(() => void (marked && node.current?.scrollIntoView({ block: "center" })), [marked]);
  const first = line[0]!;
  const opened = line.find(({ entry }) => entry === open);
  const later = first.written_later && fieldsOf(tub, first.entry).entered;
  const states = [...new Set(line.map(({ entry }) => stateOf(tub, entry!)))];
  const refused = line.map(({ entry }) => entryOf(tub, entry!)).filter((entry): entry is Entry => Boolean(entry?.row.refused));
  const { instrument, lot } = fieldsOf(tub, first.entry);
  const by = line.length > 1 && instrument ? [say(`by-${instrument}` as Sentence), lot].filter(Boolean).join(" ") : "";
  const beside = [...new Set(line.flatMap((entry) => [entry.by, by, entry.written_later?.text, entry.mark?.text, entry.doubted?.text, entry.remark]))].filter(Boolean);
  return (
    <div class={`line row ${tie}`} ref={node}>
      <div class="hour">{marked || opened ? <b>{clock(first.entry_at!)}</b> : clock(first.entry_at!)}{later && <span class="later">{say("in-time", { time: clock(later) })}</span>}</div>
      <div class="text">
        {first.kind === "void"
          ? <p class="said">{takenBack(tub, line)}</p>
          : <div class={line.length > 1 ? "values" : ""}>{line.map((entry) => (
            <button class="said" aria-expanded={opened === entry} onClick={() => toggle(entry.entry!)}><Words tub={tub} entry={entry} alone={line.length === 1} marked={marked} /></button>
          ))}</div>}
        <span class="state">{states.join(", ")}</span>
        {beside.length > 0 && <span class="small">{beside.join(" · ")}</span>}
        {refused.some(({ row }) => !row.refused!.kept || refused.some(({ fields }) => fields.id === open)) && <Decide entries={refused} />}
        {opened && !opened.voided && <Correct key={open} tub={tub} id={open} />}
      </div>
    </div>
  );
}

/** What an entry says; among others of its sample a name and a value are enough. */
function Words({ tub, entry, alone, marked }: { tub: string; entry: Answer; alone: boolean; marked: boolean }) {
  const fields = fieldsOf(tub, entry.entry);
  const words = alone || !fields.analyte ? (marked ? <b>{entry.said!.text}</b> : entry.said!.text) : <>{nameOf(fields)} <b>{valueOf(fields)}</b></>;
  return <>{entry.voided ? <s>{words}</s> : words}{entry.doubted && " ?"}</>;
}

/** By name what a line takes back; in the core's words where that is not here. */
function takenBack(tub: string, line: Answer[]): string {
  const targets = line.map(({ entry }) => fieldsOf(tub, fieldsOf(tub, entry).target));
  return targets.every(({ kind }) => kind) ? say("takes-back", { what: targets.map(inShort).join(", ") }) : line[0]!.said!.text;
}

/** Taking an entry back, or writing what it should have said: the old value stays, struck through. What the server did not take is written anew, and what
 * takes it back stays here with it. */
function Correct({ tub, id }: { tub: string; id: string }) {
  const entry = entryOf(tub, id)!;
  const reading = entry.fields.kind === "reading" && entry.fields.value !== undefined;
  const [value, setValue] = useState(entry.fields.value ?? "");
  const [reason, setReason] = useState("");
  const [fault, setFault] = useState("");
  const refused = entry.row.refused !== undefined;
  async function takeBack(): Promise<void> {
    const { entries } = await write(tub, [back]);
    if (refused) await decide([entry, ...entries], true);
  }
  async function put(view: string, about = ""): Promise<void> {
    try {
      await takeBack();
      go(tub, view, about);
    } catch (refused) {
      setFault((refused as Error).message);
    }
  }
  const back: Fact = { kind: "void", fields: [["target", id], ...(reason ? [["reason", reason] as Field] : [])] };
  const OWN = new Set(["id", "tub", "at", "entered", "writer", "n", "prev", "kind", "by", "role"]);
  async function correct(event: Event): Promise<void> {
    event.preventDefault();
    const fields = Object.entries(entry.fields).filter(([name]) => !OWN.has(name)).map(([name, was]): Field => [name, name === "value" ? value : was]);
    try {
      await takeBack();
      await write(tub, [{ kind: "reading", fields }], new Date(entry.fields.at!));
      go(tub, "now");
    } catch (refused) {
      setFault((refused as Error).message);
    }
  }
  return (
    <form onSubmit={correct} style={{ gridColumn: "1 / -1" }}>
      <label class="field">{say("why-wrong")}<input maxLength={200} value={reason} onInput={(e) => setReason(e.currentTarget.value)} /></label>
      {reading && <label class="field">{say("it-is")}{entry.fields.analyte === "temperature" && ` (${DEGREES[entry.fields.unit ?? "Cel"] ?? entry.fields.unit})`}<input inputMode="decimal" required value={value} onInput={(e) => setValue(e.currentTarget.value)} /></label>}
      {fault && <p class="fault" role="alert">{fault}</p>}
      <div style={{ display: "grid", gap: "8px", gridTemplateColumns: "repeat(6, 1fr)", margin: "12px 0" }}>
        {reading && <button class="key" disabled={value === entry.fields.value}>{say("correct-it")}</button>}
        <button type="button" class={reading ? "key" : "key whole"} onClick={() => put("logbook")}>{say("take-back")}</button>
        {refused && !reading && <button type="button" class="key whole" onClick={() => put("write", entry.fields.kind)}>{say("refused-anew")}</button>}
      </div>
    </form>
  );
}
