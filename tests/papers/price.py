#!/usr/bin/env python3
"""Works quotes out anew from docs/quote.md, sharing no code with Scupper, and compares to the cent.

    price.py SCUPPER [HOW_MANY]
    price.py --show SURVEY.json RATES.toml [PROGRAMME.toml] < ASSESSMENT.json

SCUPPER is the built command. It is asked for the assessment and the quote of the surveys in
fixtures and of HOW_MANY (default 60) random ones from a fixed seed, each with a rate book and a
programme varied at random. Compared are tasks, crew, visit lines, hours, materials, every step of
the price at all three ends, options, repairs, sensitivities and gaps. Integers and exact fractions
only. Exit code 1 when anything differs. --show prints one quote worked out here.
"""
import copy
import json
import math
import pathlib
import random
import re
import subprocess
import sys
import tempfile
import tomllib
from fractions import Fraction as F

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAMME = (ROOT / "core/programme/standard-180.toml").read_text()
BOOK = (ROOT / "core/programme/example-rates.toml").read_text()
ENDS = ("low", "likely", "high")
WAYS = ("portable_ladder", "fixed_ladder", "hatch", "stair")


def half_up(x):
    x = F(x)
    return int(math.floor(x + F(1, 2))) if x >= 0 else -int(math.floor(-x + F(1, 2)))


def percent(amount, pct):
    return half_up(F(amount) * F(str(pct)) / 100)


def mean(t):
    return half_up(F(t["low"] + 4 * t["likely"] + t["high"], 6))


def scaled(t, count, added):
    return {k: half_up(F(t[k] * count) * (100 + added) / 100) for k in ENDS}


def tag_key(tag):
    head = tag.rstrip("0123456789")
    return (head, int(tag[len(head):] or 0), tag)


def belt(designation):
    known = re.fullmatch(r"(3L|4L|5L|AX|BX|CX|A|B|C|D)0*([1-9]\d*)", re.sub(r"[\s-]", "", designation).upper())
    return known[1] + known[2] if known else designation.strip().upper()


def pieces(unit, what):
    return max(1, min(1000, sum(x["quantity"] for x in unit.get(what, []))))


