// Day and dusk, and the language: of this device, put on before anything is drawn.
import { speak, spoken } from "../lib/say";

const KEY = "tubwright-look";

export function dress(look: string): void {
  document.documentElement.dataset.look = look;
  localStorage.setItem(KEY, look);
  document.querySelector('meta[name="theme-color"]')?.setAttribute("content", look === "dusk" ? "#14120f" : "#faf8f3");
}

export function speakNow(language: string): void {
  localStorage.setItem("tubwright-language", language);
  location.reload();
}

export async function undress(): Promise<void> {
  const usual = matchMedia("(prefers-color-scheme: dark)").matches ? "dusk" : "day";
  dress(localStorage.getItem(KEY) ?? usual);
  await speak(localStorage.getItem("tubwright-language") ?? navigator.language.slice(0, 2));
  document.documentElement.lang = spoken();
}
