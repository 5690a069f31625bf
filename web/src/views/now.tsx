// The card: one act, or the reason for none.
import { useState } from "preact/hooks";
import { analytes, substances, type Answer, type Said } from "tables";
import type { Field } from "../core/module";
import { clock, instant, stamp, weekday } from "../lib/time";
import { to } from "../lib/route";
import { called, figure, hear, say, sentenceCase, spoken } from "../lib/say";
import { amountIn, typedIn } from "../lib/units";
import { amountShown } from "../parts/amount";
import { Logged } from "../parts/logged";
import { Body, Page, Para, Row, tubName, weightOf } from "../parts/page";
import { RefusedOf } from "../parts/refused";
import { Reply } from "../parts/reply";
import { Cleared, Steps, stepsOf, useTicks, type Ticks } from "../parts/steps";
import { standing } from "../entries";
import { keptCards, useAnswer, useClock, write, type Fact } from "../state";

const sentences = (list?: Said[]) => list?.map(hear).join(" ");

/** "ADD" apart from the amount, which is read at arm's length; else the act in its own words. */
function Act({ card }: { card: Answer }) {
  const { verb, substance, amount, amount_unit } = card.act!;
  const known = substance ? substances[substance] : undefined;
  if (card.act!.setting === "duty" && card.act!.setting_value != null)
    return <h2 class="act">{say("verb-nothing")}<br />{say("verb-duty")} <span class="amount">{Math.round(card.act!.setting_value * 100)} %</span></h2>;
  const [stop, why] = card.weight === "stop" ? card.head!.text.split(": ") : [];
  if (stop && why) return <h2><span class="act stop">{stop}<span class="hidden">: </span></span><span class="what stop">{why}</span></h2>;
  if (verb !== "add" || amount == null) return <h2 class="act">{card.head!.text}</h2>;
  const [plain, chemical] = named(known ? called(known.plain) : substance ?? "");
  return (
    <>
      <h2 class="act">{say("verb-add")} <span class="amount">{amountShown(amount, amount_unit!)}</span></h2>
      <p class="what">{plain}</p>
      {chemical && <p class="small">{chemical}</p>}
    </>
  );
}

/** "dry acid (sodium bisulfate, 93 %)": what people call it, and the chemist's name. */
function named(plain: string): [string, string] {
  const [, first = plain, second = ""] = /^(.*?) \((.*)\)$/.exec(plain) ?? [];
  return [first, second];
}

const COUNTED_S = 6 * 3600; // a longer wait has its hour alone

/** The wait, counted down: by the second, or by the minute where motion is to be spared. */
function Countdown({ until }: { until: string }) {
  const calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const seconds = (instant(until) - useClock(true).getTime()) / 1000;
  const left = Math.max(0, calm ? Math.ceil(seconds / 60) * 60 : Math.round(seconds));
  if (left === 0) return null;
  const [h, m, s] = [Math.floor(left / 3600), Math.floor(left / 60) % 60, left % 60];
  return (
    <p class="act" role="timer" aria-live="off">
      <span class="amount">{h > 0 ? say("left-h", { h, m }) : say("left-m", { m })}</span>{h === 0 && !calm && <span class="seconds">{s} s</span>}
    </p>
  );
}

/** The wait in the margin: past grey, rest hatched, and "now" sinks through it. */
function WaitMargin({ from, until }: { from: string; until: string }) {
  const now = useClock(true).getTime();
  const [begin, end] = [instant(from), instant(until)];
  if (!(now >= begin && now < end)) return null;
  const gone = `${((now - begin) / (end - begin)) * 100}%`;
  return (
    <div class="wait" aria-hidden="true">
      <span class="from">{clock(from)}</span>
      <div class="bar"><div class="gone" style={{ height: gone }} /><div class="rest" /></div>
      <b class="sinks" style={{ top: gone }}>{say("now")}</b>
      <b class="until">{clock(until)}</b>
    </div>
  );
}

