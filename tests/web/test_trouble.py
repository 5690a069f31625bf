#!/usr/bin/env python3
"""The page over TLS by a test authority, and a server that is killed: trouble.mjs."""
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402


def ran(*words: str, cwd: str) -> None:
    done = subprocess.run(words, cwd=cwd, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{words}: {done.stderr}")


def authority(folder: str) -> None:
    """A test authority, a certificate of its own for tub.test, and a home whose browser trusts it."""
    ran("openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-days", "30",
        "-subj", "/CN=test authority", cwd=folder)
    ran("openssl", "req", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", "key.pem", "-out", "request.pem", "-subj", "/CN=tub.test", cwd=folder)
    (Path(folder) / "names").write_text("subjectAltName=DNS:tub.test\n", encoding="ascii")
    ran("openssl", "x509", "-req", "-in", "request.pem", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-days", "30", "-extfile", "names", "-out", "cert.pem", cwd=folder)
    (Path(folder) / ".pki/nssdb").mkdir(parents=True)
    ran("certutil", "-N", "-d", "sql:.pki/nssdb", "--empty-password", cwd=folder)
    ran("certutil", "-A", "-d", "sql:.pki/nssdb", "-n", "test authority", "-t", "C,,", "-i", "ca.pem", cwd=folder)


if __name__ == "__main__":
    if not (shutil.which("openssl") and shutil.which("certutil")):
        print("1..0 # SKIP no openssl or certutil")
        raise SystemExit(0)
    with tempfile.TemporaryDirectory() as home:
        authority(home)
        os.environ["BROWSER_HOME"] = home
        raise SystemExit(run("trouble.mjs", f"{home}/cert.pem", f"{home}/key.pem"))
