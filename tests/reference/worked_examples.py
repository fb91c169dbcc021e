"""Worked examples of the calculations that no library knows as a whole, by a second writing of their formulas.

    worked_examples.py write PATH    puts them into the file of worked examples
    worked_examples.py check PATH    computes them anew and compares, numbers to 1e-7

Nothing here knows the engine. scipy gives the quantiles, the roots and the linear programme. Sources: Anderson and
Beausoleil, JASA 156 (2024), for intonation; Wood Handbook FPL-GTR-282 (2021), eq. 4-5, for moisture; JCGM 100:2008
(GUM) for uncertainty; Clopper and Pearson, Biometrika 26 (1934); Kupiec (1995, from memory); plain statics. What the
house wishes of a steel-string played medium, and its habits at the bench, are its own data (seed-data/targets.toml).
"""

import json
import math
import sys

from scipy.optimize import brentq, linprog
from scipy.stats import beta, chi2, t

PITCHES = {"E4": 64, "B3": 59, "G3": 55, "E2": 40}


def string_spacing():
    diameters, outer = [1.29, 1.02, 0.76, 0.56, 0.41, 0.30], 36
    # between the outer centres lie half of each outer string and the whole of the others
    gap = (outer - sum(diameters) + (diameters[0] + diameters[-1]) / 2) / (len(diameters) - 1)
    edge, positions = -diameters[0] / 2, []
    for diameter in diameters:
        positions.append(edge + diameter / 2)
        edge += diameter + gap
    return {"outer_centres_mm": outer, "diameters_mm": diameters}, {"positions_mm": positions, "gap_mm": gap}, 1e-9


def promise_record():
    kept, promised, confidence, past = 40, 50, 0.9, [3, 5, 6, 6, 8, 9, 11, 14, 21]
    missed, stated = promised - kept, 1 - confidence
    log_of = lambda share: missed * math.log(share) + kept * math.log(1 - share)
    ratio = 2 * (log_of(missed / promised) - log_of(stated))
    interval = [float(beta.ppf(0.025, kept, promised - kept + 1)), float(beta.ppf(0.975, kept + 1, promised - kept))]
    rank = math.ceil((len(past) + 1) * confidence - 1e-9)
    output = {"share": kept / promised, "interval": interval, "honest": interval[0] <= confidence <= interval[1],
              "kupiec": {"statistic": ratio, "p": float(chi2.sf(ratio, 1))},
              "rank": {"k": rank, "promised_days": sorted(past)[rank - 1]}}
    return {"kept": kept, "promised": promised, "confidence": confidence, "past_days": past}, output, 1e-7


def moisture(celsius, rh):
    w = 349 + 1.29 * celsius + 0.0135 * celsius**2
    k = 0.805 + 0.000736 * celsius - 0.00000273 * celsius**2
    k1 = 6.27 - 0.00938 * celsius - 0.000303 * celsius**2
    k2 = 1.91 + 0.0407 * celsius - 0.000293 * celsius**2
    h = k * rh / 100
    return 1800 / w * (h / (1 - h) + (k1 * h + 2 * k1 * k2 * h**2) / (1 + k1 * h + k1 * k2 * h**2))


