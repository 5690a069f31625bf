#!/usr/bin/env python3
"""Every view of the page in both looks: views.mjs. Given a folder it leaves a picture of each there."""
import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
from page import run  # noqa: E402

NONE = "bromine=no biguanide=no silver=no copper=no monopersulfate=no ozone=no"
NOW = "2026-03-24T12:55:00+01:00"
STORY = [
    ("2026-03-23T08:00:00+01:00", "tub new Barn volume=1300L use=lodging"),
    ("2026-03-23T08:01:00+01:00", f"-t Barn log plate output=0.16g/h salt=2000mg/L reply {NONE} source supply origin=mains"),
    ("2026-03-23T08:05:00+01:00", "-t Barn log ph=7.7 ta=190 ch=90 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=25 by laboratory of supply"),
    ("2026-03-23T09:00:00+01:00", "-t Barn log care purge done filled 1180 L of supply volume 1180 L by clock reply circulation=yes electrician=yes"),
    ("2026-03-23T09:30:00+01:00", "-t Barn log temp=38 by thermometer added 14 mL hypochlorite"),
    ("2026-03-24T12:40:00+01:00", "-t Barn log ph=7.7 ta=190? fc=1 th=60..120 cya=<40 by strips lot=B"),
    ("2026-03-24T12:41:00+01:00", "-t Barn log void last"),
    ("2026-03-24T12:45:00+01:00", "-t Barn log ph=7.7 ta=190 fc=1 by drops"),
    ("2026-03-24T08:00:00+01:00", "tub new Garden volume=1400L"),
    ("2026-03-24T08:01:00+01:00", "-t Garden log reply bromine=yes"),
    # Deck: a proof that a scoop set back; its guests come tonight.
    ("2026-03-21T02:00:00+01:00", "tub new Deck volume=1300L use=lodging"),
    ("2026-03-21T02:01:00+01:00", f"-t Deck log plate output=0.16g/h salt=2000mg/L reply {NONE} circulation=yes electrician=yes source supply origin=mains"),
    ("2026-03-21T02:05:00+01:00", "-t Deck log ph=7.7 ta=190 ch=90 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=25 by laboratory of supply"),
    ("2026-03-21T03:00:00+01:00", "-t Deck log care purge done filled 1180 L of supply volume 1180 L by clock temp=38 by thermometer"),
    ("2026-03-21T04:00:00+01:00", "-t Deck log added 335 g dry-acid"),
    ("2026-03-21T10:00:00+01:00", "-t Deck log ph=7.4 ta=85 by drops added 2300 g salt"),
    ("2026-03-21T12:00:00+01:00", "-t Deck log salt=1980 by meter"),
    ("2026-03-22T04:45:00+01:00", "-t Deck log added 59 mL hypochlorite"),
    ("2026-03-22T05:45:00+01:00", "-t Deck log fc=6.0 tc=6.0 by drops duty=100%"),
    ("2026-03-23T04:45:00+01:00", "-t Deck log fc=4.8 tc=4.8 by drops"),
    ("2026-03-24T04:45:00+01:00", "-t Deck log fc=5.3 tc=5.3 ph=7.4 ta=81 by drops"),
    ("2026-03-24T08:45:00+01:00", "-t Deck log added 30 mL hypochlorite"),
    ("2026-03-24T12:45:00+01:00", "-t Deck log fc=8.3 tc=8.4 by drops"),
    # Loft: its first chlorine went in twenty minutes ago.
    ("2026-03-23T08:30:00+01:00", "tub new Loft volume=1000L"),
    ("2026-03-23T08:31:00+01:00", f"-t Loft log plate output=0.14g/h salt=2000mg/L reply {NONE} circulation=yes electrician=yes source supply origin=mains"),
    ("2026-03-23T08:35:00+01:00", "-t Loft log ph=7.4 ta=80 ch=90 fe=0.02 mn=0.02 cu=0.02 po4=0.1 cl=25 by laboratory of supply"),
    ("2026-03-23T09:00:00+01:00", "-t Loft log care purge done filled 980 L of supply volume 980 L by clock temp=38 by thermometer"),
    ("2026-03-23T12:00:00+01:00", "-t Loft log ph=7.4 ta=80 by drops added 1900 g salt"),
    ("2026-03-23T16:00:00+01:00", "-t Loft log salt=1980 by meter"),
    ("2026-03-24T12:30:00+01:00", "-t Loft log ph=7.4 ta=80 fc=0 by drops"),
    ("2026-03-24T12:35:00+01:00", "-t Loft log added 49 mL hypochlorite"),
]

if __name__ == "__main__":
    pictures = [os.path.abspath(folder) for folder in sys.argv[1:2]]
    raise SystemExit(run("views.mjs", NOW, *pictures, story=STORY))