class Quote:
    """One survey, its assessment, a rate book and a programme."""

    def __init__(self, survey, assessment, book, programme):
        self.survey, self.book, self.programme = survey, book, programme
        self.hazards = assessment["hazards"]
        self.units = sorted(survey.get("equipment", []), key=lambda u: tag_key(u["tag"]))
        tags = {u["tag"] for u in self.units}
        self.at_site = [h for h in self.hazards if h.get("ref") not in tags]
        counts = [f for f in survey.get("findings", []) if f.get("certainty", "observed") != "absent" and not f.get("withdrawn_by")]
        self.findings = {t: [f for f in counts if f["ref"] == t] for t in {f["ref"] for f in counts}}
        graver = ("fail", "advise", "unknown", "pass")
        self.checks = {}
        for verdict in reversed(graver):
            self.checks |= {(c["rule"], c["ref"]): verdict for c in assessment["checks"] if c["verdict"] == verdict}
        site = survey.get("site", {})
        self.roofs = ([site["roof"]] if site.get("roof") else []) + site.get("more_roofs", [])
        self.lists = set(book["crew"]["stand_by_for"]) | set(book["crew"]["two_people_for"])

    def verdict(self, rule, unit):
        return self.checks.get((rule, unit["tag"]))

    # Section 3
    def place(self, unit):
        edges = [h for h in self.hazards if h.get("ref") == unit["tag"] and h["kind"] == "unprotected_edge"]
        zones = [h.get("zone") for h in edges]
        if "under_6_ft" in zones or None in zones:
            return "close"
        if "6_to_15_ft" in zones or self.verdict("edge-distance", unit) in ("fail", "advise"):
            return "near"
        return "away" if self.verdict("edge-distance", unit) == "pass" else "unknown"

    def people(self, unit):
        at = [h for h in self.hazards if h.get("ref") == unit["tag"]]
        stands_by = any(h["kind"] in self.book["crew"]["stand_by_for"] and h.get("zone") in ("under_6_ft", None) for h in at)
        return 2 if self.place(unit) == "close" or stands_by else 1

    def visit(self):
        """Visit lines but travel as (entry, times, point, cents), and the crew."""
        book, lines = self.book, []
        two = any(h["kind"] in self.lists for h in self.hazards)
        ways = [r["access"]["kind"] for r in self.roofs if r.get("access")]
        for kind in WAYS if ways else ["unknown"]:
            times = ways.count(kind) if ways else 1
            if times:
                way = book["access"][kind]
                lines.append((f"access {kind}", times, way["minutes"], way.get("cents_per_visit", 0)))
                two |= way.get("two_people", False)
        climbs = [r["access"].get("climb_ft", r.get("height_ft")) for r in self.roofs
                  if (r.get("access") or {}).get("kind") == "portable_ladder"]
        high = sum(c is not None and c > book["lift"]["above_climb_ft"] for c in climbs)
        if high:
            lines.append(("lift", high, book["lift"]["minutes"], book["lift"]["cents_per_visit"]))
            two = True
        edge = any(h["kind"] == "unprotected_edge" and h.get("zone") != "over_15_ft" for h in self.at_site)
        if edge or any(self.place(u) != "away" for u in self.units):
            gear = book["fall_protection"]
            lines.append(("fall protection", 1, gear["minutes"], gear.get("cents_per_visit", 0)))
            two = True
        if any(h["kind"] == "unguarded_opening" for h in self.hazards):
            gear = book["openings"]
            lines.append(("open holes", 1, gear["minutes"], gear.get("cents_per_visit", 0)))
            two |= gear.get("two_people", False)
        return lines, 2 if two else book["crew"]["usual"]

    # Sections 1 and 2
    def entry(self, task, unit, tons):
        for i, e in enumerate(self.book["minutes"]):
            if (e["task"] == task and (not e.get("kinds") or unit["kind"] in e["kinds"])
                    and ("up_to_tons" not in e or tons is not None and tons <= e["up_to_tons"])):
                return f"minutes {i} {task}", e["minutes"], e.get("per", "unit")
        return "unlisted_minutes", self.book["unlisted_minutes"], "unit"

    def holds(self, adjustment, unit):
        if adjustment.get("past_median_life"):
            return self.verdict("service-life", unit) in ("advise", "fail")
        return any(f["component"] == adjustment["component"] and f["condition"] in adjustment["conditions"]
                   for f in self.findings.get(unit["tag"], []))

    def tasks(self, scope, asked):
        lines = []
        for unit in self.units:
            plate = unit.get("nameplate", {})
            tons, people = plate.get("capacity_tons"), self.people(unit)
            for task in self.programme["tasks"]:
                part, needs = task.get("part"), task.get("needs")
                if (unit["kind"] not in task["kinds"]
                        or needs == "gas" and not (plate.get("gas_input_btuh") or 0) > 0
                        or needs == "belts" and not unit.get("belts")
                        or "from_tons" in task and tons is not None and tons < task["from_tons"]
                        or part in ("coil_cleaning", "belts") and not scope[part]):
                    continue
                moved = [a for a in self.programme.get("adjustments", [])
                         if (not a.get("tasks") or task["task"] in a["tasks"]) and self.holds(a, unit)]
                added = sum(F(str(a.get("add_percent", 0))) for a in moved)
                often = max([task["per_year"]] + [a.get("at_least_per_year", 0) for a in moved])
                often = min(often, asked) if asked else often
                name, point, per = self.entry(task["task"], unit, tons)
                count = 1 if per == "unit" else pieces(unit, per + "s")
                line = {"unit": unit, "task": task["task"], "part": part, "per_year": often, "people": people,
                        "entry": name, "added": added, "point": scaled(point, count, added)}
                lines.append(line)
                if part == "coil_cleaning":
                    hose = self.verdict("hose-reach", unit) == "pass"
                    point = self.book["water"]["hose_minutes" if hose else "carried_minutes"]
                    lines.append(line | {"task": "bring_water", "point": point, "entry": "water hose" if hose else "water carried"})
        return lines

    # Section 5
    def takeoff(self, lines, scope):
        orders = {}  # item -> [per round, per year, cents each]

        def order(item, quantity, times, cents):
            at = orders.setdefault(item, [0, 0, cents])
            at[0] += quantity
            at[1] += quantity * times

        filters, belts = self.book["filters"], self.book["belts"]
        sets = []
        for line in lines:
            unit, times = line["unit"], line["per_year"]
            if line["task"] == "replace_filters" and scope["filters"]:
                for f in unit.get("filters", []):
                    a, b = sorted(math.ceil(f[k]) for k in ("width_in", "height_in"))
                    d = math.ceil(f["depth_in"])
                    size = f"{a}x{b}x{d}"
                    by_depth = filters.get("unlisted_by_depth_cents", {}).get(str(d), filters["unlisted_cents"])
                    order(f"filter {size}", min(1000, f["quantity"]), times, filters.get("cents", {}).get(size, by_depth))
            if line["task"] == "replace_belts":
                for b in unit["belts"]:
                    sets.append((belt(b["designation"]), min(1000, b["quantity"]), times))
            if line["part"] == "coil_cleaning" and line["task"] != "bring_water":
                order("coil cleaner", 1, times, self.book["water"]["cleaner_cents"])
        names = {name for name, _, _ in sets}
        listed = {belt(name): cents for name, cents in belts.get("cents", {}).items()}
        for name, quantity, times in sets:
            light = re.fullmatch(r"([45])L(\d+)0", name)
            if light:
                section, less = {"4": ("A", 2), "5": ("B", 3)}[light[1]]
                classical = f"{section}{int(light[2]) - less}"
                name = classical if classical in names else name
            order(f"belt {name}", quantity, times, listed.get(name, belts["unlisted_cents"]))
        return orders

    # Section 6
    def ladder(self, labour, materials, hire):
        up, tax = self.book["markup"], self.book.get("tax", {"percent": 0, "on": "nothing"})
        ups = [percent(labour, up["labour_percent"]), percent(materials, up["materials_percent"]), percent(hire, up["hire_percent"])]
        subtotal = labour + materials + hire + sum(ups)
        contingency = percent(subtotal, self.book["contingency_percent"])
        on = {"nothing": 0, "materials": materials + ups[1], "everything": subtotal + contingency}[tax["on"]]
        due = percent(on, tax["percent"])
        return {"labour_cents": labour, "labour_markup_cents": ups[0], "materials_cents": materials, "materials_markup_cents": ups[1],
                "hire_cents": hire, "hire_markup_cents": ups[2], "contingency_cents": contingency, "tax_cents": due,
                "price_cents": subtotal + contingency + due}

    def labour(self, first, second):
        rates = self.book["labour"]
        return (half_up(F(first * rates["technician_cents_per_hour"], 60))
                + half_up(F(second * rates["second_person_cents_per_hour"], 60)))

    # Sections 4 and 6 at some terms
    def at(self, scope, asked):
        lines = self.tasks(scope, asked)
        visits = asked or max([1] + [l["per_year"] for l in lines])
        visit, crew = self.visit()
        travel = self.book["travel"]
        on_visit = visit + [("travel", 1, travel["minutes"], travel.get("vehicle_cents_per_visit", 0))]
        parts = [(l["entry"], l["task"], l["per_year"], l["people"], l["point"]) for l in lines]
        parts += [(name, name, visits * times, crew, point) for name, times, point, _ in on_visit]
        total = lambda of: sum(times * people * of(point) for _, _, times, people, point in parts)
        likely = total(mean)
        widths = {}
        for name, _, times, people, point in parts:
            widths[name] = widths.get(name, 0) + times * people * (point["high"] - point["low"])
        r = F(str(self.book["range"]["correlation_percent"])) / 100
        spread = (1 - r) * sum(w * w for w in widths.values()) + r * sum(widths.values()) ** 2
        away = math.isqrt(math.floor(F(str(self.book["range"]["sigmas"])) ** 2 * spread / 36))
        minutes = [max(likely - away, total(lambda p: p["low"])), likely, min(likely + away, total(lambda p: p["high"]))]
        orders = self.takeoff(lines, scope)
        materials = sum(year * cents for _, year, cents in orders.values())
        first = sum(times * mean(point) for _, _, times, _, point in parts)
        hire = visits * sum(times * cents for _, times, _, cents in on_visit)
        labour = self.labour(first, likely - first)
        steps = [self.ladder(half_up(F(labour * m, likely)) if likely else 0, materials, hire) for m in minutes]
        return {"lines": lines, "visits": visits, "visit": visit, "crew": crew, "parts": parts, "minutes": minutes, "orders": orders,
                "first": first, "second": likely - first, "labour": labour, "materials": materials, "hire": hire, "steps": steps}

    # Section 7
    def options(self, base, scope, asked):
        found = {}
        for part in ("coil_cleaning", "belts", "filters"):
            code = ("without_" if scope[part] else "with_") + part
            found[code] = self.at(scope | {part: not scope[part]}, asked)["steps"]
        for n in self.book.get("options", {}).get("visits_per_year", []):
            if n != base["visits"]:
                found[f"visits_{n}"] = self.at(scope, n)["steps"]
        price = [s["price_cents"] for s in base["steps"]]
        prices = {code: [s["price_cents"] for s in steps] for code, steps in found.items()}
        return {code: p + [p[1] - price[1]] for code, p in prices.items() if p != price}

    def repairs(self, base):
        done = {(l["unit"]["tag"], l["task"]) for l in base["lines"]}
        kinds = {u["tag"]: u["kind"] for u in self.units}
        found = []
        for f in (f for list in self.findings.values() for f in list):
            cared = any(c["component"] == f["component"] and f["condition"] in c["conditions"] and (f["ref"], c["task"]) in done
                        for c in self.programme.get("covered", []))
            if f["condition"] == "good" or f.get("severity") == "note" or cared:
                continue
            fits = [e for e in self.book.get("repairs", []) if e["component"] == f["component"]
                    and (not e.get("conditions") or f["condition"] in e["conditions"])
                    and (not e.get("kinds") or kinds.get(f["ref"]) in e["kinds"])]
            price = None
            if fits:
                price = self.ladder(self.labour(mean(fits[0]["minutes"]), 0), fits[0].get("parts_cents", 0), 0)["price_cents"]
            found.append([f["ref"], f["component"], f["condition"], price])
        return sorted(found, key=str)

    def sensitivities(self, base):
        likely, labour, materials, hire = base["minutes"][1], base["labour"], base["materials"], base["hire"]
        price = lambda l, m, h: self.ladder(l, m, h)["price_cents"]
        tenth = lambda x: (x - percent(x, 10), x + percent(x, 10))
        rows = [("hourly cost of labour, a tenth down and up", [price(x, materials, hire) for x in tenth(labour)])]
        named = {}
        for entry, task, times, people, point in base["parts"]:
            if entry == "unlisted_minutes":
                name = "tasks that the rate book does not list"
            else:
                name = (task if entry.startswith("minutes") else entry).replace("_", " ")
            at = named.setdefault(name, [0, 0, 0])
            for i, minutes in enumerate((point["low"], mean(point), point["high"])):
                at[i] += times * people * minutes
        for name, (low, mid, high) in named.items():
            ends = [half_up(F(labour * (likely - mid + end), likely)) if likely else 0 for end in (low, high)]
            rows.append((f"minutes of {name}, low to high", [price(x, materials, hire) for x in ends]))
        for what in ("filter", "belt"):
            cost = sum(year * cents for item, (_, year, cents) in base["orders"].items() if item.startswith(what + " "))
            rows.append((f"{what} prices, a tenth down and up",
                         [price(labour, materials + s * percent(cost, 10), hire) for s in (-1, 1)]))
        rows.append(("vehicle, gear and hire, a tenth down and up", [price(labour, materials, x) for x in tenth(hire)]))
        rows = [(name, low, high) for name, (low, high) in rows if high > low]
        return [list(row) for row in sorted(rows, key=lambda row: (row[1] - row[2], row[0]))[:5]]

    def gaps(self, base, scope, asked):
        found = []
        book, unknown = self.book, self.book["unknown"]

        def gap(about, field, minutes, people, materials=0, hire=0):
            more = self.labour(base["first"] + minutes, base["second"] + minutes * (people - 1))
            price = self.ladder(more, base["materials"] + materials, base["hire"] + hire)["price_cents"]
            now = self.ladder(base["labour"], base["materials"], base["hire"])["price_cents"]
            found.append([about, field, price - now])

        def programmed(task, unit):
            for t in self.programme["tasks"]:
                if t["task"] == task and unit["kind"] in t["kinds"]:
                    if t.get("part") in ("coil_cleaning", "belts") and not scope[t["part"]]:
                        return None
                    return min(t["per_year"], asked) if asked else t["per_year"]
            return None

        def minutes(task, unit, count, added=0):
            _, point, per = self.entry(task, unit, unit.get("nameplate", {}).get("capacity_tons"))
            return mean(scaled(point, 1 if per == "unit" else max(1, count), added))

        for unit in self.units:
            tag, plate = unit["tag"], unit.get("nameplate", {})
            lines = [l for l in base["lines"] if l["unit"] is unit]
            people = max([1] + [l["people"] for l in lines])
            for l in lines:
                if l["task"] == "replace_filters" and not unit.get("filters"):
                    n = unknown["filters_per_unit"]
                    more = (minutes("replace_filters", unit, n, l["added"]) - mean(l["point"])) * l["per_year"]
                    cost = n * l["per_year"] * book["filters"]["unlisted_cents"] if scope["filters"] else 0
                    gap(tag, "filters", more, people, cost)
            looks, n = programmed("inspect_belts", unit), unknown["belts_per_unit"]
            if looks is not None and not unit.get("belts") and n:
                fits = programmed("replace_belts", unit) or 0
                more = minutes("inspect_belts", unit, n) * looks + minutes("replace_belts", unit, n) * fits
                gap(tag, "belts", more, people, n * fits * book["belts"]["unlisted_cents"])
            if plate.get("capacity_tons") is None:
                more = 0
                for l in (l for l in lines if l["task"] != "bring_water"):
                    small, large = self.entry(l["task"], unit, 0), self.entry(l["task"], unit, None)
                    if small[0] != large[0] and small[2] == "unit":
                        more += (mean(scaled(small[1], 1, l["added"])) - mean(l["point"])) * l["per_year"]
                if more:
                    gap(tag, "nameplate.capacity_tons", more, people)
            if plate.get("gas_input_btuh") is None:
                gas = [t for t in self.programme["tasks"] if t.get("needs") == "gas" and unit["kind"] in t["kinds"]]
                more = sum(minutes(t["task"], unit, 1) * (programmed(t["task"], unit) or 0) for t in gas)
                if more:
                    gap(tag, "nameplate.gas_input_btuh", more, people)
            if self.place(unit) == "unknown":
                second = sum(mean(l["point"]) * l["per_year"] for l in lines if l["people"] < 2)
                more = self.labour(base["first"], base["second"] + second)
                price = self.ladder(more, base["materials"], base["hire"])["price_cents"]
                now = self.ladder(base["labour"], base["materials"], base["hire"])["price_cents"]
                found.append([tag, "at_ft", price - now])
            for l in lines:
                if l["task"] == "bring_water" and self.verdict("hose-reach", unit) in (None, "unknown"):
                    less = mean(book["water"]["hose_minutes"]) - mean(l["point"])
                    gap(tag, "water_sources", less * l["per_year"], people)
                    break
        for tag in {u["tag"] for u in self.units}:
            same = [u for u in self.units if u["tag"] == tag]
            work = []
            for u in same:
                lines = [l for l in base["lines"] if l["unit"] is u]
                work.append((sum(mean(l["point"]) * l["per_year"] for l in lines), max([1] + [l["people"] for l in lines])))
            if len(same) > 1:
                minutes, people = min(work)
                gap(tag, "tag", -minutes, people)
        if self.units and not any(r.get("access") for r in self.roofs):
            now, stair = book["access"]["unknown"], book["access"]["stair"]
            less = (mean(stair["minutes"]) - mean(now["minutes"])) * base["visits"]
            gap("site", "site.access", less, base["crew"], 0,
                (stair.get("cents_per_visit", 0) - now.get("cents_per_visit", 0)) * base["visits"])
        return sorted(found)

    def all(self):
        if not self.units:
            return {"price": [0, 0, 0], "visits": 0, "repairs": self.repairs({"lines": []})}
        scope, asked = self.book["scope"], self.book.get("visits_per_year")
        base = self.at(scope, asked)
        return {
            "price": [s["price_cents"] for s in base["steps"]], "visits": base["visits"], "crew": base["crew"],
            "tasks": sorted([l["unit"]["tag"], l["task"], l["per_year"], mean(l["point"]), l["people"]] for l in base["lines"]),
            "visit": [[name, times, mean(point), cents] for name, times, point, cents in base["visit"]],
            "access": sum(times * mean(point) for _, times, point, _ in base["visit"]),
            "minutes": base["minutes"], "hours": [half_up(F(m * 100, 60)) for m in base["minutes"]], "steps": base["steps"],
            "materials": sorted([item, *order, order[1] * order[2]] for item, order in base["orders"].items()),
            "options": self.options(base, scope, asked), "repairs": self.repairs(base),
            "sensitivities": self.sensitivities(base), "gaps": self.gaps(base, scope, asked),
        }