/** When the wait began: with the last thing that was added, or done. */
function begun(tub: string, at: string): string {
  const before = standing(tub).filter(({ fields }) => ["addition", "response", "exchange"].includes(fields.kind!) && fields.at! <= at).map(({ fields }) => fields.at!);
  return before.sort((a, b) => instant(a) - instant(b)).pop() ?? at;
}

function whenShown(time: string, now: string): string {
  return time.slice(0, 10) === now.slice(0, 10) ? clock(time) : `${weekday(time, spoken())} ${clock(time)}`;
}

export function Now({ tub }: { tub: string }) {
  const { answer, working, fault } = useAnswer(tub, "now");
  const name = tubName(tub);
  if (!answer)
    return (
      <Page title={name} view="now" tub={tub}>
        <Body><Row hour={say("now")} fixed>{fault ? <p class="fault" role="alert">{fault}</p> : <p class="working" role="status">{say("working-first")}</p>}</Row></Body>
      </Page>
    );
  return <Card tub={tub} name={name} card={answer} working={working} />;
}

function Card({ tub, name, card, working }: { tub: string; name: string; card: Answer; working: boolean }) {
  const act = card.act;
  const weight = weightOf(card.weight);
  const [ticks, setTicks] = useTicks(tub, card);
  const waits = act?.verb === "wait" && act.until ? act.until : "";
  const counted = waits !== "" && instant(waits) - instant(card.at!) < COUNTED_S * 1000;
  const later = act && act.next_at && act.next_at > card.at! ? act.next_at : "";
  const stage = [card.stage?.text, card.state?.text].filter(Boolean).map((text) => sentenceCase(text!)).join(" · ");
  return (
    <Page title={name} under={stage} view="now" tub={tub} weight={weight}>
      <Body aria-busy={working}>
        <Logged tub={tub} waits={working} />
        {working && <Row><p class="working" role="status">{say("working")}</p></Row>}
        <Age card={card} />
        <div class={`row ${weight === "double" ? "ends" : ""}`}>
          <div class="hour">{waits ? <WaitMargin from={begun(tub, card.at!)} until={waits} /> : <b>{say("now")}</b>}</div>
          <div class={waits ? "text waits" : "text"}>
            <div aria-live="polite">{counted ? <h2 class="act">{say("verb-wait")}</h2> : <Act card={card} />}</div>
            {counted && <><Countdown until={waits} /><p class="what">{say("until-n", { time: whenShown(waits, card.at!) })}</p></>}
          </div>
        </div>
        <RefusedOf tub={tub} />
        {card.hint && <Row><Para>{hear(card.hint)}</Para></Row>}
        <Reasons lead={say("not-proven-because")} list={card.not_proven_because} />
        <Reasons lead={say("because")} list={card.because} />
        <Section lead={say("first")} list={card.first} />
        {act?.questions ? null : <Section lead={say("how")} list={card.how} />}
        <Section lead={say("then")} list={card.then} />
        <Section lead={say("next")} list={card.next} hour={later && whenShown(later, card.at!)} fixed />
        <Section lead={say("why")} list={card.why} />
        {card.sure && <Row><Para lead={say("sure")}>{sentences(card.sure)} <a class="touch" href={to(tub, "why")}>{say("why-link")}</a></Para></Row>}
        {stepsOf(card).length > 0 ? <Steps card={card} ticks={ticks} setTicks={setTicks} /> : <Section lead={say("until-then")} list={card.lift} />}
        <Section lead={say("caution")} list={card.cautions} />
        <Section lead={say("meanwhile")} list={card.meanwhile} />
        {card.unwritten?.map((row) => row.unwritten_said && <Row><Para lead={say("may-be")}>{row.unwritten_said.text} {row.unwritten_settle?.text}</Para></Row>)}
        {card.withheld && <Row><Para>{card.withheld.text}</Para></Row>}
        <Row><p class="small links">{!card.sure && <a class="touch" href={to(tub, "why")}>{say("why-link")}</a>}<a class="touch" href={to(tub, "more")}>{say("more")}</a></p></Row>
      </Body>
      {act && <Answers tub={tub} card={card} ticks={ticks} key={act.advice} />}
    </Page>
  );
}

