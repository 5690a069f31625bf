// The entry pad: what the strip, the drops or the meter show, by taps alone.
import { useEffect, useRef, useState } from "preact/hooks";
import { analytes, instruments, type Answer, type Sentence } from "tables";
import type { Field } from "../core/module";
import { clock, stamp } from "../lib/time";
import { go, to } from "../lib/route";
import { called, figure, say } from "../lib/say";
import { oneOf } from "../lib/units";
import { Body, Page, tubName } from "../parts/page";
import { standing } from "../entries";
import { NumberKeys } from "../parts/number";
import { DEGREES, valueShown } from "../parts/reading";
import { draft as entriesOf, expect, fact, foresee, newId, setFact, useClock, useFact, useKnown, writeDrafts, type Drafts, type Fact } from "../state";
import { tell } from "../parts/logged";

/** What one pad shows. */
export interface Value {
  form: "value" | "between" | "below" | "above" | "unreadable";
  value?: string;
  high?: string;
  doubt?: string;
  /** Where it is not the usual one. */
  unit?: string;
}

/** A pad half done: it survives a call, a crash and a flat battery. */
interface Draft {
  by: string;
  lot: string;
  values: Record<string, Value>;
  order: string[];
  source: string;
  /** Minutes ago, or a clock that was typed. */
  at: number | string;
  begun: number;
}

const PADS: Record<string, string[]> = {
  strip: ["free-chlorine", "ph", "total-alkalinity", "total-hardness", "cyanuric-acid"],
  drops: ["free-chlorine", "total-chlorine", "ph", "total-alkalinity", "calcium-hardness"],
  photometer: ["free-chlorine", "total-chlorine", "ph", "total-alkalinity", "calcium-hardness", "cyanuric-acid", "phosphate"],
  meter: ["ph", "conductivity"],
  thermometer: ["temperature"],
  comparator: ["free-chlorine", "total-chlorine", "ph"],
  display: ["salt"],
  laboratory: ["ph", "total-alkalinity", "calcium-hardness", "iron", "manganese", "copper", "phosphate", "chloride"],
  monitor: ["free-chlorine", "ph", "conductivity"],
};

export const READERS = Object.keys(PADS);

/** What an address asks for: meter:source, read:ph,total-alkalinity:source. */
interface Asked { by: string; wanted: string[]; source: boolean }

function asks(about: string): Asked {
  const [word = "", rest = "", last = ""] = about.split(":");
  if (word === "read") return { by: "", wanted: rest ? rest.split(",") : [], source: last === "source" };
  return { by: READERS.includes(word) ? word : "", wanted: [], source: rest === "source" };
}

/** Whether this address of the log view is a pad. */
export const isPad = (about: string) => about === "" || about.startsWith("read:") || asks(about).by !== "";

/** The source water that was named last. */
const sourceOf = (tub: string) => standing(tub, "source").pop()?.fields.source ?? "";

/** The instrument that reads all of these; the last one used when it does. */
function readerFor(wanted: string[], last: string): string {
  const reads = (by: string) => wanted.every((analyte) => analyte in (instruments[by] ?? {}) || PADS[by]!.includes(analyte));
  if (PADS[last] && reads(last)) return last;
  return ["strip", "drops", "meter", "thermometer", "laboratory"].find(reads) ?? "laboratory";
}

function fresh(by: string, wanted: string[], lot: string, source: string): Draft {
  return { by, lot: by === "strip" ? lot : "", values: {}, order: wanted.length > 0 ? wanted : PADS[by]!, source, at: 0, begun: Date.now() };
}

/** Blocks of this bottle's scale, or the usual ones. */
function scaleOf(tub: string, analyte: string, lot: string): { id?: string; blocks: number[] } {
  const own = standing(tub, "definition").filter(({ fields }) => fields.defines === "strip-scale" && fields.analyte === analyte && (!lot || fields.name === lot)).pop();
  if (own?.fields.blocks) return { id: own.fields.id, blocks: own.fields.blocks.split(" ").map(Number) };
  return { blocks: instruments.strip?.[analyte]?.blocks ?? [] };
}

const HALF_DONE_MS = 12 * 3600_000;