def told(quote):
    """The same out of what Scupper answers."""
    repairs = sorted(([r["ref"], r["component"], r["condition"], r["price_cents"]] for r in quote["repairs"]), key=str)
    out = {"price": [quote["price_cents_per_year"][e] for e in ENDS], "visits": quote["visits_per_year"], "repairs": repairs}
    if not out["visits"]:
        return out
    ends = lambda range: [range[e] for e in ENDS]
    return out | {
        "crew": quote["crew"]["size"],
        "tasks": sorted([t["ref"], t["task"], t["per_year"], t["minutes"], t["people"]] for t in quote["tasks"]),
        "visit": [[l["item"], l["times"], l["minutes"], l["cents"]] for l in quote["access"]["lines"]],
        "access": quote["access"]["minutes_per_visit"], "minutes": ends(quote["labour_minutes_per_year"]),
        "hours": [round(h * 100) for h in ends(quote["labour_hours_per_year"])], "steps": ends(quote["build_up"]),
        "materials": sorted([m["item"], m["per_round"], m["per_year"], m["unit_cost_cents"], m["cost_cents_per_year"]]
                            for m in quote["materials"]),
        "options": {o["option"]: ends(o["price_cents_per_year"]) + [o["adds_cents_per_year"]] for o in quote["options"]},
        "sensitivities": [[s["input"], s["price_cents_at_low"], s["price_cents_at_high"]] for s in quote["sensitivities"]],
        "gaps": sorted([g["ref"], g["field"], g["could_move_price_by_cents"]] for g in quote["missing"]),
    }


