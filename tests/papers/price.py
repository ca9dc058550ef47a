#!/usr/bin/env python3
"""Works quotes out anew from docs/quote.md, sharing no code with Scupper, and compares to the cent.

    price.py SCUPPER [HOW_MANY]

SCUPPER is the built command. It is asked for the assessment and the quote of the surveys in
fixtures and of HOW_MANY (default 60) random ones from a fixed seed, each with a rate book varied
at random. Integers and exact fractions only. Exit code 1 when anything differs.
"""
import copy
import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile
import tomllib
from fractions import Fraction as F

ROOT = pathlib.Path(__file__).resolve().parents[2]
PROGRAMME = tomllib.loads((ROOT / "core/programme/standard-180.toml").read_text())
BOOK = (ROOT / "core/programme/example-rates.toml").read_text()


def half_up(x):
    x = F(x)
    return int(math.floor(x + F(1, 2))) if x >= 0 else -int(math.floor(-x + F(1, 2)))


def percent(amount, pct):
    return half_up(F(amount) * F(str(pct)) / 100)


def mean(t):
    return half_up(F(t["low"] + 4 * t["likely"] + t["high"], 6))


def tag_key(tag):
    head = tag.rstrip("0123456789")
    return (head, int(tag[len(head):] or 0), tag)


def holds(entry, unit, findings, checks):
    if entry.get("past_median_life"):
        return checks.get("service-life") in ("advise", "fail")
    return any(f["component"] == entry["component"] and f["condition"] in entry["conditions"]
               and f.get("certainty", "observed") != "absent" for f in findings)


