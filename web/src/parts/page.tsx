// The page of the book: its head, its rows with the hour in the margin, the five words at its foot.
import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { clock, day, stamp } from "../lib/time";
import { say, spoken } from "../lib/say";
import { hasMoved, to } from "../lib/route";
import { waiting } from "../entries";
import { known, tubs, useClock } from "../state";

export type Weight = "plain" | "thick" | "double";

export const weightOf = (weight?: string): Weight =>
  weight === "stop" || weight === "closed" ? "double" : weight === "doubtful" ? "thick" : "plain";

interface Head {
  title: string;
  /** Stage and state, or what the page is about. */
  under?: ComponentChildren;
  /** The word at the right that leads up. */
  up?: { href: string; word: string };
  weight?: Weight;
}

/** On a desk two pages lie side by side: the one that the address names is the main one. */
export const Side = createContext<"alone" | "main" | "beside">("alone");

export function Head({ title, under, up, weight = "plain" }: Head) {
  const now = stamp(useClock());
  const heading = useRef<HTMLHeadingElement>(null);
  const beside = useContext(Side) === "beside";
  const Title = beside ? "h2" : "h1";
  useLayoutEffect(() => void (beside || (document.title = `${title} · ${say("app")}`)), [title]); // with the page, not after it: it is what is read first
  // What was pressed went with the page before: who reads by ear or keys goes on at the head of the new one. A first page takes the focus from nobody.
  useEffect(() => void (hasMoved() && !beside && document.activeElement === document.body && heading.current?.focus({ preventScroll: true })), []);
  return (
    <header class={`row head ${weight}`}>
      <p class="hour"><b>{clock(now)}</b>{day(now, spoken())}<span class="on-paper"> {now.slice(0, 4)}</span></p>
      <div class="text">
        <Title class="title" ref={heading} tabIndex={-1}>{title}</Title>
        {up && <a class="touch" href={up.href}>{up.word}</a>}
        {under && <p>{under}</p>}
      </div>
    </header>
  );
}

/** A row: the hour in the margin, bold when it is fixed or asked for. */
export function Row({ hour, fixed, children }: { hour?: string; fixed?: boolean; children: ComponentChildren }) {
  return (
    <div class="row">
      <div class="hour">{hour && (fixed ? <b>{hour}</b> : hour)}</div>
      <div class="text">{children}</div>
    </div>
  );
}

/** A paragraph that begins with its word. */
export function Para({ lead, children }: { lead?: string; children: ComponentChildren }) {
  return <p>{lead && <b class="lead">{lead}</b>}{lead && " "}{children}</p>;
}

const FIVE = ["now", "log", "water", "forecast", "logbook"] as const;

export function Words({ tub, view }: { tub: string; view: string }) {
  return (
    <nav class="words" aria-label={say("views")}>
      {FIVE.map((word) => <a href={to(tub, word)} aria-current={word === view ? "page" : undefined}>{say(`view-${word}`)}</a>)}
    </nav>
  );
}

/** What a page is about, between its head and its foot. */
export function Body(props: { class?: string; style?: Record<string, string | number>; "aria-busy"?: boolean; children?: ComponentChildren }) {
  const side = useContext(Side);
  const Part = side === "beside" ? "div" : "main";
  return <Part class="body" tabIndex={side === "alone" ? undefined : 0} {...props} />; // on a desk it scrolls by itself
}

/** A whole page of one tub. */
export function Page(props: Head & { tub?: string; view: string; children: ComponentChildren }) {
  const { tub, view, children, ...head } = props;
  const beside = useContext(Side) === "beside";
  const Whole = beside ? "aside" : "div";
  return (
    <Whole class="page" aria-label={beside ? say(view === "logbook" ? "view-logbook" : "view-now") : undefined}>
      <Head {...head} up={head.up ?? (tub ? { href: to("", "round"), word: say("view-round") } : undefined)} />
      {children}
      {tub && <Words tub={tub} view={view} />}
    </Whole>
  );
}

/** Where the only copy is, in words. */
export function WhereKept() {
  const open = waiting();
  const met = known.met;
  if (!met) return null;
  if (met.how === "none") return <p class="small">{say("kept-here")}</p>;
  if (met.how === "sign-in") return <p class="small">{say("kept-sign-in", { n: open })} <a class="touch" href={to("", "settings")}>{say("sign-in")}</a></p>;
  if (met.how === "away") return <p class="small" role="status">{say("kept-away", { n: open })}</p>;
  if (met.refused > 0) return <p class="small">{say("kept-refused", { n: met.refused })}</p>;
  return <p class="small" role="status">{open > 0 ? say("kept-waiting", { n: open }) : met.sealed ? say("kept-sealed") : say("kept-server")}</p>;
}

export const tubName = (id: string) => tubs().find((tub) => tub.id === id)?.name ?? "";