KINDS = sorted({k for t in tomllib.loads(PROGRAMME)["tasks"] for k in t["kinds"]})
HAZARDS = ["unprotected_edge", "unguarded_opening", "gas_leak", "trip", "structural", "live_electrical"]


def random_survey(draw, n):
    pick = draw.choice
    units = []
    for k in range(draw.randrange(0, 9)):
        unit = {"tag": f"U-{k + 1 if draw.random() < .95 else 1}", "kind": pick(KINDS)}
        if draw.random() < .8:
            unit |= {"at_ft": [draw.randrange(2, 118), draw.randrange(2, 78)], "size_ft": [6, 4]}
        if draw.random() < .6:
            unit["service_sides"] = draw.sample("NESW", draw.randrange(1, 3))
        unit["nameplate"] = {k: v for k, v in (("capacity_tons", pick([3, 13, 13.5, 30])), ("gas_input_btuh", pick([0, 90000])),
                             ("manufactured_year", pick([1999, 2024]))) if draw.random() < .6}
        for _ in range(pick([0, 1, 1, 2])):
            unit.setdefault("filters", []).append({"width_in": pick([16, 19.5, 20]), "height_in": pick([20, 24.5, 25]),
                                                   "depth_in": pick([1, 1.75, 2, 4, 12]), "quantity": draw.randrange(1, 7)})
        for _ in range(pick([0, 0, 1, 2])):
            unit.setdefault("belts", []).append({"designation": pick(["A42", "a-42", "4L440", "B45", "5L 480", "B55", "C90", "3vx 500"]),
                                                 "quantity": pick([1, 2])})
        units.append(unit)
    draw.shuffle(units)
    tags = [u["tag"] for u in units] + ["site"]
    adjust = [a for a in tomllib.loads(PROGRAMME)["adjustments"] if "component" in a]
    findings = []
    for _ in range(draw.randrange(0, 6)):
        a = pick(adjust)
        findings.append({"ref": pick(tags), "component": a["component"], "condition": pick(a["conditions"] + ["good", "broken"]),
                         "severity": pick(["urgent", "repair", "minor", "note"]), "certainty": pick(["observed", "suspected", "absent"])})
    hazards = [{"kind": pick(HAZARDS), "ref": pick(tags)} for _ in range(pick([0, 0, 1, 2]))]

    def roof(x):
        made = {"height_ft": pick([12, 20, 30]), "outline_ft": [[x, 0], [x + 120, 0], [x + 120, 80], [x, 80]],
                "edges": [{"from": i, "parapet_in": pick([0, 8, 42])} for i in range(4)]}
        if draw.random() < .8:
            made["access"] = {"kind": pick(WAYS), "at_ft": [x + 1, 1], "extends_ft": pick([2, 4])}
            if draw.random() < .7:
                made["access"]["climb_ft"] = pick([12, 24, 24.5])
        if draw.random() < .4:
            made["openings"] = [{"kind": "skylight", "at_ft": [x + 60, 40], "size_ft": [4, 4], "guarded": pick([True, False])}]
        if draw.random() < .6:
            made["water_sources"] = [{"at_ft": [x + 2, 2], "at_grade": pick([True, False])}]
        return made

    site = {"name": "random", "roof": roof(0)}
    if draw.random() < .3:
        site["more_roofs"] = [roof(200) | {"id": "second"}, roof(400) | {"id": "third"}][:pick([1, 2])]
    return {"survey_id": f"random-{n}", "surveyed_on": "2026-04-14", "site": site, "equipment": units, "findings": findings,
            "hazards": hazards}


