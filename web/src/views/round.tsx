// Every tub by the hour at which it wants somebody: the hour, the tub, the act, the chance behind it.
import { useEffect, useState } from "preact/hooks";
import type { Answer } from "tables";
import { clock, day, stamp } from "../lib/time";
import { to } from "../lib/route";
import { say, sentenceCase, spoken } from "../lib/say";
import { Head, Row, WhereKept } from "../parts/page";
import { known, tubs, useAnswer, useKnown, type Tub } from "../state";

interface Due { tub: Tub; answer: Answer | null; working: boolean }

/** Stopped tubs come first and have no hour; then by hour; what is not worked out yet last. */
const order = (due: Due) => (!due.answer?.act ? "9" : due.answer.weight === "stop" ? "0" : `1${due.answer.act.verb === "wait" ? due.answer.act.until : due.answer.act.next_at ?? due.answer.at}`);

export function Round() {
  useKnown();
  const [answers, setAnswers] = useState<Record<string, { answer: Answer | null; working: boolean }>>({});
  const all = tubs();
  const rows = all.map((tub): Due => ({ tub, answer: answers[tub.id]?.answer ?? null, working: answers[tub.id]?.working ?? true })).sort((a, b) => order(a).localeCompare(order(b)));
  const done = rows.filter(({ answer }) => answer).length;
  return (
    <div class="page">
      <Head title={say("view-round")} under={all.length > 0 ? say("n-tubs", { n: all.length }) : ""} up={{ href: to("", "settings"), word: say("view-settings") }} />
      {all.map((tub) => <One key={tub.id} tub={tub} put={(answer, working) => setAnswers((now) => (now[tub.id]?.answer === answer && now[tub.id]?.working === working ? now : { ...now, [tub.id]: { answer, working } }))} />)}
      <main class="body" style={{ paddingTop: 0 }}>
        {done < all.length && <Row><p class="working" role="status">{say("worked-out", { n: done, of: all.length })}</p></Row>}
        {known.ready && all.length === 0 && <First />}
        {rows.map((due) => <Line key={due.tub.id} due={due} />)}
        <Row><WhereKept /></Row>
      </main>
      {known.ready && all.length > 0 && <div class="acts one"><a class="key whole" href={to("", "new")}>{say("new-tub")}</a></div>}
    </div>
  );
}

/** Asks for one tub; draws nothing. */
function One({ tub, put }: { tub: Tub; put: (answer: Answer | null, working: boolean) => void }) {
  const { answer, working } = useAnswer(tub.id, "now", true);
  useEffect(() => put(answer, working), [answer, working]);
  return null;
}

function Line({ due: { tub, answer, working } }: { due: Due }) {
  const act = answer?.act;
  const when = act && answer.weight !== "stop" ? (act.verb === "wait" ? act.until : act.next_at && act.verb === "none" ? act.next_at : answer.at) : "";
  const today = stamp(new Date()).slice(0, 10);
  return (
    <a class="row line" href={to(tub.id, "now")}>
      <span class="hour">{when && <b>{when.slice(0, 10) === today ? clock(when) : `${day(when, spoken(), true)} ${clock(when)}`}</b>}</span>
      <span class="text">
        <b style={{ fontSize: "1.375rem", lineHeight: "2rem" }}>{tub.name}</b>
        <span class="state">{act?.chance != null ? say("chance-n", { n: Math.round(act.chance * 100) }) : ""}</span>
        <span style={{ gridColumn: "1 / -1" }}>{answer?.head ? (answer.weight === "stop" ? <b>{answer.head.text}</b> : answer.head.text) : say("working-first")}</span>
        <span class="small">{[answer?.stage && sentenceCase(answer.stage.text), answer?.state?.text, answer && say("as-of", { time: `${answer.at!.slice(0, 10) === today ? "" : `${day(answer.at!, spoken(), true)} `}${clock(answer.at!)}` }), working && answer ? say("working") : ""].filter(Boolean).join(" · ")}</span>
      </span>
    </a>
  );
}

/** An empty book shows the first act. */
function First() {
  return (
    <>
      <Row hour={say("now")} fixed><h2 class="act">{say("first-act")}</h2><p style={{ marginTop: "12px" }}>{say("first-why")}</p></Row>
      <div class="acts one" style={{ position: "static", border: 0, marginTop: "16px" }}><a class="key next" href={to("", "new")}>{say("new-tub")}</a></div>
    </>
  );
}
