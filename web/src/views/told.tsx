// Views that are sentences of the core in their order: why, worth, ahead, plan. What stands where is data.
import type { Answer, Said, Sentence, Spread } from "tables";
import { clock, day } from "../lib/time";
import { to } from "../lib/route";
import { figure, hear, say, spoken } from "../lib/say";
import { measured } from "../lib/units";
import { amountShown } from "../parts/amount";
import { shown, spreadIn } from "../parts/bracket";
import { Dated } from "../parts/dated";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { useAnswer } from "../state";

const isSaid = (value: unknown): value is Said => typeof value === "object" && value !== null && "text" in value && "id" in value;

/** Sentences in an item of a list, in the order of its keys; where they come from in small. */
function Item({ item }: { item: Answer | Said }) {
  if (isSaid(item)) return <li>{hear(item)}</li>;
  const said = Object.entries(item).filter((pair): pair is [string, Said] => isSaid(pair[1]));
  const from = said.filter(([key]) => key.endsWith("_from")).map(([, words]) => hear(words));
  return <li>{timed(item)}{said.filter(([key]) => !key.endsWith("_from")).map(([, words]) => hear(words)).join(" ")}{from.length > 0 && <span class="small whence">{from.join(" ")}</span>}</li>;
}

/** Keys that are shown, with the word that leads them; a key of a list is a list of sentences. */
type Part = [key: keyof Answer, lead?: Sentence];

const PARTS: Record<string, Part[]> = {
  worth: [["decision_said"], ["worth_first"], ["worths", "tests"], ["trial_heading"], ["trial_said"], ["trial_instead"]],
  ahead: [["drain_said"], ["drain_rules", "rules"], ["cell_heading"], ["cell_assumed"], ["cell_now_said"], ["cell_beyond_said"], ["cell_fall_said"], ["cell_until_said"], ["cell_order"],
    ["cell_not_varied", "not-varied"], ["cell_hours_said"]],
  plan: [["course_first", "first"], ["course_said"], ["course_free_said"], ["ready_said", "ready"], ["other_said", "other-way"], ["needs_said", "take-along"]],
  why: [["head"], ["rule", "rule"], ["effect"], ["source", "source"], ["because", "because"], ["why", "why"], ["label_beside", "label"], ["would_change", "would-change"]],
};

function Told({ part: [key, lead], answer }: { part: Part; answer: Answer }) {
  const value = answer[key] as Said | (Answer | Said)[] | undefined;
  if (!value) return null;
  if (isSaid(value)) return <Row><p>{lead && <b class="lead">{say(lead)}</b>} {key === "course_said" || key === "head" || key === "worth_first" || key === "drain_said" ? <b>{value.text}</b> : value.text}</p></Row>;
  if (!Array.isArray(value) || value.length === 0) return null;
  return <Row>{lead && <h2>{say(lead)}</h2>}<ul class="plain-list apart">{value.map((item) => <Item item={item} />)}</ul></Row>;
}

const timed = (item: Answer) => (item.read_at ? `${day(item.read_at, spoken())} ${clock(item.read_at)} ` : "");

export function ToldView({ tub, view }: { tub: string; view: string }) {
  const { answer, working, fault } = useAnswer(tub, view);
  return (
    <Page title={tubName(tub)} under={say(`under-${view}` as Sentence)} view={view} tub={tub} weight={weightOf(answer?.weight)} up={{ href: to(tub, "now"), word: say("view-now") }}>
      <Body aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer && view === "why" && <Reduction answer={answer} />}
        {answer && PARTS[view]!.map((part) => <Told part={part} answer={answer} />)}
        {answer && view === "plan" && answer.visits?.map((visit) => (
          <Row hour={visit.visit_at ? clock(visit.visit_at) : ""} fixed>
            <h2>{visit.visit_head?.text}</h2>
            <ul class="plain-list">{[...(visit.pours_said ?? []), ...(visit.moves ?? [])].map(({ text }) => <li>{text}</li>)}</ul>
            {visit.bound_said && <p class="small">{visit.bound_said.text}</p>}
          </Row>
        ))}
      </Body>
    </Page>
  );
}