def random_book(draw):
    text, pick = BOOK, draw.choice

    def put(old, new):
        nonlocal text
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)

    put("coil_cleaning = false", f"coil_cleaning = {pick(['true', 'false'])}")
    put("belts = true", f"belts = {pick(['true', 'false'])}")
    put("filters = true", f"filters = {pick(['true', 'false'])}")
    put('currency = "USD"', f'currency = "{pick(["USD", "EUR", "JPY"])}"')
    put("contingency_percent = 5", f"contingency_percent = {pick([0, 5, 7.25])}")
    put("labour_percent = 55", f"labour_percent = {pick([0, 33.33, 55])}")
    put("materials_percent = 30", f"materials_percent = {pick([0, 12.5, 30])}")
    put("hire_percent = 15", f"hire_percent = {pick([0, 0.05, 15])}")
    put("technician_cents_per_hour = 5200", f"technician_cents_per_hour = {draw.randrange(3001, 9999)}")
    put("second_person_cents_per_hour = 3800", f"second_person_cents_per_hour = {pick([30, 3801, 5200])}")
    put("correlation_percent = 30", f"correlation_percent = {pick([0, 12.34, 30, 100])}")
    put("sigmas = 1.28", f"sigmas = {pick([0, 0.67, 1.28, 2])}")
    put("usual = 1", f"usual = {pick([1, 1, 2])}")
    put("above_climb_ft = 24", f"above_climb_ft = {pick([10, 24])}")
    put("filters_per_unit = 4", f"filters_per_unit = {pick([0, 4, 7])}")
    put("belts_per_unit = 1", f"belts_per_unit = {pick([0, 1, 3])}")
    put('stand_by_for = ["unguarded_opening"', f'stand_by_for = [{pick(["", chr(34) + "unprotected_edge" + chr(34) + ", "])}"unguarded_opening"')
    for kind in ("fixed_ladder", "hatch", "stair"):
        extra = pick(["", "cents_per_visit = 1234\n", "two_people = true\n"])
        put(f"[access.{kind}]\n", f"[access.{kind}]\n{extra}")
    put("[openings]\n", f"[openings]\ntwo_people = {pick(['true', 'false'])}\n")
    if draw.random() < .7:
        put('on = "materials"', f'on = "{pick(["materials", "everything"])}"')
    else:
        put('percent = 8.25\non = "materials"', 'percent = 0\non = "nothing"')
    if draw.random() < .4:
        put("# visits_per_year = 4 ", f"visits_per_year = {pick([1, 2, 4, 12])} #")
    # Some times are not in the book.
    entries = re.findall(r"\[\[minutes\]\]\n(?:[^\[\n].*\n)+\n?", text)
    for entry in entries:
        if draw.random() < .15:
            text = text.replace(entry, "", 1)
    return text


