// The handover sheet: what the next person needs, on one piece of paper. On a screen it is a page of the book; printed it fills a sheet of A4 or letter.
import type { ComponentChildren } from "preact";
import type { Answer, Said, Sentence, Spread } from "tables";
import { clock, weekday } from "../lib/time";
import { to } from "../lib/route";
import { figure, say, spoken } from "../lib/say";
import { measured } from "../lib/units";
import { shown, spreadIn } from "../parts/bracket";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { standing } from "../entries";
import { useAnswer } from "../state";

type Quantity = [key: keyof Answer, decimals: number, unit: string];

const WATER: Quantity[] = [["volume", 0, "L"], ["free_chlorine", 1, "mg/L"], ["combined_chlorine", 1, "mg/L"], ["ph", 2, ""], ["total_alkalinity", 0, "mg/L"], ["calcium_hardness", 0, "mg/L"],
  ["salt", 0, "mg/L"], ["cyanuric_acid", 0, "mg/L"], ["phosphate", 2, "mg/L"], ["temperature", 1, "°C"]];
const GENERATOR: Quantity[] = [["output", 3, "g/h"], ["loss", 1, "% / h"]];

export function Sheet({ tub }: { tub: string }) {
  const { answer, working, fault } = useAnswer(tub, "sheet");
  const water = useAnswer(tub, "water");
  const ready = answer && water.answer;
  const known: Answer = { ...water.answer?.water, ...answer };
  const proven = answer?.held?.is_held;
  return (
    <Page title={tubName(tub)} under={<><b>{answer?.stage?.text ?? say("view-sheet")}</b>{answer?.held_sentence && ` · ${answer.held_sentence.text}`}</>} view="sheet" tub={tub} weight={answer && !proven ? "thick" : weightOf(answer?.weight)} up={{ href: to(tub, "now"), word: say("view-now") }}>
      <Body class="body sheet" aria-busy={working || water.working}>
        {(fault || water.fault) && <Row><p class="fault" role="alert">{fault || water.fault}</p></Row>}
        {!ready && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {ready && (
          <>
            <Part name={say("sheet-water")}><Pairs>{WATER.map((quantity) => <Known key={quantity[0]} quantity={quantity} of={known} />)}</Pairs></Part>
            <Part name={say("put-in")}><Pairs>{answer.products?.map(({ said }) => <Product text={said!.text} />)}</Pairs></Part>
            <Part name={say("generator")}><Pairs>
              <div><dt>{say("duty-of")}</dt><dd><b class="set">{dutyOf(tub)}</b></dd></div>
              {GENERATOR.map((quantity) => <Known key={quantity[0]} quantity={quantity} of={known} />)}
            </Pairs></Part>
            <Part name={say("read-heading")}>
              {answer.hold_readings?.map((reading) => <p class="read"><span class="when">{weekday(reading.read_at!, spoken())} {clock(reading.read_at!)}</span> {reading.said?.text}{reading.lot && ` · ${reading.lot}`}</p>)}
              <p>{answer.held_sentence?.text} {answer.rules?.text}</p>
            </Part>
            <Part name={say("for-this-water")}><dl class="amounts">{answer.amounts?.map(({ said }) => <Amount text={said!.text} />)}</dl></Part>
            <Part name={say("each-week")}><Lines list={answer.weekly} /></Part>
            <Part name={say("never-add")}><Lines list={answer.never} /></Part>
            <Part name={say("close-when")} weight="double"><Lines list={answer.stop_rules} /></Part>
            <Part name={say("signed")}>
              <div class="signs"><p>{say("handed-by")}</p><p>{say("taken-by")}</p><p>{say("sign-date")}</p></div>
              <p class="small">{answer.seal_line?.text} {answer.forecast_line?.text}</p>
            </Part>
          </>
        )}
      </Body>
      {ready && <div class="acts one"><button class="key next" onClick={() => print()}>{say("print")}</button></div>}
    </Page>
  );
}

/** The duty as it was set last, %. */
function dutyOf(tub: string): string {
  const value = standing(tub, "setting").filter(({ fields }) => fields.what === "duty").pop()?.fields.value;
  return value === undefined ? say("not-known") : `${figure(value)} %`;
}

function Part({ name, weight = "", children }: { name: string; weight?: string; children: ComponentChildren }) {
  return <section class={`row part ${weight}`} aria-label={name}><div class="hour" /><div class="text"><h2>{name}</h2>{children}</div></section>;
}

const Pairs = ({ children }: { children: ComponentChildren }) => <dl class="pairs">{children}</dl>;
const Lines = ({ list }: { list?: Said[] }) => <ul class="plain-list lines">{list?.map(({ text }) => <li>{text}</li>)}</ul>;

/** "dry acid 335 g": the amount stands at the right. */
function Product({ text }: { text: string }) {
  const [, name = text, amount = ""] = /^(.*) ([\d.,]+ (?:g|kg|mL|L|oz|lb|(?:US|imp) (?:gal|fl oz)))$/.exec(text) ?? [];
  return <div><dt>{name}</dt><dd><b>{amount}</b></dd></div>;
}

/** "free chlorine up 1 mg/L: 9.7 mL hypochlorite": what for, and under it how much of what. */
function Amount({ text }: { text: string }) {
  const [, purpose = text, amount = "", name = ""] = /^(.*?): ([\d.,]+ (?:(?:US|imp) (?:fl )?)?\S+) (.*)$/.exec(text) ?? [];
  return <div><dt>{purpose}</dt><dd><b>{amount}</b> {name}</dd></div>;
}

function Known({ quantity: [key, places, has], of }: { quantity: Quantity; of: Answer }) {
  const was = of[key] as Spread | null | undefined;
  const { decimals, unit } = measured(was?.median ?? 0, has, places);
  const value = spreadIn(was, has);
  return (
    <div><dt>{say(`quantity-${key}` as Sentence)}</dt><dd>{value?.median == null ? say("not-known") : <><b>{shown(value.median, decimals)}</b>{value.low != null && value.low !== value.high && ` (${say("a-to-b", { a: shown(value.low, decimals), b: shown(value.high, decimals) })})`} {unit}</>}</dd></div>
  );
}