const KNOWN: [keyof Answer, number, string][] = [["volume", 0, "L"], ["ph", 2, ""], ["total_alkalinity", 0, "mg/L"], ["calcium_hardness", 0, "mg/L"], ["salt", 0, "mg/L"], ["free_chlorine", 1, "mg/L"],
  ["cyanuric_acid", 0, "mg/L"], ["temperature", 1, "°C"], ["loss", 1, "% / h"], ["output", 3, "g/h"]];

function spread(was: Spread, places: number, of: string): string {
  const { decimals, unit } = measured(was.median ?? 0, of, places);
  const value = spreadIn(was, of)!;
  return `${shown(value.median, decimals)}${value.low == null || value.low === value.high ? "" : ` (${say("a-to-b", { a: shown(value.low, decimals), b: shown(value.high, decimals) })})`}${unit ? ` ${unit}` : ""}`;
}

function Table({ of }: { of: Answer }) {
  return <table><tbody>{KNOWN.map(([key, decimals, unit]) => of[key] && <tr><th scope="row">{say(`quantity-${key}` as Sentence)}</th><td>{spread(of[key] as Spread, decimals, unit)}</td></tr>)}</tbody></table>;
}

const SIGNS: Record<string, string> = { times: "×", over: "÷", equals: "=" };

/** A figure with as many digits as it is known to, cut at its decimal point. */
function cut(value: number): [string, string] {
  const size = Math.abs(value);
  const [whole, part] = value.toFixed(size >= 1000 ? 0 : size >= 20 ? 1 : 2).replace("-", "−").split(".");
  return [whole!, part ? figure(`.${part}`) : ""];
}

/** The amount as a surveyor reduces it: operators in the margin, figures on the decimal point, the result twice underlined. */
function Terms({ terms, chance }: { terms: Answer[]; chance?: Answer }) {
  const last = terms[terms.length - 1]!;
  return (
    <section class="terms" aria-label={say("reduction")}>
      {terms.map(({ term_sign: sign, term, term_unit: unit, term_said }) => {
        const [whole, part] = cut(term!);
        return (
          <div class={`row ${sign === "equals" ? "sum" : ""}`}>
            <div class="hour"><b aria-label={sign && say(`sign-${sign}` as Sentence)}>{SIGNS[sign!] ?? ""}</b></div>
            <p class="text"><b class="whole">{whole}</b><b class="fraction">{part}</b><span>{unit} {term_said && <span class="small">{term_said.text}</span>}</span></p>
          </div>
        );
      })}
      <Row><p class="result"><b>{amountShown(last.term!, last.term_unit!)}</b></p>{chance && <p class="small">{chance.limit?.text}: {chance.limit_chance?.text}</p>}</Row>
    </section>
  );
}

/** What the answer rests on, what is known, what comes after, and the chance at each limit: as a surveyor reduces a line. */
function Reduction({ answer }: { answer: Answer }) {
  const after: [keyof Answer, keyof Answer, number][] = [["ph", "after_ph", 2], ["total_alkalinity", "after_alkalinity", 0], ["salt", "after_salt", 0], ["free_chlorine", "after_chlorine", 1]];
  return (
    <>
      {answer.terms && <Terms terms={answer.terms} chance={answer.limits?.[0]} />}
      <Row><h2>{say("rests-on-readings")}</h2></Row>
      <Dated list={(answer.inputs ?? []).map(({ read_at, said }) => ({ at: read_at, text: said?.text ?? "" }))} />
      <Row><h2>{say("known")}</h2><Table of={answer.known ?? {}} /></Row>
      {answer.after && after.some(([, key]) => answer.after![key]) && <Row><h2>{say("after")}</h2><table><tbody>{after.map(([name, key, decimals]) => answer.after![key] &&
        <tr><th scope="row">{say(`quantity-${name}` as Sentence)}</th><td>{spread(answer.after![key] as Spread, decimals, "")}</td></tr>)}</tbody></table></Row>}
      {answer.limits && answer.limits.length > 0 && <Row><h2>{say("limits")}</h2><table><tbody>{answer.limits.map(({ limit, limit_chance }) =>
        <tr><th scope="row">{limit?.text}</th><td>{limit_chance?.text}</td></tr>)}</tbody></table></Row>}
    </>
  );
}

export const TOLD = Object.keys(PARTS);