def drift():
    rows = [(0.0, 2.05, (20, 34), 4.1), (1.5, 2.40, (23, 58), 3.9), (3.5, 2.20, (21, 47), 3.6)]
    least, expanded = 1.5, 0.04
    visits = [{"years": year, "action_12_mm": action, "air": {"temperature_c": air[0], "rh_percent": air[1]},
               "saddle_showing_mm": showing, "saddle_showing_expanded_mm": expanded, "least_showing_mm": least}
              for year, action, air, showing in rows]
    x, y = [moisture(*air) for _, _, air, _ in rows], [action for _, action, _, _ in rows]
    n, sx, sy = len(x), sum(x), sum(y)
    sxx, sxy = sum(a * a for a in x), sum(a * b for a, b in zip(x, y, strict=True))
    slope = (n * sxy - sx * sy) / (n * sxx - sx * sx)
    level = (sy - slope * sx) / n
    left = sum((b - level - slope * a) ** 2 for a, b in zip(x, y, strict=True))
    error = math.sqrt(left / (n - 2) * n / (n * sxx - sx * sx))
    room = [brentq(lambda rh, wanted=wanted: moisture(20, rh) - wanted, 0, 99.9, xtol=1e-12) for wanted in x]
    years = rows[-1][0] - rows[0][0]
    spent = (rows[0][3] - rows[-1][3]) / years
    output = {"action_by_moisture": {"slope_mm_per_percent": slope, "standard_error_mm_per_percent": error,
                                     "intercept_mm": level, "visits": n, "spread_rh_points": max(room) - min(room)},
              "saddle": {"spent_mm_a_year": spent, "spent_expanded_mm_a_year": math.hypot(expanded, expanded) / years,
                         "years_of_lowering_left": (rows[-1][3] - least) / spent}}
    return {"visits": visits}, output, 1e-7


def frequency():
    scale = 0.65
    # what each pulls, N, and its mass, kg/m: a steel wire, one that was weighed, one of a density of its own
    strings = [(70.0, 7850 * math.pi / 4 * 0.000254**2), (90.0, 0.0061), (64.0, 1140 * math.pi / 4 * 0.00071**2)]
    answered = []
    for (pull, mass), nearest in zip(strings, ["E4", "F#2", "D4"], strict=True):
        sounds = math.sqrt(pull / mass) / (2 * scale)
        notes = {"D": 2, "E": 4, "F#": 6}
        from_a4 = 12 * (int(nearest[-1]) - 4) + notes[nearest[:-1]] - 9
        cents = 1200 * math.log2(sounds / 440) - 100 * from_a4
        assert abs(cents) < 50
        answered.append({"linear_density_g_m": 1000 * mass, "frequency_hz": sounds, "pitch": nearest, "cents": cents})
    asked = [{"tension_n": 70.0, "material": "steel", "diameter_mm": 0.254}, {"tension_n": 90.0, "linear_density_g_m": 6.1},
             {"tension_n": 64.0, "density_kg_m3": 1140, "diameter_mm": 0.71}]
    return {"scale_mm": 650, "strings": asked}, {"strings": answered}, 1e-7


def overtones():
    # Fletcher, JASA 36 (1964) 203, hinged ends; a round wire of Young's modulus 200 GPa
    scale, diameter, sounds, count = 0.65, 0.000432, 440 * 2 ** ((PITCHES["G3"] - 69) / 12), 6
    mass = 7850 * math.pi / 4 * diameter**2
    pull = mass * (2 * scale * sounds) ** 2
    bending = 200e9 * math.pi / 64 * diameter**4
    stiffness = math.sqrt(bending / pull) / scale
    inharmonicity = math.pi**2 * bending / (pull * scale**2)
    partial = lambda n: n * sounds * math.sqrt((1 + inharmonicity * n**2) / (1 + inharmonicity))
    partials = [{"frequency_hz": partial(n), "cents": 1200 * math.log2(partial(n) / (n * sounds))} for n in range(1, count + 1)]
    case = {"scale_mm": 650, "string": {"pitch": "G3", "material": "steel", "diameter_mm": 0.432}, "partials": count}
    output = {"tension_n": pull, "stretch_ratio": 200e9 * math.pi / 4 * diameter**2 / pull, "stiffness": stiffness,
              "inharmonicity": inharmonicity, "partials": partials}
    # the file holds ten digits, which of a thousand hertz are half a millionth
    return case, output, 1e-6


def humidity():
    found = brentq(lambda rh: moisture(23, rh) - 8.5, 0, 99.9, xtol=1e-12)
    return {"temperature_c": 23, "moisture_content_percent": 8.5}, {"rh_percent": found, "outside_table": False}, 1e-7