def price(survey, assessment, book):
    scope = book["scope"]
    units = sorted(survey.get("equipment", []), key=lambda u: tag_key(u["tag"]))
    hazards = assessment["hazards"]
    asked = book.get("visits_per_year")
    # 1 and 2: tasks
    lines = []  # entry, per_year, point, people, task, unit
    for unit in units:
        plate = unit.get("nameplate", {})
        tons = plate.get("capacity_tons")
        checks = {c["rule"]: c["verdict"] for c in assessment["checks"] if c["ref"] == unit["tag"]}
        findings = [f for f in survey.get("findings", []) if f["ref"] == unit["tag"]]
        at = [h for h in hazards if h["ref"] == unit["tag"]]
        edges = [h for h in at if h["kind"] == "unprotected_edge"]
        if any(h.get("zone") in ("under_6_ft", None) for h in edges):
            place = "close"
        elif any(h.get("zone") == "6_to_15_ft" for h in edges) or checks.get("edge-distance") in ("fail", "advise"):
            place = "near"
        elif checks.get("edge-distance") == "pass":
            place = "away"
        else:
            place = "unknown"
        unit["_place"] = place
        stand_by = any(h["kind"] in book["crew"]["stand_by_for"] and h.get("zone") in ("under_6_ft", None) for h in at)
        unit["_two"] = place != "away" or any(
            h["kind"] in book["crew"]["stand_by_for"] + book["crew"]["two_people_for"] for h in at)
        people = 2 if place == "close" or stand_by else 1
        for task in PROGRAMME["tasks"]:
            if unit["kind"] not in task["kinds"]:
                continue
            if task.get("needs") == "gas" and not plate.get("gas_input_btuh", 0) > 0:
                continue
            if task.get("needs") == "belts" and not unit.get("belts"):
                continue
            if "from_tons" in task and tons is not None and tons < task["from_tons"]:
                continue
            if task.get("part") == "coil_cleaning" and not scope["coil_cleaning"]:
                continue
            if task.get("part") == "belts" and not scope["belts"]:
                continue
            moved = [a for a in PROGRAMME["adjustments"]
                     if task["task"] in a.get("tasks", [task["task"]]) and holds(a, unit, findings, checks)]
            added = sum(a.get("add_percent", 0) for a in moved)
            often = max([task["per_year"]] + [a.get("at_least_per_year", 0) for a in moved])
            if asked:
                often = min(often, asked)
            entry = next(((i, e) for i, e in enumerate(book["minutes"])
                          if e["task"] == task["task"] and unit["kind"] in e.get("kinds", [unit["kind"]])
                          and ("up_to_tons" not in e or tons is not None and tons <= e["up_to_tons"])), None)
            name, times, per = ("unlisted", book["unlisted_minutes"], None) if entry is None else (
                entry[0], entry[1]["minutes"], entry[1].get("per"))
            held = {"filter": unit.get("filters", []), "belt": unit.get("belts", [])}.get(per)
            count = 1 if held is None else max(1, sum(x["quantity"] for x in held))
            point = {k: half_up(F(times[k] * count * (100 + added), 100)) for k in ("low", "likely", "high")}
            lines.append((name, often, point, people, task["task"], unit))
            if task["task"] == "clean_condenser_coil":
                hose = checks.get("hose-reach") == "pass"
                times = book["water"]["hose_minutes" if hose else "carried_minutes"]
                lines.append(("hose" if hose else "carried", often, times, people, "bring_water", unit))
    if not units:
        return {"price": [0, 0, 0], "visits": 0}
    visits = asked or max([1] + [l[1] for l in lines])
    # 3: visit lines
    roofs = ([survey["site"]["roof"]] if survey["site"].get("roof") else []) + survey["site"].get("more_roofs", [])
    ways = [r["access"]["kind"] for r in roofs if r.get("access")]
    visit = []  # entry, point, cents
    two = any(u["_two"] for u in units)
    for kind in ways or ["unknown"]:
        way = book["access"][kind]
        visit.append((f"access {kind}", way["minutes"], way.get("cents_per_visit", 0)))
        two |= way.get("two_people", False)
    for r in roofs:
        access = r.get("access") or {}
        climb = access.get("climb_ft", r.get("height_ft"))
        if access.get("kind") == "portable_ladder" and climb is not None and climb > book["lift"]["above_climb_ft"]:
            visit.append(("lift", book["lift"]["minutes"], book["lift"]["cents_per_visit"]))
            two = True
    site_edge = any(h["kind"] == "unprotected_edge" and h["ref"] in ("site", None) and h.get("zone") != "over_15_ft"
                    for h in hazards)
    if site_edge or any(u["_place"] != "away" for u in units):
        visit.append(("fall", book["fall_protection"]["minutes"], book["fall_protection"]["cents_per_visit"]))
        two = True
    if any(h["kind"] == "unguarded_opening" for h in hazards):
        visit.append(("holes", book["openings"]["minutes"], book["openings"]["cents_per_visit"]))
        two = True
    two |= any(h["kind"] in book["crew"]["stand_by_for"] + book["crew"]["two_people_for"] for h in hazards)
    visit.append(("travel", book["travel"]["minutes"], book["travel"].get("vehicle_cents_per_visit", 0)))
    crew = 2 if two else book["crew"]["usual"]
    # 4: hours
    parts = [(name, often * people, often, people, point) for name, often, point, people, _, _ in lines]
    parts += [(name, visits * crew, visits, crew, point) for name, point, _ in visit]
    likely = sum(times * mean(point) for _, times, _, _, point in parts)
    least = sum(times * point["low"] for _, times, _, _, point in parts)
    most = sum(times * point["high"] for _, times, _, _, point in parts)
    widths = {}
    for name, times, _, _, point in parts:
        widths[name] = widths.get(name, 0) + times * (point["high"] - point["low"])
    r = F(str(book["range"]["correlation_percent"])) / 100
    spread = (1 - r) * sum(w * w for w in widths.values()) + r * sum(widths.values()) ** 2
    square = F(str(book["range"]["sigmas"])) ** 2 * spread / 36
    away = math.isqrt(math.floor(square))
    low, high = max(likely - away, least), min(likely + away, most)
    # 5: materials
    filters, belts, cleaner = {}, {}, 0
    for name, often, _, _, task, unit in lines:
        if task == "replace_filters" and scope["filters"]:
            for f in unit.get("filters", []):
                a, b, d = (math.ceil(f[k]) for k in ("width_in", "height_in", "depth_in"))
                size = (min(a, b), max(a, b), d)
                filters[size] = filters.get(size, 0) + f["quantity"] * often
        if task == "replace_belts":
            for b in unit["belts"]:
                belts[b["designation"]] = belts.get(b["designation"], 0) + b["quantity"] * often
        if task == "clean_condenser_coil":
            cleaner += often
    materials = cleaner * book["water"]["cleaner_cents"]
    for (a, b, d), count in filters.items():
        each = book["filters"]["cents"].get(f"{a}x{b}x{d}")
        if each is None:
            each = book["filters"]["unlisted_by_depth_cents"].get(str(d), book["filters"]["unlisted_cents"])
        materials += count * each
    for name, count in belts.items():
        materials += count * book["belts"]["cents"].get(name, book["belts"]["unlisted_cents"])
    # 6: price
    first = sum(often * mean(point) for _, _, often, _, point in parts)
    second = likely - first
    labour = (half_up(F(first * book["labour"]["technician_cents_per_hour"], 60))
              + half_up(F(second * book["labour"]["second_person_cents_per_hour"], 60)))
    hire = visits * sum(cents for _, _, cents in visit)
    up, tax = book["markup"], book["tax"]
    prices = []
    for minutes in (low, likely, high):
        work = half_up(F(labour * minutes, likely)) if likely else 0
        subtotal = (work + materials + hire + percent(work, up["labour_percent"])
                    + percent(materials, up["materials_percent"]) + percent(hire, up["hire_percent"]))
        contingency = percent(subtotal, book["contingency_percent"])
        on = {"nothing": 0, "materials": materials + percent(materials, up["materials_percent"]),
              "everything": subtotal + contingency}[tax["on"]]
        prices.append(subtotal + contingency + percent(on, tax["percent"]))
    return {"price": prices, "visits": visits, "crew": crew, "minutes": [low, likely, high], "materials": materials}


