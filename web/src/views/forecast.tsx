// The book turned ahead: a sentence, the fan, and what can be tried: another duty, guests and their hour, what the card says.
import { useRef, useState } from "preact/hooks";
import { substances, type Answer } from "tables";
import { clock, day, instant, stamp, weekday } from "../lib/time";
import { called, figure, say, spoken } from "../lib/say";
import { Fan, type Guests } from "../parts/fan";
import { amountShown } from "../parts/amount";
import { Body, Page, Row, tubName, weightOf } from "../parts/page";
import { standing } from "../entries";
import { useAnswer } from "../state";

interface Plan {
  duty: number | null;
  guests: Guests;
  /** The dose of the card is poured now. */
  poured: boolean;
  hours: number;
}

const MINUTES = 60; // that guests stay

/** The dose of a card as an item of a plan; "" when it has none that a forecast of chlorine and pH follows. */
function doseOf(card: Answer | null): string {
  const act = card?.act;
  if (act?.verb !== "add" || act.amount == null || (act.predicted_chlorine?.median == null && act.predicted_ph?.median == null)) return "";
  return `0h:${act.substance}=${act.amount}${act.amount_unit}`;
}

/** The question of a plan: everything as it is, or something else. */
function asked({ duty, guests, poured, hours }: Plan, dose: string): string {
  const items = [duty != null ? `0h:duty=${duty}` : "", poured ? dose : "", guests.count > 0 ? `${guests.hour}h:bathers=${guests.count}x${MINUTES}` : ""].filter(Boolean);
  return `forecast hours=${hours} step=${hours > 48 ? 2 : 1}${items.length > 0 ? ` plan=${items.join(";")}` : ""}`;
}

export function Forecast({ tub }: { tub: string }) {
  const [plan, setPlan] = useState<Plan>({ duty: null, guests: { count: 0, hour: 8 }, poured: false, hours: 48 });
  // With letters twice as large the table says more than the drawing.
  const [table, setTable] = useState(() => matchMedia("(max-width: 19em)").matches);
  const card = useAnswer(tub, "now").answer;
  const dose = doseOf(card);
  const { answer: fresh, working, fault } = useAnswer(tub, asked(plan, dose));
  const before = useRef<Answer | null>(null); // stays drawn until what is tried is worked out
  if (fresh) before.current = fresh;
  const answer = fresh ?? (fault ? null : before.current);
  const dutyNow = Math.round(Number(standing(tub, "setting").filter(({ fields }) => fields.what === "duty").pop()?.fields.value ?? 0));
  const cardDuty = card?.act?.setting === "duty" && card.act.setting_value != null ? Math.round(card.act.setting_value * 100) : null;
  const drawn = answer?.hours?.some(({ fc }) => fc) ? answer : null;
  const at = answer?.at ?? stamp(new Date());
  const setDuty = (duty: number) => setPlan((was) => ({ ...was, duty: duty === dutyNow ? null : duty }));
  const [low] = useState(() => matchMedia("(max-height: 620px)").matches); // there the drawing follows its sentence, and what else is said follows the drawing
  const also = (
    <>
      {answer?.same_said && <Row><p class="small">{answer.same_said.text}</p></Row>}
      {answer?.held_sentence && <Row><p><b class="lead">{say("held")}</b> {answer.held_sentence.text}</p></Row>}
    </>
  );
  const turn = drawn && <Row><button class="touch at-right" aria-pressed={table} onClick={() => setTable(!table)}>{table ? say("as-drawing") : say("as-table")}</button></Row>;
  return (
    <Page title={tubName(tub)} under={drawn ? band(drawn) : say("under-forecast")} view="forecast" tub={tub} weight={weightOf(answer?.weight)}>
      <Body aria-busy={working}>
        {fault && <Row><p class="fault" role="alert">{fault}</p></Row>}
        {!answer && !fault && <Row><p class="working" role="status">{say("working-first")}</p></Row>}
        {answer?.withheld && <Row><p class="what">{answer.withheld.text}</p></Row>}
        {answer?.head && <Row><p class="what">{answer.head.text}</p></Row>}
        {answer && working && !fresh && <Row><p class="working" role="status">{say("working")}</p></Row>}
        <div aria-live="polite">
          {answer?.sentence && <Row><h2 class="what">{answer.sentence.text}</h2></Row>}
          {!low && also}
        </div>
        {!low && turn}
        {drawn && (table ? <Table answer={drawn} /> : <Fan answer={drawn} dutyNow={dutyNow} guests={plan.guests} setDuty={setDuty}
          setHour={(hour) => setPlan((was) => ({ ...was, guests: { ...was.guests, hour } }))}
          rest={plan.poured && card?.act?.next_at && card.act.next_at > card.at! ? card.act.next_at : ""}
          pours={plan.poured ? doseShown(card!) : ""} />)}
        {low && <>{turn}<div aria-live="polite">{also}</div></>}
        <MoreIf plan={plan} put={setPlan} duty={plan.duty ?? dutyNow} cardDuty={cardDuty} dose={dose && doseShown(card!)} at={at} setDuty={setDuty} />
        {answer?.duty_said && <Row><p>{answer.duty_said.text} {answer.duty_use_said?.text}</p></Row>}
        {answer?.rules && <Row><p>{answer.rules.text}</p></Row>}
        {answer?.power_cut_said && <Row><p>{answer.power_cut_said.text}</p></Row>}
        {answer?.forecast_line && <Row><p class="small">{answer.forecast_line.text}</p></Row>}
      </Body>
      <WhatIf plan={plan} put={setPlan} dutyNow={dutyNow} at={at} setDuty={setDuty} />
    </Page>
  );
}