def string_change():
    scale, frets, body, relief, over_top, front, back = 645, 20, 14, 0.15, 11, 1.5, 20
    heights = [(0.45, 1.9), (0.48, 2.0), (0.55, 2.4)]
    plain = lambda pitch, d: {"pitch": pitch, "material": "steel", "diameter_mm": d}
    wound = lambda pitch, c, w: {"pitch": pitch, "material": "steel", "core_diameter_mm": c, "wrap_diameter_mm": w}
    now = [plain("E4", 0.254), plain("B3", 0.356), wound("E2", 0.43, 0.43)]
    following = [plain("E4", 0.279), plain("B3", 0.381), wound("E2", 0.45, 0.46)]
    at = lambda n: scale * (1 - 2 ** (-n / 12))

    def one(string, height):
        frequency = 440 * 2 ** ((PITCHES[string["pitch"]] - 69) / 12)
        core = string.get("core_diameter_mm", string.get("diameter_mm"))
        wrap = string.get("wrap_diameter_mm", 0)
        # kg/m3 times mm2 is mg/m; one layer of touching round wire
        mass = (7850 * math.pi / 4 * core**2 + 8800 * math.pi**2 / 4 * wrap * (core + wrap)) / 1000
        pull = mass / 1000 * (2 * scale / 1000 * frequency) ** 2
        area = math.pi / 4 * core**2
        kappa = 200e3 * area / pull
        radius_of_gyration = core / 4
        top = lambda n: (-relief * (1 - ((at(n) - (at(1) + at(body)) / 2) / ((at(body) - at(1)) / 2)) ** 2)
                         if 1 < n < body else 0.0)
        rise = (height[1] + top(12) - height[0]) / (at(12) - at(1))
        line = lambda x: height[0] + rise * (x - at(1))

        def cents(setback):
            whole = (scale + setback) * math.sqrt(1 + rise**2)
            sounding = math.hypot(scale + setback - at(12), line(scale + setback) - top(12))
            behind = math.hypot(at(12), line(0) - top(12))
            stretch = (sounding + behind) / whole - 1
            tightened = 1 + kappa * stretch
            stiff = lambda length, tightening: radius_of_gyration * math.sqrt(kappa / tightening) / length
            grown = lambda e: 1 + e + (1 + math.pi**2 / 2) * e**2
            ratio = (whole / sounding * math.sqrt(tightened * (1 + stretch))
                     * grown(stiff(sounding, tightened)) / grown(stiff(whole, 1)))
            return 1200 * math.log2(ratio) - 1200

        friction = 0.26 if wrap else 0.17
        return {"frequency_hz": frequency, "linear_density_g_m": mass, "tension_n": pull,
                "saddle_setback_mm": brentq(cents, -10, 30, xtol=1e-13),
                "share_of_breaking": None if wrap else pull / area / (2060 / core**0.163),
                "least_behind_saddle_n": pull / math.exp(friction * math.radians(front + back))}, cents

    change = lambda a, b: {"now": a, "next": b, "change": b - a, "change_percent": 100 * (b / a - 1)}
    strings, total = [], [0, 0]
    for old, new, height in zip(now, following, heights, strict=True):
        (before, _), (after, cents) = one(old, height), one(new, height)
        total = [total[0] + before["tension_n"], total[1] + after["tension_n"]]
        thicker = None if "core_diameter_mm" in old else new["diameter_mm"] - old["diameter_mm"]
        strings.append({"now": before, "next": after, "tension_n": change(before["tension_n"], after["tension_n"]),
                        "cents_at_12_if_saddle_stays": cents(before["saddle_setback_mm"]), "thicker_mm": thicker})
    down = math.sin(math.radians(front)) + math.sin(math.radians(back))
    # an even beam from fret 1 to the body, as thin and as thick as necks are assumed to be
    span = (at(body) - at(1)) / 1000
    bow = lambda lever, stiffness: (total[1] - total[0]) * lever * span**2 / (8 * stiffness)
    warnings = [{"key": "pull-up", "stop": False}] if total[1] > 1.1 * total[0] else []
    output = {"strings": strings, "total_n": change(*total),
              "bridge_moment_nm": change(*(pull * over_top / 1000 for pull in total)),
              "saddle_down_n": change(*(pull * down for pull in total)),
              "relief": {"sign": "more", "change_mm": [bow(8, 800), bow(20, 150)], "from": "assumption"},
              "stopped": False, "warnings": warnings, "cautions": ["string-tension"]}
    case = {"scale_mm": scale, "frets": frets, "family": "steel-string", "body_fret": body, "relief_mm": relief,
            "height_over_top_mm": over_top, "break_angle": {"front_degrees": front, "back_degrees": back},
            "now": now, "next": following,
            "heights": [{"first_fret_mm": first, "action_12_mm": twelfth} for first, twelfth in heights]}
    return case, output, 1e-6