def random_programme(draw):
    text, pick = PROGRAMME, draw.choice
    text = text.replace("add_percent = 25", f"add_percent = {pick([25, 12.5, 33.33])}")
    text = text.replace("per_year = 2\nneeds", f"per_year = {pick([2, 3, 6])}\nneeds")
    if draw.random() < .3:
        text = text.replace('part = "coil_cleaning"\n', "", 1)
    if draw.random() < .3:
        text = text.replace("per_year = 1\nneeds = \"gas\"", "per_year = 1\nfrom_tons = 13\nneeds = \"gas\"")
    return text


def fixtures():
    """Surveys that lie in fixtures, each with its rate book where it has one of its own."""
    yield json.loads((ROOT / "fixtures/exemplar/survey.json").read_text()), BOOK
    for case in json.loads((ROOT / "fixtures/trade/odd.json").read_text()):
        yield case["survey"], BOOK
    for path in sorted((ROOT / "fixtures/quote").glob("*.json")):
        rates = path.with_suffix(".toml")
        yield json.loads(path.read_text()), rates.read_text() if rates.exists() else BOOK


def differences(found, expected, at=""):
    if isinstance(found, dict) and isinstance(expected, dict) and found.keys() == expected.keys():
        return [d for k in found for d in differences(found[k], expected[k], f"{at}.{k}")]
    if isinstance(found, list) and isinstance(expected, list) and len(found) == len(expected):
        return [d for i, (a, b) in enumerate(zip(found, expected)) for d in differences(a, b, f"{at}[{i}]")]
    return [] if found == expected else [f"{at or 'all'}: Scupper says {found}, docs/quote.md {expected}"]