def told(quote):
    ends = ("low", "likely", "high")
    out = {"price": [quote["price_cents_per_year"][e] for e in ends], "visits": quote["visits_per_year"]}
    if out["visits"]:
        out |= {"crew": quote["crew"]["size"], "minutes": [quote["labour_minutes_per_year"][e] for e in ends],
                "materials": quote["build_up"]["likely"]["materials_cents"]}
    return out


KINDS = sorted({k for t in PROGRAMME["tasks"] for k in t["kinds"]})


def random_survey(draw, n):
    pick = draw.choice
    units = []
    for k in range(draw.randrange(0, 9)):
        unit = {"tag": f"U-{k + 1}", "kind": pick(KINDS)}
        if draw.random() < .8:
            unit |= {"at_ft": [draw.randrange(2, 118), draw.randrange(2, 78)], "size_ft": [6, 4]}
        if draw.random() < .6:
            unit["service_sides"] = draw.sample("NESW", draw.randrange(1, 3))
        unit["nameplate"] = {k: v for k, v in (("capacity_tons", pick([3, 13, 13.5, 30])), ("gas_input_btuh", pick([0, 90000])),
                             ("manufactured_year", pick([1999, 2024]))) if draw.random() < .6}
        if draw.random() < .6:
            unit["filters"] = [{"width_in": pick([16, 19.5, 20]), "height_in": pick([20, 24.5, 25]),
                                "depth_in": pick([1, 2, 4, 12]), "quantity": draw.randrange(1, 7)}]
        if draw.random() < .5:
            unit["belts"] = [{"designation": pick(["A42", "B55", "C90"]), "quantity": pick([1, 2])}]
        units.append(unit)
    tags = [u["tag"] for u in units] or ["site"]
    adjust = [a for a in PROGRAMME["adjustments"] if "component" in a]
    findings = []
    for _ in range(draw.randrange(0, 5)):
        a = pick(adjust)
        findings.append({"ref": pick(tags), "component": a["component"], "condition": pick(a["conditions"]),
                         "severity": pick(["repair", "minor", "note"]), "certainty": pick(["observed", "suspected", "absent"])})
    roof = {"height_ft": pick([12, 20, 30]), "outline_ft": [[0, 0], [120, 0], [120, 80], [0, 80]],
            "edges": [{"from": i, "parapet_in": pick([0, 8, 42])} for i in range(4)]}
    if draw.random() < .8:
        roof["access"] = {"kind": pick(["portable_ladder", "fixed_ladder", "hatch", "stair"]), "at_ft": [1, 1],
                          "climb_ft": pick([12, 24, 24.5]), "extends_ft": pick([2, 4])}
    if draw.random() < .5:
        roof["openings"] = [{"kind": "skylight", "at_ft": [60, 40], "size_ft": [4, 4], "guarded": pick([True, False])}]
    if draw.random() < .6:
        roof["water_sources"] = [{"at_ft": [2, 2], "at_grade": pick([True, False])}]
    return {"survey_id": f"random-{n}", "surveyed_on": "2026-04-14", "site": {"name": "random", "roof": roof},
            "equipment": units, "findings": findings}


