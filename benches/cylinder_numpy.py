"""The cylinder of examples/cylinder_speed.rs in NumPy, vectorised over runs: the same homes, days and physics.

    cylinder_numpy.py [--runs 10000] [--days 365] [--block 10000] [--shown 40] [--idle yes]

Written for speed as NumPy goes: columns of a block of runs, one row for each layer, results into arrays that exist, work
skipped that no run of the block needs. Prints, as JSON, the seconds spent in the cylinder (days are made outside) and the
heat of the first runs by month.
"""

import argparse
import json
import time

import numpy as np

STEPS, LAYERS = 48, 10
HOURS = 24.0 / STEPS
LITRE = 4.186 / 3600.0
FIRST_DAYS = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365]
PROFILE = np.array([9, 5, 3, 3, 9, 28, 93, 121, 84, 51, 37, 33, 37, 33, 28, 33, 47, 70, 79, 65, 47, 42, 28, 15.0])
COLD = [8.0, 8.2, 9.3, 12.7, 14.6, 16.7, 18.4, 17.6, 16.6, 14.3, 11.1, 8.5]
OUTPUTS = ["heat_from_sun", "heat_from_backup", "heat_drawn", "heat_lost_standing", "exported", "imported"]
COUNTS = 1.0 / np.arange(1, LAYERS + 1)[:, None]


def share(run, what):
    """A number in [0, 1) for each run: finaliser of Stafford (Steele, Lea, Flood 2014)."""
    with np.errstate(over="ignore"):
        z = run * np.uint64(4096) + np.uint64(what) + np.uint64(0x9E3779B97F4A7C15)
        z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
        z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    return ((z ^ (z >> np.uint64(31))) >> np.uint64(11)).astype(float) / 2.0**53


def a_day(day, run):
    """Export, import and litres of a day: [step, run]."""
    season = 1.0 - abs(day - 172.0) / 193.0
    away = (np.arange(STEPS) * 0.5 + 0.25 - 12.5) / (4.0 + 4.0 * season)
    sun = np.maximum(1.0 - away * away, 0.0) * (0.35 + 0.65 * season)
    clear = 0.1 + 0.9 * share(run, 8 * day + 1)
    drawn = 108.0 * (0.4 + 1.2 * share(run, 8 * day + 2))
    home = 0.1 + 0.15 * share(run, 8 * day + 3)
    surplus = 1.4 * clear * sun[:, None] - home
    return np.maximum(surplus, 0.0), np.maximum(-surplus, 0.0), drawn * np.repeat(PROFILE / 2000.0, 2)[:, None]


