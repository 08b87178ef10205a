#!/usr/bin/env python3
"""Awkward files of meter readings with what is true of each, for tests/readings.rs.

    python3 tests/independent/make_readings.py

writes tests/readings/NAME.csv and tests/readings/truth.json. Energies are whole watt-hours made by a fixed rule, so that
sums are exact; zones come from Python's zoneinfo. The truth of a file is what was written into it, by month of the standard
clock: it is counted here, while the file is written, and owes nothing to the reader under test.
"""
import json
import pathlib
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

HERE = pathlib.Path(__file__).resolve().parent.parent / "readings"
HERE.mkdir(exist_ok=True)
TRUTH = {}
STD = {"Europe/Dublin": 0, "Europe/Berlin": 60, "Australia/Sydney": 600, "America/New_York": -300}


def dice(n):
    """A whole number below 1000 from a counter (a linear congruence, then its high digits)."""
    x = (n * 1103515245 + 12345) % 2**31
    x = (x * 69069 + 1) % 2**32
    return x // 65536 % 1000


def export_wh(t, minutes):
    hour = t.hour + t.minute / 60
    shape = max(0.0, 1 - ((hour - 12.25) / 6) ** 2)
    return int(shape * minutes * 30 * (300 + dice(t.toordinal() * 1440 + t.hour * 60 + t.minute)) / 1300)


def import_wh(t, minutes):
    return minutes * (2 + dice(t.toordinal() * 1440 + t.hour * 60 + t.minute + 77) % 11)


