// The page: TypeScript to JavaScript, styles, the service worker that names every file by its hash.
//
// usage: node build.mjs TABLES MODULE FONTS OUT   (web_tables.ts, tubwright.wasm, folder of book-*.woff2, folder to write)
import { createHash } from "node:crypto";
import { cpSync, mkdirSync, readFileSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const [tables, module, fonts, out] = process.argv.slice(2).map((path) => resolve(path));
const here = dirname(fileURLToPath(import.meta.url));
const hash = (bytes) => createHash("sha256").update(bytes).digest("hex");
const app = join(out, "app");
rmSync(out, { recursive: true, force: true });
mkdirSync(app, { recursive: true });

const text = JSON.stringify;
const languages = readdirSync(dirname(tables)).filter((name) => name.endsWith(".language")).map((name) => name.split(".")[0]).sort();
const common = {
  bundle: true, minify: true, format: "esm", target: "es2022", jsx: "automatic", jsxImportSource: "preact", charset: "utf8", legalComments: "none",
  absWorkingDir: here, alias: { tables }, logLevel: "warning", outdir: app,
  define: {
    WASM: text("/app/tubwright.wasm"), PROGRAM: text(hash(readFileSync(module))),
    LANGUAGES: text(languages), BOOK_WORKER: text("/app/book.js"), ANSWERS_WORKER: text("/app/answers.js"), HELP_WORKER: text("/app/help.js"),
  },
};
await build({ ...common, entryPoints: { main: "src/main.tsx", book: "src/book/book.ts", answers: "src/core/answers.ts", help: "src/core/help.ts" } });
await build({ ...common, entryPoints: { book: "src/look/book.css" }, external: ["*.woff2"] });
for (const language of languages) cpSync(join(dirname(tables), `${language}.language`), join(app, `${language}.language`));
for (const name of ["manifest.webmanifest", "mark.svg"]) cpSync(join(here, name), join(app, name));
for (const name of readdirSync(fonts).filter((name) => name.endsWith(".woff2") || name === "OFL.txt")) cpSync(join(fonts, name), join(app, name));
cpSync(module, join(app, "tubwright.wasm"));
cpSync(join(here, "index.html"), join(out, "index.html"));

const files = readdirSync(app).sort();
const version = hash(["index.html", ...files.map((name) => `app/${name}`)].map((name) => hash(readFileSync(join(out, name)))).join()).slice(0, 16);
await build({ ...common, format: "iife", entryPoints: { sw: "src/sw.ts" }, outdir: out,
  define: { VERSION: text(version), FILES: text(["/", ...files.filter((name) => name !== "OFL.txt").map((name) => `/app/${name}`)]) } });
writeFileSync(join(out, "version.txt"), version + "\n");