export function Log({ tub, about }: { tub: string; about: string }) {
  const { by, wanted, source } = asks(about);
  const [last, , lastLoaded] = useFact(`reader:${tub}`, { by: "strip", lot: "" });
  const [stored, store, loaded] = useFact<Draft | null>(`pad:${tub}`, null);
  const [draft, setDraft] = useState<Draft | null>(null);
  useEffect(() => {
    if (!loaded || !lastLoaded || draft) return;
    const half = stored && Object.keys(stored.values).length > 0 && Date.now() - stored.begun < HALF_DONE_MS ? stored : null;
    setDraft(half ?? fresh(by || readerFor(wanted, last.by), wanted, last.lot, source ? sourceOf(tub) : ""));
  }, [loaded, lastLoaded]);
  if (!draft) return <Page title={tubName(tub)} view="log" tub={tub}><Body /></Page>;
  const change = (next: Draft) => {
    setDraft(next);
    store(next);
  };
  return <Pad tub={tub} draft={draft} change={change} done={() => { if (!draft.source) void setFact(`reader:${tub}`, { by: draft.by, lot: draft.lot }); void setFact(`pad:${tub}`, null); }} resumed={draft === stored} />;
}

function Pad({ tub, draft, change, done, resumed }: { tub: string; draft: Draft; change: (next: Draft) => void; done: () => void; resumed: boolean }) {
  const next = draft.order.find((analyte) => !draft.values[analyte]);
  const [chosen, choose] = useState<string | null>(null);
  const [fault, setFault] = useState("");
  const logging = useRef(false);
  const open = chosen ?? next ?? null;
  const set = Object.keys(draft.values).length;
  const now = stamp(useClock());
  // On a low screen what is set folds into one row; pressing it opens all of them.
  const [unfolded, unfold] = useState(false);
  const [moved, move] = useState(false);
  const last = useRef<HTMLButtonElement>(null);
  useEffect(() => void (moved && !open && document.activeElement === document.body && last.current?.focus()), [open]);
  const folded = !unfolded && matchMedia("(max-height: 620px)").matches ? draft.order.filter((analyte) => draft.values[analyte] && analyte !== open) : [];

  function put(analyte: string, value: Value | null): void {
    const values = { ...draft.values };
    if (value) values[analyte] = value;
    else delete values[analyte];
    change({ ...draft, values });
    choose(null);
    move(true);
  }
  const { ready: opened } = useKnown();
  useEffect(expect, [opened]);
  const ready = useAhead(tub, draft, set >= draft.order.length);
  async function log(): Promise<void> {
    if (logging.current) return;
    logging.current = true; // and nothing is drawn for it: the next to be drawn is the entry
    try {
      const { drafts, asked } = await ready();
      const written = await writeDrafts(drafts ?? (await compose(tub, draft)), true, asked);
      tell(written);
      go(tub, "now");
      done();
    } catch (refused) {
      setFault((refused as Error).message);
      logging.current = false;
    }
  }
  const under = (
    <>
      {say(`by-${draft.by}` as Sentence)}{draft.lot && ` ${draft.lot}`}{draft.source && ` · ${draft.source}`} · <a class="touch" href={to(tub, "log", "choose")}>{say("change")}</a>
    </>
  );
  return (
    <Page title={tubName(tub)} under={under} view="log" tub={tub}>
      <Body style={{ padding: 0 }}>
        {resumed && set > 0 && <p class="small" style={{ padding: "8px 16px" }} role="status">{say("half-done", { time: clock(stamp(new Date(draft.begun))), n: set, of: draft.order.length })}{" "}
          <button class="touch" onClick={() => change(fresh(draft.by, draft.order, draft.lot, draft.source))}>{say("begin-again")}</button></p>}
        {folded.length > 0 && (
          <div class="pad">
            <button class="row" aria-expanded={false} onClick={() => unfold(true)}>
              <span class="hour">{clock(now)}</span>
              <span class="text"><b>{say("n-set", { n: folded.length })}</b><span class="value link">{folded.map((analyte) => valueShown(draft.values[analyte]!)).join(" · ")}</span></span>
            </button>
          </div>
        )}
        {draft.order.filter((analyte) => !folded.includes(analyte)).map((analyte) => {
          const value = draft.values[analyte];
          if (analyte === open) return <OpenPad key={analyte} tub={tub} draft={draft} analyte={analyte} value={value} moved={moved} put={(v) => put(analyte, v)} />;
          return (
            <div class="pad">
              <button class="row" onClick={() => choose(analyte)}>
                <span class="hour">{value ? clock(now) : ""}</span>
                <span class="text"><span>{called(analytes[analyte]!.name)}</span>
                  {value ? <span class="value">{valueShown(value)}{value.doubt && " ?"}</span> : <span class="small">{analyte === next ? say("next-pad") : ""}</span>}</span>
              </button>
            </div>
          );
        })}
        {fault && <p class="fault" role="alert" style={{ margin: "12px 16px" }}>{fault}</p>}
      </Body>
      <div class="acts">
        <When at={draft.at} change={(at) => change({ ...draft, at })} />
        {open && <button class="key third" onClick={() => (choose(draft.order[draft.order.indexOf(open) + 1] ?? null))}>{say("skip-pad")}</button>}
        <button ref={last} class={set >= draft.order.length ? "key next" : "key"} style={set >= draft.order.length ? undefined : { gridColumn: open ? "span 4" : "1 / -1", fontWeight: 700 }}
          disabled={set === 0} onClick={log}>{set >= draft.order.length ? say("log-all") : say("log-n", { n: set, of: draft.order.length })}</button>
      </div>
    </Page>
  );
}

