// What is held and what stands fixed: products and parts, source water with what was read of it, the set-up of the tub. As it was written, with a way to write more.
import type { Answer, Sentence } from "tables";
import { day } from "../lib/time";
import { to } from "../lib/route";
import { say, spoken } from "../lib/say";
import { Dated } from "../parts/dated";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { entryOf } from "../entries";
import { useAnswer } from "../state";

/** Kinds of entries that a view shows, in their order; what can be written from it. */
export const THINGS: Record<string, string[]> = { parts: ["stock", "part"], waters: ["source"], "set-up": ["tub", "plate", "volume", "definition"] };

const fieldsOf = (tub: string, { entry }: Answer) => entryOf(tub, entry!)?.fields ?? {};

export function Things({ tub, view }: { tub: string; view: string }) {
  const { answer, working, fault } = useAnswer(tub, "tub");
  const log = useAnswer(tub, "logbook");
  const kinds = THINGS[view]!;
  const readings = view === "waters" ? (log.answer?.entries ?? []).filter((reading) => !reading.voided && fieldsOf(tub, reading).kind === "reading" && fieldsOf(tub, reading).source) : [];
  return (
    <Page title={tubName(tub)} under={say(`view-${view}` as Sentence)} view={view} tub={tub} weight={weightOf(answer?.weight)} up={{ href: to(tub, "more"), word: say("more") }}>
      <Body aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer && kinds.map((kind) => <Kind tub={tub} kind={kind} list={answer.described?.filter((described) => fieldsOf(tub, described).kind === kind) ?? []} />)}
        {readings.length > 0 && (
          <>
            <Row><h2>{say("read-of-it")}</h2></Row>
            <Dated list={readings.map((reading) => ({ at: reading.entry_at, text: reading.said?.text ?? "" }))} />
          </>
        )}
        {view === "waters" && <Row><a class="key" href={to(tub, "log", "choose")}>{say("read-source")}</a></Row>}
      </Body>
    </Page>
  );
}

function Kind({ tub, kind, list }: { tub: string; kind: string; list: Answer[] }) {
  return (
    <>
      <Row><h2>{say(`kind-${kind}` as Sentence)}</h2>{list.length === 0 && <p class="small">{say("empty-logbook")}</p>}</Row>
      {list.map((described) => (
        <div class="row line">
          <div class="hour">{day(described.written_at!, spoken())}</div>
          <ul class="text plain-list">{described.fields?.map(({ field_said }) => <li>{field_said?.text}</li>)}</ul>
        </div>
      ))}
      <Row><a class="key" href={to(tub, "write", kind)}>{say("write-kind", { kind: say(`kind-${kind}` as Sentence) })}</a></Row>
    </>
  );
}