def read(values, resolution, limit, scatter, known):
    """Mean, standard uncertainty and degrees of freedom of repeats, pooled with what the tool's scatter is known by
    (GUM 4.2.4, 4.3.7, F.2.2.1, G.4.1)."""
    n, mean = len(values), sum(values) / len(values)
    freedom = known + n - 1
    a = math.sqrt((known * scatter**2 + sum((value - mean) ** 2 for value in values)) / freedom / n)
    u = math.sqrt(a**2 + resolution**2 / 12 + limit**2 / 3)
    return mean, u, freedom * (u / a) ** 4


def plan_of(actions, gaps, showing, steps, findings):
    """A steel-string played medium in good air, each place read three times, and what is to be done first."""
    positions, resolution, limit = [0, 10.6, 21.2, 31.8, 42.4, 53], 0.01, 0.02
    scatter, known = 0.024, 12
    three = lambda value, by: [value, round(value + by, 3), round(value - by, 3)]
    strings = [{"action_12_mm": three(action, 0.01), "gap_at_1_stopped_at_3_mm": three(gap, 0.01)}
               for action, gap in zip(actions, gaps, strict=True)]
    case = {"instrument": {"family": "steel-string", "scale_mm": 645, "frets": 20, "body_fret": 14, "truss_rod": "two-way",
                           "strings": [{"position_mm": at} for at in positions]},
            "style": "medium", "air": {"temperature_c": 20, "rh_percent": 48},
            "tool": {"resolution_mm": resolution, "limit_mm": limit, "repeatability_mm": scatter,
                     "repeatability_degrees_of_freedom": known},
            "readings": {"relief_mm": [0.15, 0.16, 0.15],
                         "saddle_showing_mm": {"treble": [showing[0]], "bass": [showing[1]]}, "strings": strings},
            "observations": []}
    # the house's habits: a slot filed too deep wants a new nut, a saddle cut too low only a shim
    u_cut, risk = 0.03, 0.025 if steps[0] == "saddle-high" else 0.005
    rows = []
    for at, string in zip(positions, strings, strict=True):
        if steps[0] == "saddle-high":
            mean, u, freedom = read(string["action_12_mm"], resolution, limit, scatter, known)
            # the 12th fret lies half-way, so the saddle loses twice what the string is too high there
            factor, target = 2, 1.9 + 0.4 * at / positions[-1]
        else:
            mean, u, freedom = read(string["gap_at_1_stopped_at_3_mm"], resolution, limit, scatter, known)
            factor, target = 1 / (1 - (1 - 2 ** (-1 / 12)) / (1 - 2 ** (-3 / 12))), 0.07
        exact, both = factor * (mean - target), math.hypot(factor * u, u_cut)
        guarded = exact - float(t.ppf(1 - risk, freedom)) * both
        rows.append({"exact_mm": exact, "standard_uncertainty_mm": both,
                     "first_pass_mm": max(0, math.floor(guarded * 100 + 1e-9) / 100)})
    cut = {"strings": rows}
    if steps[0] == "saddle-high":
        share = [at / positions[-1] for at in positions]
        best = linprog([-sum(1 - s for s in share), -sum(share)], A_ub=[[1 - s, s] for s in share],
                       b_ub=[row["exact_mm"] for row in rows], bounds=[(0, showing[0] - 1.5), (0, showing[1] - 1.5)],
                       method="highs").x
        cut |= {"foot": {"treble_mm": best[0], "bass_mm": best[1]},
                # an end is as low as what comes off the foot and the top of its outer string together
                "left_showing_mm": {"treble": showing[0] - max(best[0], rows[0]["exact_mm"]),
                                    "bass": showing[1] - max(best[1], rows[-1]["exact_mm"])}}
        for row, s in zip(rows, share, strict=True):
            row["on_top_mm"] = row["exact_mm"] - best[0] * (1 - s) - best[1] * s
    told = [{"key": key, "state": "now" if place == 0 else "after-measuring-again"} for place, key in enumerate(steps)]
    told[0]["cut"] = cut
    return case, {"findings": findings, "steps": told, "stopped": False}, 1e-6