/** "Free chlorine · 3 to 5 mg/L". */
function band({ fc_floor: floor, fc_ceiling: ceiling }: Answer): string {
  const ends = floor != null && ceiling != null ? say("a-to-b", { a: figure(floor), b: figure(ceiling) }) : floor != null ? say("from-n", { n: figure(floor) }) : "";
  return [say("forecast-of"), ends && `${ends} mg/L`].filter(Boolean).join(" · ");
}

function doseShown(card: Answer): string {
  const { amount, amount_unit, substance } = card.act!;
  return `${amountShown(amount!, amount_unit!)} ${called(substances[substance ?? ""]?.plain ?? substance ?? "").replace(/ \(.*/, "")}`;
}

interface Tried { plan: Plan; put: (plan: Plan) => void; at: string; setDuty: (duty: number) => void }

const hourOf = (at: string, hour: number) => stamp(new Date(instant(at) + hour * 3600_000));

/** Duty and guests: always within reach, so that the drawing changes before the eyes. */
function WhatIf({ plan, put, dutyNow, at, setDuty }: Tried & { dutyNow: number }) {
  const duty = plan.duty ?? dutyNow;
  const { count, hour } = plan.guests;
  const when = hourOf(at, hour);
  return (
    <section class="what-if" aria-label={say("what-if")}>
      <Keys name={say("duty-of")} said={`${duty} %`} small={duty === dutyNow ? say("as-set") : say("set-n", { n: dutyNow })} less={say("less-duty")} more={say("more-duty")}
        step={(by) => setDuty(Math.min(100, Math.max(0, Math.round((duty + by) / 5) * 5)))} />
      <Keys name={say("guests")} said={String(count)} small={count > 0 ? `${weekday(when, spoken())} ${clock(when)}` : say("nobody")} less={say("fewer-guests")} more={say("more-guests")}
        step={(by) => put({ ...plan, guests: { count: Math.min(20, Math.max(0, count + Math.sign(by))), hour } })} />
    </section>
  );
}

/** The guests' hour, what the card says, how far ahead. */
function MoreIf({ plan, put, duty, cardDuty, dose, at, setDuty }: Tried & { duty: number; cardDuty: number | null; dose: string }) {
  const { count, hour } = plan.guests;
  const when = hourOf(at, hour);
  return (
    <div class="more-if">
      {count > 0 && <Keys name={say("guests-when")} said={clock(when)} small={weekday(when, spoken())} less={say("earlier")} more={say("later")}
        step={(by) => put({ ...plan, guests: { count, hour: Math.min(plan.hours - 1, Math.max(0, hour + Math.sign(by))) } })} />}
      {dose && <button class="key" aria-pressed={plan.poured} onClick={() => put({ ...plan, poured: !plan.poured })}>{say("with-dose", { dose })}</button>}
      {cardDuty != null && cardDuty !== duty && <button class="key" onClick={() => setDuty(cardDuty)}>{say("as-card", { n: cardDuty })}</button>}
      <div class="times" role="group" aria-label={say("how-far")}>{[24, 48, 168, 336].map((h) => <button class="key" aria-pressed={plan.hours === h} onClick={() => put({ ...plan, hours: h, guests: { count, hour: Math.min(hour, h - 1) } })}>{h < 72 ? say("n-h", { n: h }) : say("n-days", { n: h / 24 })}</button>)}</div>
    </div>
  );
}

/** A name, its value between two keys. */
function Keys({ name, said, small, less, more, step }: { name: string; said: string; small: string; less: string; more: string; step: (by: number) => void }) {
  return (
    <div class="stepper" role="group" aria-label={name}>
      <span><b>{name}</b><span class="small">{small}</span></span>
      <button class="key" aria-label={less} onClick={() => step(-5)}>−</button>
      <output class="figure" aria-live="polite">{said}</output>
      <button class="key" aria-label={more} onClick={() => step(5)}>+</button>
    </div>
  );
}

function Table({ answer }: { answer: Answer }) {
  const number = (value: number | null | undefined) => (value == null ? "" : figure(value.toFixed(1)));
  const ghost = answer.same_said !== undefined;
  return (
    <>
      {answer.lately && answer.lately.length > 0 && <Row><h2 class="sub">{say("lately")}</h2><ul class="plain-list">{answer.lately.map((row) => <li>{clock(row.lately_at!)} {row.lately_said?.text}{row.rest_until && ` · ${say("rests-until", { time: clock(row.rest_until) })}`}</li>)}</ul></Row>}
      <Row><div class="scroll" role="region" tabIndex={0} aria-label={say("under-forecast")}><table>
        <caption class="hidden">{say("under-forecast")}</caption>
        <thead><tr><th scope="col">{say("hour")}</th><th scope="col">mg/L</th><th scope="col">90 %</th><th scope="col">{say("left-of-doses")}</th><th scope="col">{say("made")}</th>{ghost && <th scope="col">{say("as-it-is")}</th>}<th scope="col">{say("duty")}</th><th scope="col">pH</th></tr></thead>
        <tbody>{answer.hours!.map((row) => <tr><th scope="row">{day(row.entry_at!, spoken())} {clock(row.entry_at!)}</th><td>{number(row.fc!.median)}</td><td>{number(row.fc!.low)}–{number(row.fc!.high)}</td><td>{number(row.fc_remnant?.median)}</td><td>{number(row.fc_made?.median)}</td>{ghost && <td>{number(row.fc_same)}</td>}<td>{row.duty}</td><td>{number(row.fan_ph?.median)}</td></tr>)}</tbody>
      </table></div></Row>
    </>
  );
}