const AS_READ_MS = 60_000; // so long after the last pad the reading is of then

const compose = async (tub: string, pad: Draft) => entriesOf(tub, await factsOf(tub, pad), moment(pad.at));

interface Ahead { pad: Draft; at: number; drafts: Promise<Drafts | null>; asked: Promise<Answer | null> }

/** When all pads are set the entries are composed, and what will be asked back and their card worked out, ahead of LOG. Returns those entries while they are
 * fresh, and what is asked back. */
function useAhead(tub: string, pad: Draft, full: boolean): () => Promise<{ drafts: Drafts | null; asked?: Promise<Answer | null> }> {
  const made = useRef<Ahead | null>(null);
  useEffect(() => {
    if (!full || made.current?.pad === pad) return;
    const drafts = compose(tub, pad).catch(() => null); // LOG says what is refused
    const asked = drafts.then((composed) => (composed ? foresee(composed, () => made.current?.pad === pad) : null));
    asked.catch(() => {});
    made.current = { pad, at: Date.now(), drafts, asked };
  }, [pad, full]);
  useEffect(() => () => void (made.current = null), []);
  return async () => {
    const { current } = made;
    const fresh = full && current?.pad === pad && Date.now() - current.at < AS_READ_MS;
    return fresh ? { drafts: await current.drafts, asked: current.asked } : { drafts: null };
  };
}

function moment(at: number | string): Date {
  if (typeof at === "number") return new Date(Date.now() - at * 60_000);
  const [h = 0, m = 0] = at.split(":").map(Number);
  const date = new Date();
  date.setHours(h, m, 0, 0);
  if (date.getTime() > Date.now()) date.setDate(date.getDate() - 1);
  return date;
}

async function factsOf(tub: string, draft: Draft): Promise<Fact[]> {
  const sample = await newId();
  const step = (await fact<Record<string, number>>("steps")) ?? {};
  return draft.order.filter((analyte) => draft.values[analyte]).map((analyte) => {
    const value = draft.values[analyte]!;
    const number = value.form !== "unreadable";
    const fields: Field[] = [["analyte", analyte], ["form", value.form], ["instrument", draft.by], ["sample", sample]];
    if (number) fields.push(["value", value.value!], ["unit", value.unit ?? analytes[analyte]!.unit]);
    if (value.form === "between") fields.push(["high", value.high!]);
    if (value.doubt) fields.push(["doubt", value.doubt]);
    if (draft.lot) fields.push(["lot", draft.lot]);
    const scale = draft.by === "strip" ? scaleOf(tub, analyte, draft.lot).id : undefined;
    if (scale) fields.push(["scale", scale]);
    if (draft.by === "drops" && number && usesDrops(analyte)) fields.push(["step", String(step[analyte] ?? instruments.drops![analyte]!.step)]);
    if (draft.source) fields.push(["source", draft.source], ["point", "source"]);
    return { kind: "reading", fields };
  });
}

const usesDrops = (analyte: string) => instruments.drops?.[analyte]?.model === "drops";
const usesBlocks = (by: string, analyte: string) => by === "strip" && instruments.strip?.[analyte]?.model === "blocks";

/** The keys of a pad replace those of the one before: the focus goes along, once somebody has pressed one. */
function useFocusAlong(analyte: string) {
  const ref = useRef<HTMLElement>(null);
  useEffect(() => {
    if (document.activeElement === document.body && ref.current?.dataset.moved === "yes") ref.current.querySelector<HTMLElement>("button, input")?.focus();
  }, [analyte]);
  return ref;
}