def main(scupper, how_many=60):
    draw = random.Random(20260414)
    cases = [(s, b, PROGRAMME) for s, b in fixtures()]
    cases += [(random_survey(draw, n), random_book(draw), random_programme(draw)) for n in range(int(how_many))]
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        at, rates, tasks = (pathlib.Path(folder) / name for name in ("survey.json", "rates.toml", "tasks.toml"))
        for survey, book, programme in cases:
            at.write_text(json.dumps(survey))
            rates.write_text(book)
            tasks.write_text(programme)
            ask = lambda *args: json.loads(subprocess.run([scupper, *args], check=True, capture_output=True).stdout)
            assessment = ask("assess", str(at), "--json")
            found = told(ask("quote", str(at), "--ratebook", str(rates), "--programme", str(tasks), "--json"))
            expected = Quote(copy.deepcopy(survey), assessment, tomllib.loads(book), tomllib.loads(programme)).all()
            differ = differences(found, expected)
            if differ:
                wrong += 1
                print(f"{survey['survey_id']}:", *differ[:8], sep="\n  ")
    print(f"Quotes worked out anew: {len(cases) - wrong} passed, {wrong} failed")
    return 1 if wrong else 0


def show(survey, rates, programme=None):
    read = lambda path: pathlib.Path(path).read_text()
    quote = Quote(json.loads(read(survey)), json.load(sys.stdin), tomllib.loads(read(rates)),
                  tomllib.loads(read(programme) if programme else PROGRAMME))
    json.dump(quote.all(), sys.stdout, indent=1)
    return 0


if __name__ == "__main__":
    args = sys.argv[1:]
    sys.exit(show(*args[1:]) if args[:1] == ["--show"] else main(*args))
