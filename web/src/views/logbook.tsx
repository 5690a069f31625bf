// What was written, newest last as a book has it; corrections stay visible, what was written later says so.
import { useEffect, useState } from "preact/hooks";
import type { Answer } from "tables";
import { State } from "../book/shelf";
import type { Field } from "../core/module";
import { clock, day } from "../lib/time";
import { go, to } from "../lib/route";
import { say, spoken } from "../lib/say";
import { Body, Page, Row, tubName, weightOf, WhereKept } from "../parts/page";
import { entriesOf, entryOf } from "../entries";
import { known, seal, useAnswer, useKnown, write, type Fact } from "../state";

const FILTERS = { all: [], readings: ["reading", "standard", "monitor-hour"], doses: ["addition", "intent", "response"], water: ["exchange", "source", "volume"] } as const;
type Filter = keyof typeof FILTERS;

/** Where an entry stands, in words. */
function stateOf(tub: string, id: string): string {
  const entry = entryOf(tub, id);
  if (!entry) return "";
  if (entry.row.refused !== undefined) return say("state-refused");
  if (entry.row.state === State.Sealed) return say("state-sealed");
  if (entry.row.state === State.Server) return say("state-server");
  return known.sending && known.met?.how !== "none" ? say("state-sending") : say("state-here");
}

export function Logbook({ tub, about }: { tub: string; about: string }) {
  useKnown();
  const { answer, working, fault } = useAnswer(tub, "logbook");
  const [filter, setFilter] = useState<Filter>("all");
  const [open, setOpen] = useState("");
  const [sealed, setSealed] = useState("");
  useEffect(() => void seal().then(setSealed), [known.version]);
  const wanted: readonly string[] = FILTERS[filter];
  const entries = (answer?.entries ?? []).filter(({ kind }) => wanted.length === 0 || wanted.includes(kind!));
  const ties = tiesOf(tub, entries);
  let dayBefore = "";
  return (
    <Page title={tubName(tub)} under={<>{say("under-logbook")} · {answer?.entries?.length ?? 0}</>} view="logbook" tub={tub} weight={weightOf(answer?.weight)}>
      <Body aria-busy={working} style={{ paddingTop: 0 }}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        <div class="times" role="group" aria-label={say("filter")} style={{ padding: "12px 16px 0" }}>
          {(Object.keys(FILTERS) as Filter[]).map((name) => <button class="key" aria-pressed={filter === name} onClick={() => setFilter(name)}>{say(`filter-${name}`)}</button>)}
        </div>
        {answer?.doubts?.map(({ doubt }) => doubt && <Row><p class="fault">{doubt.text}</p></Row>)}
        {entries.length === 0 && answer && <Row><p>{say("empty-logbook")}</p></Row>}
        {entries.map((entry, i) => {
          const today = entry.entry_at!.slice(0, 10);
          const head = today !== dayBefore ? day(entry.entry_at!, spoken(), true) : "";
          dayBefore = today;
          const mine = entry.entry === about || (about !== "" && entryOf(tub, entry.entry!)?.fields.sample === about);
          return (
            <>
              {head && <Row><h2 class="small" style={{ marginTop: "12px" }}>{head}</h2></Row>}
              <Line key={entry.entry} tub={tub} entry={entry} open={open === entry.entry} toggle={() => setOpen(open === entry.entry ? "" : entry.entry!)} marked={mine} tie={ties[i] ?? ""} />
            </>
          );
        })}
        <Row><WhereKept /><p class="small">{say("seal", { seal: sealed.slice(0, 12).replace(/(.{4})(?=.)/g, "$1 ") })} <a class="touch" href={to("", "settings")}>{say("export-link")}</a></p></Row>
      </Body>
    </Page>
  );
}

/** A square bracket in the margin ties what was taken back to the line that did so: where each line stands in it. */
function tiesOf(tub: string, entries: Answer[]): string[] {
  const place = new Map(entries.map(({ entry }, i) => [entry!, i]));
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

function Line({ tub, entry, open, toggle, marked, tie }: { tub: string; entry: Answer; open: boolean; toggle: () => void; marked: boolean; tie: string }) {
  const written = entry.written_later?.text;
  const later = written && entryOf(tub, entry.entry!)?.fields.entered;
  return (
    <div class={`line row ${tie}`} ref={(node) => void (marked && node?.scrollIntoView({ block: "center" }))}>
      <div class="hour">{marked || open ? <b>{clock(entry.entry_at!)}</b> : clock(entry.entry_at!)}{later && <span class="later">{say("in-time", { time: clock(later) })}</span>}</div>
      <div class="text">
        <button class="said" aria-expanded={open} onClick={toggle}>
          {entry.voided ? <s>{entry.said!.text}</s> : marked ? <b>{entry.said!.text}</b> : entry.said!.text}{entry.doubted && " ?"}
        </button>
        <span class="state">{stateOf(tub, entry.entry!)}</span>
        {(entry.mark || written || entry.by || entry.remark || entry.doubted) && <span class="small">{[entry.by, written, entry.mark?.text, entry.doubted?.text, entry.remark].filter(Boolean).join(" · ")}</span>}
        {open && !entry.voided && entry.kind !== "void" && <Correct tub={tub} id={entry.entry!} />}
      </div>
    </div>
  );
}

/** Taking an entry back, or writing what it should have said: the old value stays, struck through. */
function Correct({ tub, id }: { tub: string; id: string }) {
  const entry = entryOf(tub, id)!;
  const reading = entry.fields.kind === "reading" && entry.fields.value !== undefined;
  const [value, setValue] = useState(entry.fields.value ?? "");
  const [reason, setReason] = useState("");
  const [fault, setFault] = useState("");
  async function put(facts: Fact[]): Promise<void> {
    try {
      await write(tub, facts);
      go(tub, "logbook");
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
      await write(tub, [back]);
      await write(tub, [{ kind: "reading", fields }], new Date(entry.fields.at!));
      go(tub, "now");
    } catch (refused) {
      setFault((refused as Error).message);
    }
  }
  return (
    <form onSubmit={correct} style={{ gridColumn: "1 / -1" }}>
      <label class="field">{say("why-wrong")}<input maxLength={200} value={reason} onInput={(e) => setReason(e.currentTarget.value)} /></label>
      {reading && <label class="field">{say("it-is")}<input inputMode="decimal" required value={value} onInput={(e) => setValue(e.currentTarget.value)} /></label>}
      {fault && <p class="fault" role="alert">{fault}</p>}
      <div style={{ display: "grid", gap: "8px", gridTemplateColumns: "repeat(6, 1fr)", margin: "12px 0" }}>
        {reading && <button class="key" disabled={value === entry.fields.value}>{say("correct-it")}</button>}
        <button type="button" class={reading ? "key" : "key whole"} onClick={() => put([back])}>{say("take-back")}</button>
      </div>
    </form>
  );
}