def random_book(draw):
    text = BOOK
    def put(old, new):
        nonlocal text
        assert text.count(old) >= 1, old
        text = text.replace(old, new, 1)
    put("coil_cleaning = false", f"coil_cleaning = {draw.choice(['true', 'false'])}")
    put("belts = true", f"belts = {draw.choice(['true', 'false'])}")
    put("filters = true", f"filters = {draw.choice(['true', 'false'])}")
    put("contingency_percent = 5", f"contingency_percent = {draw.choice([0, 5, 7.25])}")
    put("labour_percent = 55", f"labour_percent = {draw.choice([0, 33.33, 55])}")
    put("technician_cents_per_hour = 5200", f"technician_cents_per_hour = {draw.randrange(3001, 9999)}")
    put("correlation_percent = 30", f"correlation_percent = {draw.choice([0, 30, 100])}")
    if draw.random() < .7:
        put('on = "materials"', f'on = "{draw.choice(["materials", "everything"])}"')
    else:
        put('percent = 8.25\non = "materials"', 'percent = 0\non = "nothing"')
    if draw.random() < .4:
        put("# visits_per_year = 4 ", f"visits_per_year = {draw.choice([1, 2, 4, 12])} #")
    return text


def main(scupper, how_many=60):
    draw = random.Random(20260414)
    surveys = [json.loads((ROOT / "fixtures/exemplar/survey.json").read_text())]
    surveys += [case["survey"] for case in json.loads((ROOT / "fixtures/trade/odd.json").read_text())]
    cases = [(s, BOOK) for s in surveys] + [(random_survey(draw, n), random_book(draw)) for n in range(int(how_many))]
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        at, rates = pathlib.Path(folder) / "survey.json", pathlib.Path(folder) / "rates.toml"
        for survey, book in cases:
            at.write_text(json.dumps(survey))
            rates.write_text(book)
            ask = lambda *args: json.loads(subprocess.run([scupper, *args], check=True, capture_output=True).stdout)
            assessment = ask("assess", str(at), "--json")
            found = told(ask("quote", str(at), "--ratebook", str(rates), "--json"))
            expected = price(copy.deepcopy(survey), assessment, tomllib.loads(book))
            if found != expected:
                wrong += 1
                print(f"{survey['survey_id']}: Scupper says {found}, docs/quote.md {expected}")
    print(f"Quotes worked out anew: {len(cases) - wrong} passed, {wrong} failed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
