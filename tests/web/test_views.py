#!/usr/bin/env python3
"""Every view of the page in both looks: views.mjs. Given a folder it leaves a picture of each there."""
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402

NOW = "2026-03-24T12:55:00+01:00"
STORY = [
    ("2026-03-23T08:00:00+01:00", "tub new Barn volume=1300L use=lodging"),
    ("2026-03-23T08:01:00+01:00", "-t Barn log plate output=0.16g/h salt=2000mg/L reply bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no source supply origin=mains"),
    ("2026-03-23T08:05:00+01:00", "-t Barn log ph=7.7 ta=190 ch=90 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=25 by laboratory of supply"),
    ("2026-03-23T09:00:00+01:00", "-t Barn log care purge done filled 1180 L of supply volume 1180 L by clock reply circulation=yes electrician=yes"),
    ("2026-03-23T09:30:00+01:00", "-t Barn log temp=38 by thermometer added 14 mL hypochlorite"),
    ("2026-03-24T12:40:00+01:00", "-t Barn log ph=7.7 ta=190? fc=1 th=60..120 cya=<40 by strips lot=B"),
    ("2026-03-24T12:41:00+01:00", "-t Barn log void last"),
    ("2026-03-24T12:45:00+01:00", "-t Barn log ph=7.7 ta=190 fc=1 by drops"),
    ("2026-03-24T08:00:00+01:00", "tub new Garden volume=1400L"),
    ("2026-03-24T08:01:00+01:00", "-t Garden log reply bromine=yes"),
]

if __name__ == "__main__":
    pictures = [os.path.abspath(folder) for folder in sys.argv[1:2]]
    raise SystemExit(run("views.mjs", NOW, *pictures, story=STORY))
