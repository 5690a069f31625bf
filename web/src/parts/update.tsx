// A newer program waits until somebody says go: a half-done pad is kept over it.
import { useEffect, useState } from "preact/hooks";
import { say } from "../lib/say";

let waiting: ServiceWorker | null = null;
const listeners = new Set<() => void>();

/** Ask for the service worker where the browser has one (https and localhost). */
export async function serveOffline(): Promise<void> {
  if (!("serviceWorker" in navigator)) return;
  let asked = false;
  navigator.serviceWorker.addEventListener("controllerchange", () => asked && location.reload());
  const registration = await navigator.serviceWorker.register("/sw.js", { scope: "/" });
  const look = (worker: ServiceWorker | null) => {
    if (!worker || !navigator.serviceWorker.controller) return;
    waiting = worker;
    listeners.forEach((listener) => listener());
  };
  look(registration.waiting);
  registration.addEventListener("updatefound", () => {
    const fresh = registration.installing;
    fresh?.addEventListener("statechange", () => fresh.state === "installed" && look(fresh));
  });
  go = () => {
    asked = true;
    waiting?.postMessage("go");
  };
}
let go = () => {};

export function Update() {
  const [, draw] = useState(0);
  useEffect(() => {
    const listener = () => draw((n) => n + 1);
    listeners.add(listener);
    return () => void listeners.delete(listener);
  }, []);
  if (!waiting) return null;
  return <p class="small" role="status" style={{ textAlign: "center", padding: "8px" }}>{say("update-waits")} <button class="touch" onClick={() => go()}>{say("update-now")}</button></p>;
}
