// Every tub by the hour at which it wants somebody: the hour, the tub, the act, the chance behind it.
import { useEffect, useState } from "preact/hooks";
import type { Answer } from "tables";
import { clock, day, stamp } from "../lib/time";
import { to } from "../lib/route";
import { capital, say, sentenceCase, spoken } from "../lib/say";
import { Body, Head, Row, WhereKept } from "../parts/page";
import type { Tub } from "../entries";
import { known, tubs, useAnswer, useKnown } from "../state";

interface Due { tub: Tub; answer: Answer | null; working: boolean }

/** The hour at which a tub wants somebody; "" when it is stopped, or not worked out. */
function hourOf({ answer }: Due): string {
  const act = answer?.act;
  if (!act || answer.weight === "stop") return "";
  return (act.verb === "wait" ? act.until : act.verb === "none" && act.next_at ? act.next_at : answer.at) ?? "";
}

const WEIGHTS: Record<string, number> = { stop: 0, closed: 0, doubtful: 1, plain: 2 };
const weightIn = ({ answer }: Due) => WEIGHTS[answer?.weight ?? "plain"] ?? 2;

/** Stopped tubs come first and have no hour; then by hour; at one hour what is closed or in doubt, then the greater chance of harm first (what ADD and the
 * like are sure of is the chance at a limit); what is not worked out yet last. */
function order(a: Due, b: Due): number {
  const never = Number(!a.answer?.act) - Number(!b.answer?.act);
  const stopped = Number(b.answer?.weight === "stop") - Number(a.answer?.weight === "stop");
  const risk = ({ answer }: Due) => (answer?.act?.verb === "add" ? answer.act.chance ?? 0 : 0);
  return never || stopped || hourOf(a).localeCompare(hourOf(b)) || weightIn(a) - weightIn(b) || risk(b) - risk(a) || a.tub.name.localeCompare(b.tub.name);
}

export function Round() {
  useKnown();
  const [answers, setAnswers] = useState<Record<string, { answer: Answer | null; working: boolean }>>({});
  const all = tubs();
  const rows = all.map((tub): Due => ({ tub, answer: answers[tub.id]?.answer ?? null, working: answers[tub.id]?.working ?? true })).sort(order);
  const next = rows.find((due) => hourOf(due) && due.answer!.act!.verb !== "wait"); // the first that wants somebody now
  const done = rows.filter(({ answer }) => answer).length;
  return (
    <div class="page">
      <Head title={capital(say("view-round"))} under={all.length > 0 ? say("n-tubs", { n: all.length }) : ""} up={{ href: to("", "settings"), word: say("view-settings") }} />
      {all.map((tub) => <One key={tub.id} tub={tub} put={(answer, working) => setAnswers((now) => (now[tub.id]?.answer === answer && now[tub.id]?.working === working ? now : { ...now, [tub.id]: { answer, working } }))} />)}
      <Body style={{ paddingTop: 0 }}>
        {done < all.length && <Row><p class="working" role="status">{say("worked-out", { n: done, of: all.length })}</p></Row>}
        {known.ready && all.length === 0 && <First />}
        {rows.map((due) => <Line key={due.tub.id} due={due} />)}
        <Row><WhereKept /></Row>
      </Body>
      {known.ready && all.length > 0 && (
        <div class="acts">
          {next && <a class="key next" href={to(next.tub.id, "now")}>{say("go-to", { tub: next.tub.name })}</a>}
          <a class="key whole" href={to("", "new")}>{say("new-tub")}</a>
        </div>
      )}
    </div>
  );
}

/** Asks for one tub; draws nothing. */
function One({ tub, put }: { tub: Tub; put: (answer: Answer | null, working: boolean) => void }) {
  const { answer, working } = useAnswer(tub.id, "now", true);
  useEffect(() => put(answer, working), [answer, working]);
  return null;
}

function Line({ due }: { due: Due }) {
  const { tub, answer, working } = due;
  const act = answer?.act;
  const when = hourOf(due);
  const today = stamp(new Date()).slice(0, 10);
  return (
    <a class={`row line ${answer?.weight === "stop" ? "stopped" : ""}`} href={to(tub.id, "now")}>
      <span class="hour">{answer?.weight === "stop" && "–"}{when && <b>{when.slice(0, 10) === today ? clock(when) : `${day(when, spoken(), true)} ${clock(when)}`}</b>}</span>
      <span class="text">
        <b style={{ fontSize: "1.375rem", lineHeight: "2rem" }}>{tub.name}</b>
        <span class="state">{act?.chance != null && <><span class="hidden">{say("chance")} </span><b class="chance">{Math.round(act.chance * 100)} %</b></>}</span>
        <span style={{ gridColumn: "1 / -1" }}>{answer?.head ? (answer.weight === "stop" ? <b>{answer.head.text}</b> : answer.head.text) : say("working-first")}</span>
        <span class="small">{[answer?.stage && sentenceCase(answer.stage.text), answer?.state?.text, act?.chance != null ? answer?.sure?.[0]?.text : "", answer && say("as-of", { time: `${answer.at!.slice(0, 10) === today ? "" : `${day(answer.at!, spoken(), true)} `}${clock(answer.at!)}` }), working && answer ? say("working") : ""].filter(Boolean).join(" · ")}</span>
      </span>
    </a>
  );
}

/** An empty book shows the first act. */
function First() {
  return (
    <>
      <Row hour={say("now")} fixed><h2 class="act">{say("first-act")}</h2><p style={{ marginTop: "12px" }}>{say("first-why")}</p></Row>
      <div class="acts one still" style={{ border: 0, marginTop: "16px" }}><a class="key next" href={to("", "new")}>{say("new-tub")}</a></div>
    </>
  );
}