ALL = [1, 2, 3, 4, 5, 6]
LEAVING = [{"key": "tuners-dry", "severity": "fine", "strings": []}, {"key": "clean", "severity": "fine", "strings": []}]


def plan():
    """A saddle that stands high over a good nut: it loses twice what the strings are too high at the 12th."""
    found = [{"key": "saddle-high", "severity": "work", "strings": ALL, "service": "saddle-lower"}, *LEAVING]
    return plan_of([2.3, 2.4, 2.55, 2.7, 2.8, 2.95], [0.07] * 6, (3.6, 4.4), ["saddle-high", "tuners-dry", "clean"], found)


def plan_nut():
    """A nut that stands high under good heights: it is filed first, and what it changes waits to be read again."""
    # a slot that was filed is polished before the tuners are oiled (common practice, no source)
    polish = {"key": "polish-slots", "severity": "fine", "strings": []}
    found = [{"key": "nut-high", "severity": "work", "strings": ALL, "service": "nut-slots"}, polish, *LEAVING]
    return plan_of([1.9, 1.98, 2.06, 2.14, 2.22, 2.3], [0.25, 0.24, 0.25, 0.26, 0.25, 0.24], (3.6, 4.4),
                   ["nut-high", "polish-slots", "tuners-dry", "clean"], found)


EXAMPLES = [("string-spacing", string_spacing), ("promise-record", promise_record), ("drift", drift),
            ("string-change", string_change), ("frequency", frequency), ("overtones", overtones), ("humidity", humidity),
            ("plan", plan), ("plan", plan_nut)]


def plain(value):
    if isinstance(value, dict):
        return {name: plain(entry) for name, entry in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(entry) for entry in value]
    if isinstance(value, float):
        return float(f"{value:.10g}")
    return plain(float(value)) if type(value).__module__ == "numpy" else value


def computed():
    made = []
    for name, worked in EXAMPLES:
        case, output, tolerance = worked()
        made.append({"name": name, "input": plain(case), "output": plain(output), "tolerance": tolerance})
    return made


def differences(at, here, there):
    if isinstance(here, dict) and isinstance(there, dict) and here.keys() == there.keys():
        return [found for name in here for found in differences(f"{at}/{name}", here[name], there[name])]
    if isinstance(here, list) and isinstance(there, list) and len(here) == len(there):
        pairs = enumerate(zip(here, there, strict=True))
        return [found for place, pair in pairs for found in differences(f"{at}/{place}", *pair)]
    numbers = all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in (here, there))
    if numbers and abs(here - there) <= 1e-7 * max(abs(here), abs(there), 1):
        return []
    return [] if here == there else [f"{at}: {here} committed, {there} computed"]


def main():
    deed, path = sys.argv[1:]
    with open(path, encoding="utf-8") as file:
        whole = json.load(file)
    names, made = {name for name, _ in EXAMPLES}, computed()
    mine = [example for example in whole["examples"] if example["name"] in names]
    if deed == "write":
        whole["examples"] = [example for example in whole["examples"] if example["name"] not in names] + made
        with open(path, "w", encoding="utf-8") as file:
            json.dump(whole, file, indent=1, ensure_ascii=False)
            file.write("\n")
        return
    found = differences("", mine, made)
    for line in found[:20]:
        print(line)
    print(f"{len(found)} differences in {len(made)} worked examples")
    sys.exit(1 if found else 0)


main()
