// The book turned ahead: hours down the margin, mg/L across. The gap between the median and the generator's own part is the proof.
import { useState } from "preact/hooks";
import type { Answer } from "tables";
import { clock, day } from "../lib/time";
import { say, spoken } from "../lib/say";
import { Page, Row, tubName, weightOf } from "../parts/page";
import { standing, useAnswer } from "../state";

interface Plan { duty: number | null; bathers: number; hours: number }

/** The question of a plan: everything as it is, or another duty, or people tonight. */
function asked({ duty, bathers, hours }: Plan): string {
  const items = [duty != null ? `0h:duty=${duty}%` : "", bathers > 0 ? `8h:bathers=${bathers}x60` : ""].filter(Boolean);
  return `forecast hours=${hours} step=2${items.length > 0 ? ` plan=${items.join(";").replace(/%/g, "")}` : ""}`;
}

export function Forecast({ tub }: { tub: string }) {
  const [plan, setPlan] = useState<Plan>({ duty: null, bathers: 0, hours: 48 });
  const { answer, working, fault } = useAnswer(tub, asked(plan));
  const [table, setTable] = useState(false);
  const now = Math.round(Number(standing(tub, "setting").filter(({ fields }) => fields.what === "duty").pop()?.fields.value ?? 0));
  const duty = plan.duty ?? now;
  const step = (by: number) => setPlan({ ...plan, duty: Math.min(100, Math.max(0, Math.round((duty + by) / 5) * 5)) });
  const hours = (answer?.hours ?? []).filter(({ fc }) => fc);
  return (
    <Page title={tubName(tub)} under={say("under-forecast")} view="forecast" tub={tub} weight={weightOf(answer?.weight)}>
      <main class="body" aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer?.sentence && <Row hour={say("now")} fixed><p class="what">{answer.sentence.text}</p></Row>}
        {answer?.withheld && <Row><p>{answer.withheld.text}</p></Row>}
        {answer?.head && <Row><p class="what">{answer.head.text}</p></Row>}
        <Row>
          <div role="group" aria-label={say("what-if")} style={{ display: "grid", gap: "8px", gridTemplateColumns: "1fr 60px 60px" }}>
            <span style={{ alignSelf: "center" }}>{say("duty-n", { n: duty })}{plan.duty != null && plan.duty !== now ? ` (${say("now-n", { n: now })})` : ""}</span>
            <button class="key" style={{ gridColumn: "auto" }} aria-label={say("less-duty")} onClick={() => step(-5)}>−</button>
            <button class="key" style={{ gridColumn: "auto" }} aria-label={say("more-duty")} onClick={() => step(5)}>+</button>
            <span style={{ alignSelf: "center" }}>{say("guests-n", { n: plan.bathers })}</span>
            <button class="key" style={{ gridColumn: "auto" }} aria-label={say("fewer-guests")} onClick={() => setPlan({ ...plan, bathers: Math.max(0, plan.bathers - 1) })}>−</button>
            <button class="key" style={{ gridColumn: "auto" }} aria-label={say("more-guests")} onClick={() => setPlan({ ...plan, bathers: Math.min(20, plan.bathers + 1) })}>+</button>
          </div>
        </Row>
        {answer?.duty_said && <Row><p>{answer.duty_said.text} {answer.duty_use_said?.text}</p></Row>}
        {hours.length > 0 && <Row><button class="touch" aria-pressed={table} onClick={() => setTable(!table)}>{table ? say("as-drawing") : say("as-table")}</button></Row>}
        {hours.length > 0 && (table ? <Table hours={hours} /> : <Fan hours={hours} sentence={answer?.sentence?.text ?? ""} />)}
        {answer?.held_sentence && <Row><p><b class="lead">{say("held")}</b> {answer.held_sentence.text} {answer.rules?.text}</p></Row>}
        {answer?.power_cut_said && <Row><p>{answer.power_cut_said.text}</p></Row>}
        <div class="times" role="group" aria-label={say("how-far")} style={{ padding: "12px 16px 0" }}>{[24, 48, 168, 336].map((h) => <button class="key" aria-pressed={plan.hours === h} onClick={() => setPlan({ ...plan, hours: h })}>{h < 72 ? say("n-h", { n: h }) : say("n-days", { n: h / 24 })}</button>)}</div>
      </main>
    </Page>
  );
}

