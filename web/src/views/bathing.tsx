// Conditions of the named guidance: what is not met, not known, met, each with the hour of its reading. Whether anybody bathes is for a person to say.
import { analytes, type Answer } from "tables";
import { to } from "../lib/route";
import { hear, say, spoken } from "../lib/say";
import { clock, weekday } from "../lib/time";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { entryOf } from "../entries";
import { useAnswer } from "../state";

const ORDER = ["not-met", "not-known", "met"];

/** What a reading would tell: the analytes of conditions that are not met, or not known. */
const missing = (conditions: Answer[]) => conditions.filter(({ verdict }) => verdict !== "met").map(({ condition }) => condition!.id.replace("analyte-", "")).filter((analyte) => analyte in analytes);

export function Bathing({ tub }: { tub: string }) {
  const { answer, working, fault } = useAnswer(tub, "bathing");
  const conditions = [...(answer?.conditions ?? [])].sort((a, b) => ORDER.indexOf(a.verdict!) - ORDER.indexOf(b.verdict!));
  const [verdict, why] = answer?.verdict_all?.text.split(": ") ?? [];
  const wanted = missing(conditions);
  return (
    <Page title={tubName(tub)} under={answer?.rules_name?.text ?? say("under-bathing")} view="bathing" tub={tub} weight={weightOf(answer?.weight)} up={{ href: to(tub, "now"), word: say("view-now") }}>
      <Body aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer && (
          <>
            <div class={`row ${weightOf(answer.weight) === "double" ? "ends" : ""}`}>
              <div class="hour"><b>{say("now")}</b></div>
              <div class="text">{why ? <h2><span class="act stop">{verdict}<span class="hidden">: </span></span><span class="what stop">{why}</span></h2> : <h2 class="act">{verdict}</h2>}</div>
            </div>
            {conditions.map((of) => <Condition tub={tub} of={of} />)}
            {answer.retest && <Row><p><b class="lead">{say("next")}</b> {hear(answer.retest)}</p></Row>}
            <Row><p>{answer.met_is && <b>{answer.met_is.text}</b>} {answer.who_opens?.text}</p></Row>
          </>
        )}
      </Body>
      {wanted.length > 0 && <div class="acts one"><a class="key next" href={to(tub, "log", `read:${wanted.join(",")}`)}>{say("write-it")}</a></div>}
    </Page>
  );
}

function Condition({ tub, of: { verdict, verdict_said, condition, said, entry } }: { tub: string; of: Answer }) {
  const at = entryOf(tub, entry ?? "")?.fields.at;
  return (
    <div class="row line">
      <div class="hour">{at && `${weekday(at, spoken())} ${clock(at)}`}</div>
      <div class="text">
        <span>{verdict === "met" ? condition?.text : <b>{condition?.text}</b>}</span>
        <span class="state">{verdict === "met" ? verdict_said?.text : <b>{verdict_said?.text}</b>}</span>
        <span class="small">{said && hear(said)}</span>
      </div>
    </div>
  );
}