/** A card of before says of which hour it is. */
function Age({ card }: { card: Answer }) {
  const now = stamp(useClock());
  return instant(now) - instant(card.at!) < 2 * 60_000 ? null : <Row><p class="small">{say("as-of", { time: whenShown(card.at!, now) })}</p></Row>;
}

function Section({ lead, list, hour, fixed }: { lead: string; list?: Said[]; hour?: string; fixed?: boolean }) {
  return list && list.length > 0 ? <Row hour={hour} fixed={fixed}><Para lead={lead}>{sentences(list)}</Para></Row> : null;
}

function Reasons({ lead, list }: { lead: string; list?: Said[] }) {
  if (!list || list.length === 0) return null;
  return (
    <Row>
      <p class="reasons-lead"><b>{lead}</b></p>
      <ol class="reasons">{list.map((said) => <li>{hear(said)}</li>)}</ol>
    </Row>
  );
}

// ---- answering the card -------------------------------------------------------------------------------------

const factsOf = (list: Answer[]): Fact[] => list.map(({ kind, fields }) => ({ kind: kind!, fields: fields!.map(({ field, value }): Field => [field!, value!]) }));

/** What the card's response is when it came out so. */
function respond(card: Answer, outcome: string, more: Field[] = []): Fact {
  const [response] = factsOf([card.act!.response!]);
  return { ...response!, fields: [...response!.fields, ["outcome", outcome], ...more] };
}

function Answers({ tub, card, ticks }: { tub: string; card: Answer; ticks: Ticks }) {
  const [asked, ask] = useState<"" | "differently" | "not-done">("");
  const [fault, setFault] = useState("");
  const [busy, setBusy] = useState(false);
  const act = card.act!;
  async function put(facts: Fact[]): Promise<void> {
    setBusy(true);
    try {
      await write(tub, facts);
      ask("");
    } catch (refused) {
      setFault((refused as Error).message);
    }
    setBusy(false);
  }
  const questions = act.questions?.map(({ reply_to }) => reply_to!) ?? lifts(card);
  if (stepsOf(card).length > 0) return <Cleared card={card} ticks={ticks} question={questions[0]!} put={put} fault={fault} busy={busy} />;
  if (questions.length > 0) return <Reply questions={questions} put={put} fault={fault} only={act.questions ? undefined : "yes"} />;
  if (!act.response) return act.verb === "wait" ? <Waiting tub={tub} /> : null;
  if (asked === "differently") return <Differently card={card} put={put} fault={fault} back={() => ask("")} />;
  if (asked === "not-done") return <NotDone put={(outcome, reason) => put([respond(card, outcome, [["reason", reason]])])} fault={fault} back={() => ask("")} />;
  const dose = act.verb === "add" || act.done?.some(({ kind }) => kind === "addition");
  return (
    <div class={`acts ${act.done_enough ? "" : "one"}`}>
      {fault && <p class="fault key whole" role="alert">{fault}</p>}
      {act.done_enough
        ? <button class="key next" disabled={busy} onClick={() => put([...factsOf(act.done ?? []), respond(card, "done")])}>{act.verb === "ask" ? say("yes") : act.setting === "duty" && act.setting_value != null ? say("duty-done", { n: Math.round(act.setting_value * 100) }) : say("done")}</button>
        : <a class="key next" href={to(tub, "log", whatToWrite(card))}>{say("write-it")}</a>}
      {dose && <button class="key" disabled={busy} onClick={() => ask("differently")}>{say("done-differently")}</button>}
      <button class={dose ? "key" : "key whole"} disabled={busy} onClick={() => ask("not-done")}>{say("not-done")}</button>
    </div>
  );
}