const LINE = 22; // px an hour of the chart

function Fan({ hours, sentence }: { hours: Answer[]; sentence: string }) {
  const width = 300;
  const top = 26;
  const most = Math.max(4, ...hours.map(({ fc }) => fc!.high ?? 0));
  const until = Math.ceil(most / 2) * 2;
  const x = (mgl: number | null | undefined) => ((mgl ?? 0) / until) * (width - 24) + 8;
  const y = (i: number) => top + i * LINE;
  const height = y(hours.length - 1) + 16;
  const path = (pick: (row: Answer) => number | null | undefined) => hours.map((row, i) => `${i ? "L" : "M"}${x(pick(row)).toFixed(1)} ${y(i)}`).join("");
  const between = (low: (row: Answer) => number | null | undefined, high: (row: Answer) => number | null | undefined) =>
    `${path(low)}${hours.map((_, i) => `L${x(high(hours[hours.length - 1 - i]!)).toFixed(1)} ${y(hours.length - 1 - i)}`).join("")}Z`;
  const every = Math.max(1, Math.round(hours.length / 12));
  const end = hours[hours.length - 1]!;
  const proof = (end.fc!.median ?? 0) - (end.fc_made?.median ?? 0);
  return (
    <figure>
    <div class="row" role="img" aria-label={`${sentence} ${say("fan-spoken")}`}>
      <div class="hour" style={{ position: "relative" }} aria-hidden="true">
        {hours.map((row, i) => (i % every === 0 ? <span style={{ position: "absolute", right: "13px", top: `calc(${(y(i) / height) * 100}% - 10px)` }}>{i === 0 || clock(row.entry_at!) < "02:00" ? `${day(row.entry_at!, spoken())} ` : ""}{clock(row.entry_at!)}</span> : null))}
      </div>
      <div class="text">
        <svg class="chart" viewBox={`0 0 ${width} ${height}`}>
          {Array.from({ length: until / 2 + 1 }, (_, i) => i * 2).map((mgl) => (
            <g><line x1={x(mgl)} x2={x(mgl)} y1={top - 6} y2={height} stroke="var(--hair)" stroke-width="1" /><text x={x(mgl)} y="12" text-anchor="middle">{mgl}{mgl === until ? " mg/L" : ""}</text></g>
          ))}
          <path d={between((r) => r.fc!.low, (r) => r.fc!.high)} fill="var(--fan90)" />
          <path d={between((r) => r.fc_q25, (r) => r.fc_q75)} fill="var(--fan50)" />
          <path d={path((r) => r.fc_made?.median)} fill="none" stroke="var(--ink)" stroke-width="1.8" stroke-dasharray="6 4" />
          <path d={path((r) => r.fc!.median)} fill="none" stroke="var(--ink)" stroke-width="2.5" />
          {proof > 0.15 && (
            <g><path d={`M${x(end.fc_made?.median)} ${height - 12}V${height - 6}H${x(end.fc!.median)}V${height - 12}`} fill="none" stroke="var(--ink)" stroke-width="2" />
              <text class="halo" x={(x(end.fc_made?.median) + x(end.fc!.median)) / 2} y={height - 18} text-anchor="middle">{proof.toFixed(1)}</text></g>
          )}
        </svg>
      </div>
    </div>
    <figcaption class="row"><span class="hour" /><span class="text small">{say("fan-legend")}</span></figcaption>
    </figure>
  );
}

function Table({ hours }: { hours: Answer[] }) {
  const number = (value: number | null | undefined) => (value == null ? "" : value.toFixed(1));
  return (
    <Row><div class="scroll"><table>
      <caption class="hidden">{say("under-forecast")}</caption>
      <thead><tr><th scope="col">{say("hour")}</th><th scope="col">mg/L</th><th scope="col">90 %</th><th scope="col">{say("made")}</th><th scope="col">pH</th></tr></thead>
      <tbody>{hours.map((row) => <tr><th scope="row">{day(row.entry_at!, spoken())} {clock(row.entry_at!)}</th><td>{number(row.fc!.median)}</td><td>{number(row.fc!.low)}–{number(row.fc!.high)}</td><td>{number(row.fc_made?.median)}</td><td>{number(row.fan_ph?.median)}</td></tr>)}</tbody>
    </table></div></Row>
  );
}
