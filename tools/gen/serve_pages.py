"""The page of a lid link, with the hash under which its script alone may run: data/pages/lid.html -> gen/serve_pages.h, .c."""
from __future__ import annotations

import base64
import hashlib
import re
from pathlib import Path

from _common import c_string


def generate(data_dir: Path, out_dir: Path) -> None:
    gen = out_dir / "gen"
    gen.mkdir(parents=True, exist_ok=True)
    page = (data_dir / "pages/lid.html").read_text(encoding="utf-8")
    scripts = re.findall(r"<script>(.*?)</script>", page, flags=re.S)
    if len(scripts) != 1 or re.search(r"\son\w+=|style=|src=|href=", page):
        raise SystemExit("pages/lid.html: one script, nothing from elsewhere")
    digest = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    policy = (f"default-src 'none'; script-src 'sha256-{digest}'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
              "frame-ancestors 'none'")
    note = "/* Made from data/pages/lid.html by tools/gen/serve_pages.py. */"
    (gen / "serve_pages.h").write_text(f"{note}\n#ifndef TW_GEN_SERVE_PAGES_H\n#define TW_GEN_SERVE_PAGES_H\n\n"
                                       "/* The page, and the policy under which it runs. */\nextern const char *const tw_serve_lid_page;\n"
                                       "extern const char *const tw_serve_lid_policy;\n\n#endif\n", encoding="utf-8")
    lines = "\n".join("    " + c_string(line).replace('"', '"', 1)[:-1] + '\\n"' for line in page.splitlines())
    (gen / "serve_pages.c").write_text(f'{note}\n#include "gen/serve_pages.h"\n\nconst char *const tw_serve_lid_page =\n{lines};\n\n'
                                       f"const char *const tw_serve_lid_policy = {c_string(policy)};\n", encoding="utf-8")