/** While this tub waits: another that wants somebody, and what may be written all the same. */
function Waiting({ tub }: { tub: string }) {
  const other = keptCards().find(({ tub_id, act, weight }) => tub_id !== tub && act && weight !== "stop" && act.verb !== "wait" && act.verb !== "none");
  return (
    <div class="acts">
      {other && <a class="key next two" href={to(other.tub_id!, "now")}><span>{say("meanwhile-at", { tub: other.tub! })}</span><span class="small">{other.head?.text}</span></a>}
      <a class="key" href={to(tub, "log")}>{say("test-anyway")}</a>
      <a class="key" href={to(tub, "write", "addition")}>{say("added-something")}</a>
    </div>
  );
}

/** Replies that lift a stop, or confirm what readings put in question. */
function lifts(card: Answer): string[] {
  const act = card.act!.act_id!;
  const lift = card.lift?.map(({ id }) => id) ?? [];
  if (act === "check-pour") return ["amount-right"];
  if (act === "check-volume") return ["volume-right"];
  if (act.startsWith("clear-")) return [`${act.slice(6)}-cleared`];
  if (lift.includes("lift-illness")) return ["authority-cleared"];
  return lift.includes("lift-trip") ? ["trip-cleared"] : [];
}

/** The part of the entry pad that a card leads to. */
function whatToWrite(card: Answer): string {
  const id = card.act!.act_id!;
  if (id === "fill" || id === "calcium-pad") return "filled";
  if (id === "ask-source") return "source";
  if (id === "ask-plate" || id === "ask-output") return "plate";
  const tests = card.act!.tests!.map(({ analyte }) => analyte!).filter((analyte) => analyte in analytes);
  return tests.length > 0 ? `read:${tests.join(",")}${id === "test-source" ? ":source" : ""}` : "";
}

function Differently({ card, put, fault, back }: { card: Answer; put: (facts: Fact[]) => void; fault: string; back: () => void }) {
  const act = card.act!;
  const planned = act.done?.find(({ kind }) => kind === "addition")?.fields ?? [];
  const value = (name: string) => planned.find(({ field }) => field === name)?.value ?? "";
  const [amount, setAmount] = useState("");
  const was = value("amount_unit");
  const { word: unit, label } = typedIn(was);
  function submit(event: Event): void {
    event.preventDefault();
    const facts = factsOf(act.done ?? []).map((fact) =>
      fact.kind === "addition" ? { ...fact, fields: fact.fields.map(([name, planned]): Field => [name, name === "amount" ? amount : name === "amount_unit" ? unit : planned]) } : fact);
    put([...facts, respond(card, "done-differently", [["amount", amount], ["amount_unit", unit]])]);
  }
  return (
    <form class="acts" onSubmit={submit}>
      {fault && <p class="fault key whole" role="alert">{fault}</p>}
      <label class="field" style={{ gridColumn: "1 / -1", margin: 0 }}>{say("how-much", { unit: label, planned: unit === was ? figure(value("amount")) : amountIn(Number(value("amount")), was, 1) })}
        <input autoFocus inputMode="decimal" required value={amount} onInput={(e) => setAmount(e.currentTarget.value)} />
      </label>
      <button class="key next">{say("log-it")}</button>
      <button type="button" class="key whole" onClick={back}>{say("back")}</button>
    </form>
  );
}

const WHY_NOT = ["couldnt", "later", "not-done"] as const;

function NotDone({ put, fault, back }: { put: (outcome: string, reason: string) => void; fault: string; back: () => void }) {
  const [reason, setReason] = useState("");
  return (
    <div class="acts">
      {fault && <p class="fault key whole" role="alert">{fault}</p>}
      <label class="field" style={{ gridColumn: "1 / -1", margin: 0 }}>{say("why-not")}
        <input autoFocus maxLength={200} value={reason} onInput={(e) => setReason(e.currentTarget.value)} />
      </label>
      {WHY_NOT.map((outcome) => <button class="key third" onClick={() => put(outcome, reason || say(`outcome-${outcome}`))}>{say(`outcome-${outcome}`)}</button>)}
      <button class="key whole" onClick={back}>{say("back")}</button>
    </div>
  );
}