function OpenPad({ tub, draft, analyte, value, moved, put }: { tub: string; draft: Draft; analyte: string; value?: Value; moved: boolean; put: (value: Value | null) => void }) {
  const ref = useFocusAlong(analyte);
  const [between, setBetween] = useState(false);
  const [doubt, setDoubt] = useState(value?.doubt ?? "");
  const withDoubt = (v: Value): Value => (doubt ? { ...v, doubt } : v);
  const blocks = usesBlocks(draft.by, analyte) ? scaleOf(tub, analyte, draft.lot).blocks : null;
  const { name: english, unit } = analytes[analyte]!;
  const name = called(english);
  const heading = (
    <div class="row">
      <div class="hour"><b>{say("now")}</b></div>
      <div class="text"><h2>{name.charAt(0) === "p" ? name : name.charAt(0).toUpperCase() + name.slice(1)}</h2>
        <span>{between ? say("between-which") : unit === "pH" || analyte === "temperature" ? "" : unit}</span></div>
    </div>
  );
  return (
    <section class="pad open" aria-label={name} ref={ref} data-moved={moved ? "yes" : "no"}>
      {heading}
      {blocks && !between && (
        <div class="keys">
          {blocks[0]! > 0 && <button class="key" onClick={() => put(withDoubt({ form: "below", value: String(blocks[0]) }))}>{say("below-n", { n: figure(blocks[0]!) })}</button>}
          {blocks.map((block) => (
            <button class="key" aria-pressed={value?.form === "value" && value.value === String(block)} onClick={() => put(withDoubt({ form: "value", value: String(block) }))}>{figure(block)}</button>
          ))}
          <button class="key" onClick={() => put(withDoubt({ form: "above", value: String(blocks[blocks.length - 1]) }))}>{say("above-n", { n: figure(blocks[blocks.length - 1]!) })}</button>
        </div>
      )}
      {blocks && between && (
        <div class="keys gaps">
          {blocks.slice(1).map((high, i) => (
            <button class="key" onClick={() => put(withDoubt({ form: "between", value: String(blocks[i]), high: String(high) }))}>
              <span class="hidden">{say("between")} </span>{figure(blocks[i]!)}<span class="gap" aria-hidden="true" /><span class="hidden"> {say("and")} </span>{figure(high)}
            </button>
          ))}
        </div>
      )}
      {!blocks && draft.by === "drops" && usesDrops(analyte) && <Drops analyte={analyte} value={value} put={(v) => put(withDoubt(v))} />}
      {!blocks && !(draft.by === "drops" && usesDrops(analyte)) && analyte === "temperature" && <Steps value={value} put={(v) => put(withDoubt(v))} />}
      {!blocks && !(draft.by === "drops" && usesDrops(analyte)) && analyte !== "temperature" && <NumberKeys name={name} value={value?.value ?? ""} put={(v) => put(withDoubt({ form: "value", value: v }))} />}
      <div class="keys" style={{ marginTop: "8px" }}>
        {blocks && <button class="key plain" aria-pressed={between} onClick={() => setBetween(!between)}>{say("between")}</button>}
        <button class={`key plain ${blocks ? "" : "wide"}`} onClick={() => put({ form: "unreadable" })}>{say("cant-read")}</button>
        <button class={`key plain ${blocks ? "" : "wide"}`} aria-pressed={doubt !== ""} onClick={() => setDoubt(doubt ? "" : "other")}>{say("doubt")}</button>
      </div>
      {doubt && <div class="keys" style={{ marginTop: "8px" }} role="group" aria-label={say("doubt-why")}>
        {(["wet", "dark", "late", "other"] as const).map((why) => <button class="key plain" style={{ gridColumn: "span 3" }} aria-pressed={doubt === why} onClick={() => setDoubt(why)}>{say(`doubt-${why}`)}</button>)}
      </div>}
    </section>
  );
}