class Homes:
    """A block of runs."""

    def __init__(self, run):
        n = len(run)
        self.run = run
        self.volume = 120.0 + 130.0 * share(run, 3001)
        loss = 1.2 + 1.2 * share(run, 3002)
        self.set_point = 58.0 + 10.0 * share(run, 3003)
        self.threshold = (20.0 + 130.0 * share(run, 3004)) / 1000.0 * HOURS
        self.up_to = 55.0 + 8.0 * share(run, 3005)
        self.ambient = 14.0 + 8.0 * share(run, 3006)
        self.capacity = self.volume * LITRE / LAYERS
        self.fade = -np.expm1(-loss / (24.0 * 45.0 * self.volume * LITRE) * HOURS)
        diameter = np.cbrt(4.0 * self.volume / 1000.0 / (np.pi * 3.0))
        between = 1.5 * (np.pi / 4.0 * diameter**2) / (3.0 * diameter / LAYERS) * HOURS / 1000.0
        self.exchange = -0.5 * np.expm1(-2.0 * between / self.capacity)
        self.water = np.tile(np.maximum(self.up_to, COLD[0]), (LAYERS, 1))
        self.firing, self.due, self.held = np.zeros(n, bool), np.zeros(n, bool), np.zeros(n)
        self.totals = {name: np.zeros((12, n)) for name in OUTPUTS}
        self.work, self.flow = np.empty((LAYERS, n)), np.empty((LAYERS - 1, n))

    def room(self, low, target):
        work = np.subtract(target, self.water[low:], out=self.work[low:])
        return np.maximum(work, 0.0, out=work).sum(axis=0) * self.capacity

    def heat(self, low, kwh):
        """Heat into layer `low`, rising: the least level at which the lowest 1, 2, 3, ... layers use it up."""
        water, work = self.water[low:], self.work[low:]
        np.cumsum(water, axis=0, out=work)
        work += kwh / self.capacity
        work *= COUNTS[: LAYERS - low]
        np.maximum(water, np.where(kwh > 0.0, work.min(axis=0), -np.inf), out=water)

    def draw(self, litres, cold, month):
        left = litres * LITRE
        while True:
            top = self.water[-1]
            ratio = np.where(top > 55.0, (55.0 - cold) / np.maximum(top - cold, 1e-9), 1.0)
            wanted = left * ratio
            moved = np.minimum(wanted, self.capacity)
            self.totals["heat_drawn"][month] += moved * (top - cold)
            over = wanted > self.capacity
            part = moved / self.capacity
            flow = np.subtract(self.water[:-1], self.water[1:], out=self.flow)
            flow *= part
            self.water[1:] += flow
            self.water[0] += part * (cold - self.water[0])
            self.settle()
            if not over.any():
                return
            left = np.where(over, left - self.capacity / ratio, 0.0)

    def settle(self):
        light = self.water[0] > self.water[1]
        if light.any():
            level = (np.cumsum(self.water, axis=0) * COUNTS).min(axis=0)
            mixed = np.maximum(self.water, level)
            mixed[0] = level
            self.water = np.where(light, mixed, self.water)

    def backup(self, day, step):
        """Evenings from 17 to 21; a hygiene heat-up to 60 degC every seven days from 17 on."""
        total = 0.0
        if day % 7 == 0 and step == 34:
            self.due[:], self.held[:] = True, 0.0
        if self.due.any():
            room = self.room(0, 60.0)
            total = np.where(self.due, np.minimum(15.0 * HOURS, room), 0.0)
            self.heat(0, total)
            self.held += np.where(room <= 15.0 * HOURS, HOURS - total / 15.0, 0.0)
            self.due &= self.held < 1.0 - 1e-9
        if 34 <= step < 42:
            self.firing |= self.water[5] < 50.0
            if self.firing.any():
                left = np.maximum(15.0 * HOURS - total, 0.0)
                room = self.room(1, self.up_to)
                given = np.where(self.firing, np.minimum(left, room), 0.0)
                self.heat(1, given)
                self.firing &= left < room
                total = total + given
        else:
            self.firing[:] = False
        return total

    def step(self, day, step, month, export, need, litres):
        standby = 0.002 * HOURS
        by_sun = np.minimum(export, standby)
        surplus = export - by_sun
        self.draw(litres, COLD[month], month)
        offered = np.maximum(surplus - self.threshold, 0.0)
        if offered.any():
            heat = np.minimum(np.minimum(offered * 0.99, 2.75 * HOURS), self.room(1, self.set_point))
            self.heat(1, heat)
            self.totals["heat_from_sun"][month] += heat
            surplus -= heat / 0.99
        self.totals["heat_from_backup"][month] += self.backup(day, step)
        excess = np.subtract(self.water, self.ambient, out=self.work)
        self.totals["heat_lost_standing"][month] += excess.sum(axis=0) * self.fade * self.capacity
        excess *= self.fade
        self.water -= excess
        flow = np.subtract(self.water[1:], self.water[:-1], out=self.flow)
        flow *= self.exchange
        self.water[:-1] += flow
        self.water[1:] -= flow
        self.totals["exported"][month] += surplus
        self.totals["imported"][month] += need + (standby - by_sun)


def main():
    parser = argparse.ArgumentParser()
    for name, value in (("runs", 10000), ("days", 365), ("block", 10000), ("shown", 40)):
        parser.add_argument(f"--{name}", type=int, default=value)
    parser.add_argument("--idle", default="no")
    given = parser.parse_args()
    seconds, whole, months = 0.0, time.perf_counter(), {}
    for first in range(0, given.runs, given.block):
        homes = Homes(np.arange(first, min(first + given.block, given.runs), dtype=np.uint64))
        for day in range(given.days):
            month = next(m for m in range(12) if day < FIRST_DAYS[m + 1])
            export, need, litres = a_day(day, homes.run)
            start = time.perf_counter()
            for step in range(STEPS if given.idle == "no" else 0):
                homes.step(day, step, month, export[step], need[step], litres[step])
            seconds += time.perf_counter() - start
        if first == 0:
            months = {name: homes.totals[name][:, : given.shown].T.tolist() for name in OUTPUTS}
    whole = time.perf_counter() - whole
    steps = given.runs * given.days * STEPS
    print(json.dumps({"seconds": seconds, "whole": whole, "steps": steps, "numpy": np.__version__, "months": months}))


if __name__ == "__main__":
    main()