def times(start, days, minutes):
    """Starts of the intervals of whole days of the standard clock."""
    t = datetime.fromisoformat(start)
    return [t + timedelta(minutes=minutes * k) for k in range(days * 1440 // minutes)]


def local(t, zone):
    """The zone's wall clock at an instant of its standard clock, with offset."""
    return (t - timedelta(minutes=STD[zone])).replace(tzinfo=timezone.utc).astimezone(ZoneInfo(zone))


def naive(t, zone):
    return local(t, zone).replace(tzinfo=None)


def kwh(wh, comma=False):
    text = f"{wh // 1000}.{wh % 1000:03d}"
    return text.replace(".", ",") if comma else text


class Sum:
    """What is true of a file, counted while it is written."""

    def __init__(self):
        self.months = {}

    def add(self, t, kind, wh):
        month = self.months.setdefault(f"{t:%Y-%m}", {})
        month[kind] = month.get(kind, 0) + wh


def put(name, text, truth=None, encoding="utf-8", **more):
    data = text if isinstance(text, bytes) else text.encode(encoding)
    (HERE / f"{name}.csv").write_bytes(data)
    entry = dict(more)
    if truth is not None:
        entry["months"] = {m: {k: v / 1000 for k, v in kinds.items()} for m, kinds in truth.months.items()}
    TRUTH[name] = entry


def simple(name, start="2024-06-14", days=3, minutes=30, stamp="%Y-%m-%d %H:%M", head="time,export_kwh,import_kwh", sep=",",
           comma=False, eol="\n", shift=0, zone=None, at=lambda t: t, cells=None, keep=lambda t: True, rows=lambda r: r,
           before="", after="", extra=(), **more):
    """A file of export and import; `cells(t, export, import)` writes the cells behind the stamp."""
    total = Sum()
    lines = []
    for t in times(start, days, minutes):
        if not keep(t):
            continue
        e, i = export_wh(t, minutes), import_wh(t, minutes)
        total.add(t, "export", e)
        total.add(t, "import", i)
        clock = at(t + timedelta(minutes=shift)) if zone is None else at(naive(t + timedelta(minutes=shift), zone))
        written = clock if isinstance(clock, str) else clock.strftime(stamp)
        values = cells(t, e, i) if cells else [kwh(e, comma), kwh(i, comma)]
        lines.append(sep.join([written] + values))
    for month, kind, wh in extra:
        total.add(datetime.fromisoformat(month + "-01"), kind, wh)
    text = before + head + eol + eol.join(rows(lines)) + eol + after
    encoding = more.pop("encoding", "utf-8")
    put(name, text, total, encoding, **more)


# Ways of writing.
simple("plain", used=3)
simple("semicolons-decimal-comma", head="Zeit;Einspeisung (kWh);Netzbezug (kWh)", sep=";", comma=True, stamp="%d.%m.%Y %H:%M", used=3)
simple("tabs", head="date time\tto grid kWh\tfrom grid kWh", sep="\t", used=3)
simple("crlf", eol="\r\n", used=3)
simple("lone-cr", eol="\r", used=3)
simple("byte-order-mark", encoding="utf-8-sig", used=3)
simple("utf-16-low", encoding="utf-16", used=3)
simple("utf-16-high-no-mark", encoding="utf-16-be", used=3)
simple("latin-1", head="Heure;Injectée (kWh);Soutirée (kWh);Qualité", sep=";", comma=True, encoding="latin-1",
       cells=lambda t, e, i: [kwh(e, True), kwh(i, True), "relevé"], used=3)
simple("quoted", head='"time","export, kWh","import, kWh"', at=lambda t: f'"{t:%Y-%m-%d %H:%M}"',
       cells=lambda t, e, i: [f'"{kwh(e)}"', f'"{kwh(i)}"'], used=3)
simple("quoted-decimal-comma", head='time,"export kWh","import kWh"', cells=lambda t, e, i: [f'"{kwh(e, True)}"', f'"{kwh(i, True)}"'], used=3)
simple("comments-and-preamble", before="# written by hand\n\nMeter readings\nAddress;not told\nFrom;2024-06-14\n\n", used=3)
simple("trailing-totals", after="Total,123.456,78.9\n\n", troubles={"total_row": 1}, used=3)
simple("cut-off-in-the-middle", after="2024-06-17 0", troubles={"no_date": 1}, used=3)
simple("headings-in-another-order", head="status,from grid (kWh),end,start,to grid (kWh)", used=3, sep=",", at=lambda t: "ok",
       cells=lambda t, e, i: [kwh(i), f"{t + timedelta(minutes=30):%Y-%m-%d %H:%M}", f"{t:%Y-%m-%d %H:%M}", kwh(e)])
simple("unused-columns", head="time,export_kwh,import_kwh,voltage,note", cells=lambda t, e, i: [kwh(e), kwh(i), "231.5", "fine"], used=3)
simple("asked-for-by-name", head="time,A+,A-", cells=lambda t, e, i: [kwh(i), kwh(e)],
       options={"columns": {"export": "3", "import": "2"}}, used=3)
simple("thousands-marks", head="time;export Wh;import Wh", sep=";", minutes=60, cells=lambda t, e, i: [f"{e:,}".replace(",", "."), f"{i:,}".replace(",", ".")],
       options={"decimal": ","}, used=3)


# Dates.
def month_days(t):
    return f"{t.month}/{t.day}/{t.year} {t:%H:%M}"


simple("day-before-month", stamp="%d/%m/%Y %H:%M", used=3)
simple("month-before-day", at=month_days, used=3)
simple("day-or-month-by-steps", start="2024-06-02", stamp="%d/%m/%Y %H:%M", used=3)
simple("month-or-day-by-steps", start="2024-06-02", at=month_days, used=3)
simple("day-or-month-ambiguous", start="2024-04-03", days=1, stamp="%d/%m/%Y %H:%M", question="day or the month first", used=1)
simple("day-or-month-told", start="2024-04-03", days=1, stamp="%m/%d/%Y %H:%M", options={"date_order": "month_day"}, used=1)
simple("twelve-hour-clock", stamp="%d-%b-%Y %I:%M %p", used=3)
simple("month-names", stamp="%d %B %Y %H:%M:%S", used=3)
simple("compact", stamp="%Y%m%d%H%M", used=3)
simple("date-and-time-apart", head="date,time,export_kwh,import_kwh", at=lambda t: f"{t:%d/%m/%Y},{t:%H:%M}", used=3)
simple("two-digit-years", stamp="%d.%m.%y %H.%M", head="date;export kWh;import kWh", sep=";", used=3)
simple("unix-seconds", head="unix,export_kwh,import_kwh", options={"zone": "Europe/Berlin"},
       at=lambda t: str(int((t - timedelta(minutes=60)).replace(tzinfo=timezone.utc).timestamp())), used=3)
simple("unix-thousandths", head="timestamp,export_kwh,import_kwh", question="in which zone",
       at=lambda t: str(int(t.replace(tzinfo=timezone.utc).timestamp()) * 1000), used=3)
simple("a-date-that-is-none", rows=lambda r: r[:50] + ["2024-06-31 01:00,5.0,5.0"] + r[50:], troubles={"no_date": 1}, used=3)

# Clocks.
AUTUMN, SPRING = "2024-10-26", "2024-03-30"
for zone in ("Europe/Dublin", "Europe/Berlin"):
    tag = zone.split("/")[1].lower()
    simple(f"autumn-{tag}", start=AUTUMN, zone=zone, options={"zone": zone}, troubles={"repeated_hour": 2}, used=3)
    simple(f"spring-{tag}", start=SPRING, zone=zone, options={"zone": zone}, used=3)
simple("autumn-no-zone", start=AUTUMN, zone="Europe/Berlin", used=3)
simple("spring-no-zone", start=SPRING, zone="Europe/Berlin", used=3)
simple("autumn-hourly-no-zone", start=AUTUMN, minutes=60, zone="Europe/Berlin", used=3)
simple("autumn-five-minutes", start=AUTUMN, minutes=5, zone="Europe/Dublin", options={"zone": "Europe/Dublin"}, troubles={"repeated_hour": 12}, used=3)
simple("autumn-latest-first", start=AUTUMN, zone="Europe/Berlin", options={"zone": "Europe/Berlin"}, rows=lambda r: r[::-1],
       troubles={"repeated_hour": 2, "descending": 144}, used=3)
simple("autumn-new-york", start="2024-11-02", zone="America/New_York", options={"zone": "America/New_York"}, troubles={"repeated_hour": 2}, used=3)
simple("april-sydney", start="2024-04-06", zone="Australia/Sydney", options={"zone": "Australia/Sydney"}, troubles={"repeated_hour": 2}, used=3)
simple("october-sydney-no-zone", start="2024-10-05", zone="Australia/Sydney", used=3)
simple("standard-time-in-a-zone-with-changes", start=SPRING, options={"zone": "Europe/Berlin"}, says="no change of clocks", used=3)
simple("offsets-autumn", start=AUTUMN, at=lambda t: local(t, "Europe/Berlin").isoformat(), used=3)
simple("utc-in-a-zone", start=AUTUMN, at=lambda t: local(t, "Europe/Berlin").astimezone(timezone.utc).strftime("%Y-%m-%dT%H:%MZ"),
       options={"zone": "Europe/Berlin"}, used=3)
simple("utc-no-zone", at=lambda t: f"{t:%Y-%m-%dT%H:%M:%S}Z", question="in which zone", used=3)
simple("zone-names", start=AUTUMN, at=lambda t: local(t, "Europe/Berlin").strftime("%Y-%m-%d %H:%M %Z"), used=3)

# Ends of intervals.
simple("ends-guessed", shift=30, says="end of the interval", used=3)
simple("ends-by-heading", start="2024-06-14", head="Read date and end time,Export kWh,Import kWh", shift=30, keep=lambda t: t.hour >= 3 or t.day > 14, used=2)
simple("ends-told", shift=30, keep=lambda t: t.hour >= 3 or t.day > 14, options={"stamp_at": "end"}, used=2)


def midnight_as_24(t):
    return f"{t - timedelta(days=1):%Y-%m-%d} 24:00" if (t.hour, t.minute) == (0, 0) else f"{t:%Y-%m-%d %H:%M}"


simple("ends-at-24", shift=30, at=midnight_as_24, keep=lambda t: t.hour >= 3 or t.day > 14, says="24:00 occurs", used=2)
simple("ends-autumn", start=AUTUMN, shift=30, zone="Europe/Berlin", options={"zone": "Europe/Berlin", "stamp_at": "end"}, troubles={"repeated_hour": 2}, used=3)
# The end is the start on the wall clock and half an hour: 03:00 occurs twice, 02:00 once.
simple("ends-autumn-by-the-clock-of-the-start", start=AUTUMN, zone="Europe/Berlin", at=lambda t: t + timedelta(minutes=30),
       options={"zone": "Europe/Berlin", "stamp_at": "end"}, troubles={"repeated_hour": 2}, used=3)
simple("ends-spring-by-the-clock-of-the-start", start=SPRING, zone="Europe/Berlin", at=lambda t: t + timedelta(minutes=30),
       options={"zone": "Europe/Berlin", "stamp_at": "end"})

# Order, duplicates, gaps.
simple("twice-the-same", rows=lambda r: r[:60] + r[40:60] + r[60:], troubles={"same_twice": 20, "out_of_order": 19}, used=3)
simple("contradictory", rows=lambda r: r[:30] + ["2024-06-14 15:00,9.999,9.999"] + r[30:], troubles={"contradictory": 1}, used=3)
simple("out-of-order", rows=lambda r: r[50:] + r[:50], troubles={"out_of_order": 50}, used=3)
simple("latest-first", rows=lambda r: r[::-1], troubles={"descending": 144}, used=3)
simple("gap-of-an-hour", keep=lambda t: not (t.day == 15 and t.hour == 10), gaps=[["2024-06-15 10:00", 60, "bridged"]], used=3)
simple("gap-of-half-a-day", days=16, keep=lambda t: not (t.day == 24 and t.hour < 12), gaps=[["2024-06-24 00:00", 720, "like_day"]], used=16)
simple("gap-of-three-days", days=16, keep=lambda t: not 20 <= t.day <= 22, gaps=[["2024-06-20 00:00", 4320, "left_out"]], used=13)
simple("gap-of-five-minutes", minutes=5, keep=lambda t: not (t.day == 15 and t.hour == 10 and t.minute == 5),
       gaps=[["2024-06-15 10:05", 5, "shared"]], used=3)
simple("cut-first-and-last-day", keep=lambda t: not (t.day == 14 and t.hour < 9) and not (t.day == 16 and t.hour > 20), says="cut by the span", used=1)
simple("overlapping", rows=lambda r: r[:30] + ["2024-06-14 15:15,9.999,9.999"] + r[30:], troubles={"overlapping": 1}, used=3)
simple("seconds-off", at=lambda t: f"{t + timedelta(seconds=dice(t.minute + t.hour * 60) % 9):%Y-%m-%d %H:%M:%S}", used=3)
simple("missing-cells", head="time,export_kwh,import_kwh", cells=lambda t, e, i: [kwh(e), kwh(i)],
       rows=lambda r: r + ["2024-06-17 00:00,NaN,", "2024-06-17 00:30,n/a,-", "2024-06-17 01:00"],
       troubles={"missing": 4, "short_row": 1}, used=3)
simple("words-for-numbers", rows=lambda r: r + ["2024-06-17 00:00,broken,ask"], troubles={"not_a_number": 2}, used=3)
simple("spike", rows=lambda r: r + ["2024-06-17 00:00,65535.000,0.100"], extra=[("2024-06", "import", 100)], troubles={"spike": 1})
simple("a-few-below-zero", rows=lambda r: r + ["2024-06-17 00:00,-0.003,0.100"], extra=[("2024-06", "import", 100)], troubles={"negative": 1})

# Steps.
simple("hourly", minutes=60, says="shared evenly", used=3)
simple("quarter-hours", minutes=15, used=3)
simple("ten-minutes", minutes=10, used=3)


def hours_then_halves():
    total, lines = Sum(), ["time,export_kwh,import_kwh"]
    for t in times("2024-06-14", 2, 60) + times("2024-06-16", 3, 30):
        minutes = 60 if t.day < 16 else 30
        e, i = export_wh(t, minutes), import_wh(t, minutes)
        total.add(t, "export", e)
        total.add(t, "import", i)
        lines.append(f"{t:%Y-%m-%d %H:%M},{kwh(e)},{kwh(i)}")
    put("hours-then-half-hours", "\n".join(lines) + "\n", total, used=5)


hours_then_halves()

# Units.
simple("watts", minutes=5, head="time,export power,import power", cells=lambda t, e, i: [str(e * 12), str(i * 12)], used=3)
simple("kilowatts", head="time,export (kW),import (kW)", cells=lambda t, e, i: [kwh(2 * e), kwh(2 * i)], used=3)
simple("watt-hours-by-size", head="time,export,import", cells=lambda t, e, i: [str(e), str(i)], says="by size not kWh", used=3)
simple("megawatt-hours", head="time,export MWh,import MWh", cells=lambda t, e, i: [f"{e / 1e6:.6f}", f"{i / 1e6:.6f}"], used=3)
simple("units-in-cells", head="time,export,import", cells=lambda t, e, i: [kwh(e) + " kWh", kwh(i) + " kWh"], used=3)
simple("export-below-zero", cells=lambda t, e, i: ["-" + kwh(e), kwh(i)], says="its sign was turned", used=3)


def net(name, sign, options=None):
    total, lines = Sum(), ["time,net kWh"]
    for t in times("2024-06-14", 3, 30):
        wh = import_wh(t, 30) - export_wh(t, 30)
        total.add(t, "export", max(0, -wh))
        total.add(t, "import", max(0, wh))
        wh *= sign
        lines.append(f"{t:%Y-%m-%d %H:%M},{'-' if wh < 0 else ''}{kwh(abs(wh))}")
    put(name, "\n".join(lines) + "\n", total, options=options or {}, says="net column", used=3)


net("net", 1)
net("net-export-above-zero", -1, {"net_export_positive": True})


# Registers.
def register(name, change=lambda k, wh: wh, skip=lambda t: False, begin=1234567, counts=lambda k: True, head="time,export register kWh", **more):
    """A register read every half hour; `counts(k)`: whether the k-th interval can be told from the readings."""
    total, lines, reading = Sum(), [head], begin
    stamps = times("2024-06-14", 3, 30)
    for k, t in enumerate(stamps + [stamps[-1] + timedelta(minutes=30)]):
        if not skip(t):
            lines.append(f"{t:%Y-%m-%d %H:%M},{kwh(change(k, reading))}")
        if k < len(stamps):
            wh = export_wh(t, 30)
            reading += wh
            if counts(k):
                total.add(t, "export", wh)
    put(name, "\n".join(lines) + "\n", total, **more)


register("register", says="rises", used=3)
register("register-by-data-only", head="time,export", used=3)
register("register-gap", skip=lambda t: t.day == 15 and t.hour in (10, 11), used=3, gaps=[["2024-06-15 09:30", 150, "register_like_day"]])
register("register-glitch", change=lambda k, wh: 0 if k == 70 else wh, troubles={"glitch": 1}, used=3)
register("register-roll-over", begin=99_990_000, change=lambda k, wh: wh % 100_000_000, troubles={"roll_over": 1}, used=3)


def exchanged():
    """The meter is exchanged at night, when nothing flows: the new one starts at 0."""
    at = 48 + 4
    stamps = times("2024-06-14", 3, 30)
    before = 1234567 + sum(export_wh(t, 30) for t in stamps[:at])
    register("register-exchanged", change=lambda k, wh: wh - before if k >= at else wh, troubles={"reset": 1}, used=3)


exchanged()


# Layouts.
def by_register():
    total, lines = Sum(), ["Meter,Read Value,Read Type,Read Date and End Time"]
    for t in reversed(times("2024-06-14", 3, 30)):
        end = t + timedelta(minutes=30)
        for kind, words, wh in (("import", "Active Import Interval (kW)", import_wh(t, 30)), ("export", "Active Export Interval (kW)", export_wh(t, 30))):
            total.add(t, kind, wh)
            lines.append(f"10000000001,{kwh(2 * wh)},{words},{end:%d-%m-%Y %H:%M}")
    put("a-row-for-each-register", "\n".join(lines) + "\n", total, used=3)


by_register()


def a_row_for_each_day():
    total = Sum()
    hours = [f"{m // 60:02d}:{m % 60:02d}" for m in range(0, 1440, 30)]
    lines = [",".join(["Date"] + hours)]
    for day in range(14, 18):
        row = [f"2024-06-{day}"]
        for t in times(f"2024-06-{day}", 1, 30):
            total.add(t, "export", export_wh(t, 30))
            row.append(kwh(export_wh(t, 30)))
        lines.append(",".join(row))
    put("a-row-for-each-day", "\n".join(lines) + "\n", total, used=4)


a_row_for_each_day()


def no_heading():
    total = Sum()
    lines = []
    for t in times("2024-06-14", 3, 30):
        total.add(t, "export", export_wh(t, 30))
        lines.append(f"{t:%Y-%m-%d %H:%M},{kwh(export_wh(t, 30))}")
    put("no-headings", "\n".join(lines), total, says="only column of numbers", used=3)


no_heading()


def gas():
    total, lines = Sum(), ["date;Erdgas (m3)"]
    for day in range(92):
        t = datetime(2024, 6, 1) + timedelta(days=day)
        litres = 500 + dice(day)
        total.add(t, "gas", litres * 11)
        lines.append(f"{t:%d.%m.%Y};{litres // 1000},{litres % 1000:03d}")
    put("gas-by-day", "\n".join(lines) + "\n", total, used=92)


gas()
simple("two-tariffs", head="time,Export T1 (kWh),Export T2 (kWh),Import T1 (kWh),Import T2 (kWh)", used=3,
       cells=lambda t, e, i: [kwh(e - e // 3), kwh(e // 3), kwh(i if t.hour < 7 else 0), kwh(0 if t.hour < 7 else i)])
simple("a-number-of-the-meter-first", head="meter,time,export_kwh,import_kwh", at=lambda t: f"1013214567,{t:%Y-%m-%d %H:%M}", used=3)
simple("solar-twice", head="time,export_kwh,import_kwh,solar to home kWh,solar total kWh",
       cells=lambda t, e, i: [kwh(e), kwh(i), kwh(e), kwh(2 * e)], says="none is used", used=3)
simple("all-four", head="time,export_kwh,import_kwh,generation_kwh,gas_kwh",
       cells=lambda t, e, i: [kwh(e), kwh(i), kwh(e + 100 if e else 0), "0.5"], used=3)

# What cannot be read, and says why.
put("empty", "", error="no readings")
put("only-headings", "time,export_kwh\n", error="no row")
put("no-dates", "hour,export_kwh\n1,0.5\n2,0.6\n", error="no row")
put("a-web-page", "<!DOCTYPE html>\n<html><body>Please log in</body></html>\n", error="no row")
put("one-reading", "time,export_kwh\n2024-06-14 12:00,0.5\n", error="fewer than two")
put("two-exports", "time,export A kWh,export B kWh\n" + "".join(f"2024-06-14 {h:02d}:00,0.5,0.6\n" for h in range(24)), error="2 columns could be the export")
put("nameless-columns", "time,a,b\n" + "".join(f"2024-06-14 {h:02d}:00,0.5,0.6\n" for h in range(24)), error="no heading says")
put("daily-readings", "date,export_kwh\n" + "".join(f"2024-06-{d:02d},5.0\n" for d in range(1, 30)), error="24.0 hours apart")
put("unknown-zone", "time,export_kwh\n2024-06-14 12:00,0.5\n2024-06-14 12:30,0.5\n", error="no time zone", options={"zone": "Europe/Atlantis"})
put("a-column-that-is-not-there", "time,export_kwh\n2024-06-14 12:00,0.5\n2024-06-14 12:30,0.5\n", error="no column", options={"columns": {"export": "feed"}})
put("a-century", "time,export_kwh\n1995-06-14 12:00,0.5\n1995-06-14 12:30,0.5\n2094-06-14 12:30,0.5\n", error="30 years")
put("nothing-but-gaps", "time,export_kwh\n" + "".join(f"2024-06-14 {h:02d}:00,\n" for h in range(24)), error="no reading has a value",
    options={"columns": {"export": "export_kwh"}})
put("decimal-commas-between-commas", "time,export_kwh,import_kwh\n" + "".join(f"2024-06-14 {h:02d}:00,0,5,0,6\n" for h in range(24)), error="more cells than headings")

(HERE / "truth.json").write_text(json.dumps(TRUTH, indent=1, sort_keys=True) + "\n")
print(len(TRUTH), "files")