/** Drops are counted; a drop stands for the kit's step. */
function Drops({ analyte, value, put }: { analyte: string; value?: Value; put: (value: Value) => void }) {
  const [steps, setSteps] = useFact<Record<string, number>>("steps", {});
  const usual = instruments.drops![analyte]!.step;
  const step = steps[analyte] ?? usual;
  const [count, setCount] = useState(value?.value ? Math.round(Number(value.value) / step) : 0);
  const total = +(count * step).toFixed(3);
  return (
    <>
      <p class="count"><output aria-live="polite">{count}</output> {say("drops-make", { n: figure(total), unit: analytes[analyte]!.unit })}</p>
      <div class="keys">
        <button class="key" disabled={count === 0} onClick={() => setCount(count - 1)}>−1 <span class="hidden">{say("drop")}</span></button>
        <button class="key" onClick={() => setCount(count + 1)}>+1 <span class="hidden">{say("drop")}</span></button>
        <button class="key" onClick={() => put({ form: "value", value: String(total) })}>{say("set")}</button>
        <button class="key plain" onClick={() => setCount(count + 5)}>+5</button>
        <label class="key plain" style={{ gridColumn: "span 8" }}>{say("one-drop-is")}
          <select value={step} onChange={(e) => setSteps({ ...steps, [analyte]: Number(e.currentTarget.value) })} style={{ marginLeft: "8px", minHeight: "48px" }}>
            {[...new Set([usual / 5, usual / 2.5, usual / 2, usual, usual * 2, usual * 2.5, step])].sort((a, b) => a - b).map((s) => <option value={s}>{figure(+s.toFixed(3))}</option>)}
          </select>
        </label>
      </div>
    </>
  );
}

/** Degrees by halves, in the unit of this device; a value of before keeps its own. */
function Steps({ value, put }: { value?: Value; put: (value: Value) => void }) {
  const unit = value?.value ? value.unit ?? "Cel" : oneOf("Cel", "degF");
  const [degrees, setDegrees] = useState(value?.value ? Number(value.value) : unit === "degF" ? 99 : 37);
  const sign = DEGREES[unit];
  return (
    <>
      <p class="count"><output aria-live="polite">{figure(degrees.toFixed(1))}</output> {sign}</p>
      <div class="keys">
        <button class="key" onClick={() => setDegrees(degrees - 0.5)}>−½ <span class="hidden">{sign}</span></button>
        <button class="key" onClick={() => setDegrees(degrees + 0.5)}>+½ <span class="hidden">{sign}</span></button>
        <button class="key" onClick={() => put({ form: "value", value: String(degrees), ...(unit === "Cel" ? {} : { unit }) })}>{say("set")}</button>
        <button class="key plain wide" onClick={() => setDegrees(degrees - 5)}>−5</button>
        <button class="key plain wide" onClick={() => setDegrees(degrees + 5)}>+5</button>
      </div>
    </>
  );
}

function When({ at, change }: { at: number | string; change: (at: number | string) => void }) {
  const typed = typeof at === "string";
  return (
    <div class="times" role="group" aria-label={say("when")}>
      {[0, 5, 20].map((ago) => <button class="key" aria-pressed={at === ago} onClick={() => change(ago)}>{ago === 0 ? say("now") : say("n-min", { n: ago })}</button>)}
      {typed
        ? <input class="key" type="time" aria-label={say("when")} value={at as string} onInput={(e) => change(e.currentTarget.value || 0)} />
        : <button class="key" onClick={() => change(clock(stamp(new Date())))}>{say("type")}</button>}
    </div>
  );
}

// ---- what else can be written ----------------------------------------------------------------------------------

/** Kinds of entries with a form of their own, in the order in which they are wanted. */
export const OTHER = ["addition", "setting", "bathers", "exchange", "care", "symptom", "note", "source", "volume", "plate", "stock", "part", "definition", "standard", "power-cut", "ready-by", "tub"] as const;

export function Choose({ tub }: { tub: string }) {
  const source = sourceOf(tub);
  const Reader = ({ by, of = "" }: { by: string; of?: string }) => (
    <a class="row line" href={to(tub, "log", of ? `${by}:source` : by)} onClick={() => void setFact(`pad:${tub}`, null)}><span class="hour" />
      <span class="text"><b>{say(`by-${by}` as Sentence)}{of && ` · ${of}`}</b><span class="small">{PADS[by]!.slice(0, 4).map((a) => called(analytes[a]!.name)).join(", ")}</span></span></a>
  );
  return (
    <Page title={tubName(tub)} under={say("what-to-write")} view="log" tub={tub}>
      <Body style={{ paddingTop: 0 }}>
        <h2 class="hidden">{say("read-by")}</h2>
        {READERS.map((by) => <Reader by={by} />)}
        {source && ["laboratory", "meter"].map((by) => <Reader by={by} of={source} />)}
        <h2 class="hidden">{say("write-other")}</h2>
        {OTHER.map((kind) => <a class="row line" href={to(tub, "write", kind)}><span class="hour" /><span class="text"><b>{say(`kind-${kind}` as Sentence)}</b></span></a>)}
      </Body>
    </Page>
  );
}
