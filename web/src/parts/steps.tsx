// What has to be done before a stop ends, step by step: each is ticked off with its hour and kept on this device; what is logged at the end has them all.
import type { Answer, Said } from "tables";
import { clock, stamp } from "../lib/time";
import { hear, say } from "../lib/say";
import { useFact, type Fact } from "../state";

export type Ticks = Record<string, string>;

/** The steps of a stop by old chemistry: all that lifts it but the sentence behind them. */
export function stepsOf(card: Answer): Said[] {
  const lift = card.lift ?? [];
  return lift[lift.length - 1]?.id === "lift-old-chemistry" ? lift.slice(0, -1) : [];
}

/** What is ticked off of a card's steps: one state for the steps and the key under them. */
export const useTicks = (tub: string, card: Answer) => useFact<Ticks>(`ticks:${tub}:${card.act?.act_id}`, {});

export function Steps({ card, ticks, setTicks }: { card: Answer; ticks: Ticks; setTicks: (ticks: Ticks) => void }) {
  const steps = stepsOf(card);
  const open = steps.find(({ id }) => !ticks[id]);
  function tick(id: string): void {
    const { [id]: was, ...others } = ticks;
    setTicks(was ? others : { ...others, [id]: stamp(new Date()) });
  }
  return (
    <section aria-label={say("steps-all")}>
      <div class="row"><div class="hour" /><div class="text"><h2>{say("steps-all")}</h2></div></div>
      {steps.map((step) => (
        <button class={`row step ${step === open ? "open" : ""}`} role="checkbox" aria-checked={Boolean(ticks[step.id])} onClick={() => tick(step.id)}>
          <span class="hour">{ticks[step.id] && clock(ticks[step.id]!)}</span>
          <span class="text"><span class="tick" aria-hidden="true">{ticks[step.id] && "×"}</span><span>{step === open ? <b>{hear(step)}</b> : hear(step)}</span></span>
        </button>
      ))}
      <div class="row"><div class="hour" /><div class="text"><p class="small">{hear(card.lift![card.lift!.length - 1]!)}</p></div></div>
    </section>
  );
}

/** The one key under the steps: it writes the reply that ends the stop, with the hours of the steps in the person's words. */
export function Cleared({ card, ticks, question, put, fault, busy }: { card: Answer; ticks: Ticks; question: string; put: (facts: Fact[]) => void; fault: string; busy: boolean }) {
  const steps = stepsOf(card);
  const all = steps.every(({ id }) => ticks[id]);
  const words = steps.map((step) => say("ticked", { text: hear(step).replace(/[.;,].*/, ""), time: clock(ticks[step.id] ?? "") })).join("; ").slice(0, 200);
  return (
    <div class="acts one">
      {fault && <p class="fault key whole" role="alert">{fault}</p>}
      <button class="key next" disabled={!all || busy} onClick={() => put([{ kind: "reply", fields: [["question", question], ["reply", "yes"], ["words", words]] }])}>{all ? say("is-gone") : say("tick-first")}</button>
    </div>
  );
}
