// The page of the book: its head, its rows with the hour in the margin, the five words at its foot.
import { createContext, type ComponentChildren } from "preact";
import { useContext, useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { clock, day, stamp } from "../lib/time";
import { say, spoken } from "../lib/say";
import { hasMoved, to } from "../lib/route";
import { keptHere, refusedOf, waiting } from "../entries";
import { problemSaid } from "../lib/problem";
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

/** On a desk two pages lie side by side: the one that the address names is the main one; the card is the left one, and the right one has the words at its head. */
export interface Place { beside: boolean; right: boolean }
export const Side = createContext<Place | null>(null);

const OTHERS = 3; // tubs that are named at the head of the card on a desk

export function Head({ title, under, up, weight = "plain", view, tub }: Head & { view?: string; tub?: string }) {
  const now = stamp(useClock());
  const heading = useRef<HTMLHeadingElement>(null);
  const side = useContext(Side);
  const beside = side?.beside ?? false;
  const Title = beside ? "h2" : "h1";
  useLayoutEffect(() => void (beside || (document.title = `${title} · ${say("app")}`)), [title]); // with the page, not after it: it is what is read first
  // What was pressed went with the page before: who reads by ear or keys goes on at the head of the new one. A first page takes the focus from nobody.
  useEffect(() => void (hasMoved() && !beside && document.activeElement === document.body && heading.current?.focus({ preventScroll: true })), []);
  const others = side && !side.right ? tubs().filter(({ id }) => id !== tub).slice(0, OTHERS) : [];
  return (
    <header class={`row head ${weight}`}>
      <p class="hour"><b>{clock(now)}</b>{day(now, spoken())}<span class="on-paper"> {now.slice(0, 4)}</span></p>
      <div class="text">
        <Title class={side?.right ? "title unseen" : "title"} ref={heading} tabIndex={-1}>{title}</Title>
        {side?.right && <Words tub={tub!} view={view!} words={ON_DESK} />}
        {up && <span class="ups"><a class="touch" href={up.href}>{up.word}</a>{others.map(({ id, name }) => <a class="touch" href={to(id, "now")}>{name}</a>)}</span>}
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
const ON_DESK = ["logbook", "water", "forecast", "log", "why", "more"] as const; // the card lies beside them

function Words({ tub, view, words }: { tub: string; view: string; words: readonly ((typeof FIVE)[number] | (typeof ON_DESK)[number])[] }) {
  return (
    <nav class="words" aria-label={say("views")}>
      {words.map((word) => <a href={to(tub, word)} aria-current={word === view ? "page" : undefined}>{say(word === "more" ? word : `view-${word}`)}</a>)}
    </nav>
  );
}

/** What a page is about, between its head and its foot. */
export function Body(props: { class?: string; style?: Record<string, string | number>; "aria-busy"?: boolean; children?: ComponentChildren }) {
  const side = useContext(Side);
  const Part = side?.beside ? "div" : "main";
  return <Part class="body" tabIndex={side ? 0 : undefined} {...props} />; // on a desk it scrolls by itself
}

/** A whole page of one tub. */
export function Page(props: Head & { tub?: string; view: string; children: ComponentChildren }) {
  const { tub, view, children, ...head } = props;
  const side = useContext(Side);
  const Whole = side?.beside ? "aside" : "div";
  const round = { href: to("", "round"), word: say("view-round") };
  const up = side && !side.right ? round : side?.right && (!head.up || head.up.href === to(tub ?? "", "now")) ? undefined : head.up ?? (tub ? round : undefined);
  return (
    <Whole class="page" aria-label={side?.beside ? say(view === "logbook" ? "view-logbook" : "view-now") : undefined}>
      <Head {...head} up={up} view={view} tub={tub} />
      {children}
      {tub && !side && <Words tub={tub} view={view} words={FIVE} />}
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
  if (met.how === "problem") return <p class="small" role="status">{say("kept-problem", { n: open, why: problemSaid(met) })} {met.status === 403 && <a class="touch" href={to("", "settings")}>{say("sign-in")}</a>}</p>;
  const refused = refusedOf();
  if (refused.length > 0) return <p class="small" role="status">{say("kept-refused", { n: refused.length })} {[...new Map(refused.map(({ fields }) => [fields.tub!, fields.id!]))].map(([tub, id]) => <a class="touch" href={to(tub, "logbook", id)}>{tubName(tub)}</a>)}</p>;
  const kept = keptHere();
  return <p class="small" role="status">{open > 0 ? say("kept-waiting", { n: open }) : met.sealed ? say("kept-sealed") : kept > 0 ? say("kept-decided", { n: kept }) : say("kept-server")}</p>;
}

export const tubName = (id: string) => tubs().find((tub) => tub.id === id)?.name ?? "";
